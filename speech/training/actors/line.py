"""One line of an actor."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Line:
    """Who says it (an actor or a scene with several), the text, and what reads its sound: int16 (samples) and their rate [Hz]."""

    who: str
    text: str
    sound: Callable[[], tuple[np.ndarray, int]]
