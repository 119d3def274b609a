"""Pure physics: numbers in, numbers out, a source beside each function."""
