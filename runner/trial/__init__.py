"""Flows tried on every fault, as figures and as a page."""
