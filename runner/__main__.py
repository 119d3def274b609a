"""`python3 -m runner ...`: makes the environment if it is missing, then goes on as `leadsman ...` inside it."""

import sys

from runner.bootstrap import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
