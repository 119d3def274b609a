"""What was said and measured, as events on disk, chained; and the state that follows from them."""
