"""`python -m runner.cli`: the command line without the bootstrap."""

from runner.cli import main

if __name__ == "__main__":
    main()
