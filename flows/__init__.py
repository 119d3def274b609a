"""What a test is and what its readings should be. Knows nothing of speech or of the runner."""
