"""The conversation: what is said, heard, made sure of and decided. Holds no disk and no engine."""
