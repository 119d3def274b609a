"""Every window function with what it takes: `python -m flows.windows`, or those with a word: `python -m flows.windows ohm`."""

import sys

from flows.windows import WINDOWS, arguments


def lines(word: str = "") -> list[str]:
    """One line a window that has the word in its name, arguments or first sentence; `*` marks what must be given."""
    made = []
    for name, function in sorted(WINDOWS.items()):
        taken = ", ".join(f"{key}*" if needed else key for key, needed in arguments(name).items())
        said = (function.__doc__ or "").strip().splitlines()[0]
        line = f"{name}: {{{taken}}}  {said}"
        made += [line] if word.lower() in line.lower() else []
    return made


if __name__ == "__main__":
    print("\n".join(lines(*sys.argv[1:2])))
