"""Connectionist temporal classification: how unlikely a row of phones is, and the slope of that along the scores.

Source: A. Graves and others, Connectionist Temporal Classification, ICML 2006, equations 6 to 16.
"""

from collections.abc import Sequence

import numpy as np

BLANK = 0


def ctc(log_probabilities: np.ndarray, labels: Sequence[int]) -> tuple[float, np.ndarray]:
    """Loss [natural log] of labels (1 and above) in log probabilities (frames, outputs), and its slope along the scores
    they were made from, of the same shape. Infinite, with no slope, where the labels do not fit into the frames."""
    states = np.full(2 * len(labels) + 1, BLANK)
    states[1::2] = labels
    seen = log_probabilities[:, states].astype(np.float64)
    # a label may be reached from the one before it without the blank between, unless they are the same
    skips = np.zeros(len(states), bool)
    skips[3::2] = states[3::2] != states[1:-2:2]
    forward = _along(seen, skips)
    # the same from the end: a skip into a state becomes the skip out of it
    turned = np.concatenate((skips[:2], skips[:1:-1]))
    backward = _along(seen[::-1, ::-1], turned)[::-1, ::-1]
    total = np.logaddexp.reduce(forward[-1, -2:])
    if not np.isfinite(total):
        return float("inf"), np.zeros_like(log_probabilities)
    shares = np.exp(forward + backward - seen - total)
    expected = np.zeros(log_probabilities.shape)
    for state, label in enumerate(states):
        expected[:, label] += shares[:, state]
    return float(-total), np.exp(log_probabilities) - expected


def _along(seen: np.ndarray, skips: np.ndarray) -> np.ndarray:
    """Log probability of being in each state (frames, states) after each frame, its own frame counted."""
    frames, states = seen.shape
    out = np.full((frames, states), -np.inf)
    out[0, :2] = seen[0, :2]
    for t in range(1, frames):
        before = out[t - 1]
        reached = np.logaddexp(before[1:], before[:-1])
        skipped = np.where(skips[2:], before[:-2], -np.inf)
        out[t, 0] = before[0] + seen[t, 0]
        out[t, 1:] = reached + seen[t, 1:]
        out[t, 2:] = np.logaddexp(reached[1:], skipped) + seen[t, 2:]
    return out
