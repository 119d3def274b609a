"""Ears and voice. Knows nothing of flows or of the runner."""
