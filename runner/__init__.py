"""The conversation: a flow walked with a person, by voice, and its record."""
