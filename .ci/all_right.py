"""Reads rehearsals as JSON lines; exit 1, naming them, when any is not right or there are none."""

import json
import sys
from pathlib import Path


def main() -> int:
    lines = [json.loads(line) for line in Path(sys.argv[1]).read_text(encoding="utf-8").splitlines() if line.strip()]
    wrong = [line for line in lines if line.get("right") is not True]
    for line in wrong:
        print(f"{line.get('fault')}: found {line.get('finding')}, blames {line.get('blames')}", file=sys.stderr)
    print(f"{len(lines)} rehearsals, {len(lines) - len(wrong)} right")
    return 0 if lines and not wrong else 1


if __name__ == "__main__":
    sys.exit(main())
