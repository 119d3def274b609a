"""Faults that a circuit can have and its flow does not look for yet: lint, trial and tests leave them out until it does.

A line goes when the flow blames its faults. `python -m flows.walks FLOW --unserved` walks them all the same, and
`leadsman trial` says how many there are.
"""

from collections.abc import Iterable, Mapping
from fnmatch import fnmatchcase

# circuit -> patterns of fault names
UNSERVED: Mapping[str, tuple[str, ...]] = {}


def unserved(circuit: str, faults: Iterable[str]) -> frozenset[str]:
    """Those of these faults that the circuit's flow does not look for yet."""
    patterns = UNSERVED.get(circuit, ())
    return frozenset(name for name in faults if any(fnmatchcase(name, pattern) for pattern in patterns))
