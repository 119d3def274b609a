"""Trials: a flow walked through every fault at many engines at once, the best any order could do, and suspects."""
