"""One PostgreSQL for many bays: each sends whole sessions from its own journal, and any may be asked across all of them."""
