"""Figures that depend on the machine: delay, start, memory, hours of running. `python -m runner.benchmark` prints them."""
