"""Fits the reading model to one person, from ten call-outs whose words are known."""
