"""`python -m runner.safety`."""

from runner.safety.simulation import main

main()
