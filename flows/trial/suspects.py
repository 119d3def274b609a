"""What is still possible after the readings so far, with odds from the circuit: advice, never a branch.

Each fault is put into the same sampled engines. An engine keeps one meter error for all its readings, so what a reading
tells about the meter counts for the next. The likelihood of everything told, under a fault, is the mean over its engines
of the product over what was told; priors are equal. This module knows circuits only by their methods.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from flows.meter import Meter
from flows.model import Flow, Step
from flows.trial.lots import Engines
from flows.trial.solving import TrueValues

HEALTHY = "none"
MISTAKEN = 0.02  # chance that a look, a movement or a code is told wrongly; common practice, no source
POSSIBLE = 0.01  # what has less than this share of the odds is struck out
STANDS_OUT = 0.15  # odds below this are not worth a name
FAR = 5.0  # a reading so many widths from every engine of a fault cannot come from it
WIDTH = 0.5  # kernel width, share of the spread between engines


@dataclass(frozen=True)
class Told:
    """What came of one step: a reading in base units, or the outcome of a look, a watch or the question for codes."""

    step: str
    value: float | None = None
    high: float | None = None  # upper end of a bouncing reading
    over_range: bool = False
    outcome: str = ""


@dataclass(frozen=True)
class Standing:
    """Odds by fault, the likeliest first; `none` is an engine without a fault."""

    odds: Mapping[str, float]
    contradicted_by: str | None  # the step from which on nothing fits, not a healthy engine either: read it again

    @property
    def left(self) -> tuple[str, ...]:
        """What is still possible; nothing when what was told contradicts every fault."""
        if self.contradicted_by is not None:
            return ()
        return tuple(name for name, share in self.odds.items() if share >= POSSIBLE)

    @property
    def sentence(self) -> str:
        """What to say, at most 20 words."""
        if self.contradicted_by is not None:
            return "That reading fits no fault that I know, and no sound engine. Read it again."
        faults = [name for name in self.left if name != HEALTHY]
        if not faults:
            return "Nothing is left but a sound engine."
        if self.odds[faults[0]] < STANDS_OUT:
            return f"Nothing stands out yet. {len(faults)} faults are possible."
        first = f"Most likely {faults[0].replace('-', ' ')}, {in_words(self.odds[faults[0]])}"
        more = len(faults) - 1
        others = "Nothing else." if not more else f"{more} other{'s' if more > 1 else ''} possible."
        return f"{first}. {others}"


def in_words(share: float) -> str:
    """Odds as one says them.

    >>> in_words(0.97), in_words(0.5), in_words(0.21), in_words(0.03)
    ('nearly sure', 'one in two', 'one in five', 'unlikely')
    """
    if share >= 0.95:
        return "nearly sure"
    if share >= 0.7:
        return "three in four"
    words = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight", 9: "nine", 10: "ten"}
    nearest = round(1 / share) if share > 0 else 99
    return f"one in {words[max(nearest, 2)]}" if nearest <= 10 else "unlikely"


def suspects(
    flow: Flow, circuit: Any, told: Sequence[Told], *, engines: Engines, meter: Meter, bench: "Weights | None" = None
) -> Standing:
    """Odds of every fault after what was told. bench: a Weights kept from before, so that nothing is solved twice."""
    return (bench or Weights(flow, circuit, engines=engines, meter=meter)).standing(told)


class Weights:
    """Likelihoods of a flow's readings under every fault, kept as they are worked out."""

    def __init__(self, flow: Flow, circuit: Any, *, engines: Engines, meter: Meter) -> None:
        self._flow, self._meter, self._engines = flow, meter, engines
        self._all = np.arange(len(engines))
        self._last: tuple[tuple[Told, ...] | None, dict[str, np.ndarray]] = (None, {})  # of the last question
        cases: dict[str, Any] = {HEALTHY: None, **circuit.faults()}
        self._values = {
            name: TrueValues(circuit, fault, engines, meter_ohm=meter.input_ohm) for name, fault in cases.items()
        }

    def standing(self, told: Sequence[Told]) -> Standing:
        """Odds after all that was told; a step told again counts with what it told last."""
        last = {one.step: one for one in told if one.step in self._flow.steps}
        scores = {name: np.zeros(len(self._engines)) for name in self._values}
        near = {name: np.zeros(len(self._engines)) for name in self._values}
        contradicted = None
        for one in last.values():
            step = self._flow.steps[one.step]
            for name, values in self._values.items():
                logs, apart = self._log_likelihood(step, one, values)
                scores[name], near[name] = scores[name] + logs, np.maximum(near[name], apart)
            if contradicted is None and all(far.min() > FAR for far in near.values()):
                contradicted = one.step
        return Standing(_odds(scores), contradicted)

    def explains(self, told: Sequence[Told], new: Told) -> bool:
        """Whether some fault, or a sound engine, could have given all that was told and this as well.

        Once nothing fits what was told before, this cannot be held against anything: true.
        """
        near = self._nearest(tuple(one for one in told if one.step != new.step))
        if new.step not in self._flow.steps or all(far.min() > FAR for far in near.values()):
            return True
        step = self._flow.steps[new.step]
        # the likeliest to fit are tried first
        for name in sorted(near, key=lambda one: float(near[one].min())):
            _, apart = self._log_likelihood(step, new, self._values[name])
            if np.maximum(near[name], apart).min() <= FAR:
                return True
        return False

    def look_ahead(self, name: str) -> None:
        """Solve what a step's reading would be under every fault, so that asking about it takes no time."""
        m = self._flow.steps[name].measure
        if m is not None:
            for values in self._values.values():
                values.reading(m.red, m.black, m.quantity, m.state, self._all)

    def _nearest(self, told: tuple[Told, ...]) -> dict[str, np.ndarray]:
        """By how many widths the worst of what was told is off, a fault and an engine."""
        if told != self._last[0]:
            near = {name: np.zeros(len(self._engines)) for name in self._values}
            for one in {one.step: one for one in told if one.step in self._flow.steps}.values():
                for name, values in self._values.items():
                    near[name] = np.maximum(
                        near[name], self._log_likelihood(self._flow.steps[one.step], one, values)[1]
                    )
            self._last = told, near
        return self._last[1]

    def moves(self, told: Sequence[Told]) -> list[Standing]:
        """The standing after each thing told: how each reading moved the odds."""
        return [self.standing(told[: i + 1]) for i in range(len(told))]

    def _log_likelihood(self, step: Step, told: Told, values: TrueValues) -> tuple[np.ndarray, np.ndarray]:
        """Of one thing told, an engine; and by how many widths a reading is off, an engine."""
        m = step.measure
        none = np.zeros(len(self._engines)), np.zeros(len(self._engines))
        if step.watch is not None and m is not None:
            by, seen = step.watch.by, values.watch
            moved = [seen(m.red, m.black, m.quantity, m.state, p, self._all, by=by) for p in step.watch.places]
            return _plain(np.any(moved, axis=0), told.outcome, yes="moved", no="steady"), none[1]
        if step.look is not None:
            return _plain(values.looks_bad(step.look.place, self._all), told.outcome, yes="bad", no="fine"), none[1]
        if step.ask is not None and step.ask.reply == "codes":
            return _plain(values.has_codes(self._all), told.outcome, yes="answered", no="none"), none[1]
        if m is None or (told.value is None and not told.over_range):
            return none
        true = values.reading(m.red, m.black, m.quantity, m.state, self._all)
        shown = self._meter.shows(m.quantity, true, gain=self._engines.gain, offset=self._engines.offset)
        return self._fits(m.quantity, np.asarray(shown), told)

    def _fits(self, quantity: str, shown: np.ndarray, told: Told) -> tuple[np.ndarray, np.ndarray]:
        """A kernel around each engine's reading, as wide as engines are apart, and never narrower than the meter's U."""
        opens = np.isinf(shown)
        if told.over_range:
            far = np.where(opens, 0.0, 2 * FAR)
            return -(far**2) / 2, far
        assert told.value is not None
        value = told.value if told.high is None else (told.value + told.high) / 2
        finite = shown[~opens]
        spread = float(np.std(finite)) if len(finite) else 0.0
        bounce = 0.0 if told.high is None else abs(told.high - told.value) / 2
        u = float(self._meter.expanded_uncertainty(quantity, value))
        width = math.hypot(WIDTH * spread, u, bounce)
        far = np.where(opens, 2 * FAR, np.abs(np.where(opens, 0.0, shown) - value) / width)
        return -(np.minimum(far, 4 * FAR) ** 2) / 2 - math.log(width), far


def _plain(yes_seen: np.ndarray, outcome: str, *, yes: str, no: str) -> np.ndarray:
    """Log likelihood of a plain answer; nothing from any other answer."""
    if outcome not in (yes, no):
        return np.zeros(len(yes_seen))
    agrees = yes_seen == (outcome == yes)
    return np.where(agrees, math.log1p(-MISTAKEN), math.log(MISTAKEN))


def _odds(scores: Mapping[str, np.ndarray]) -> dict[str, float]:
    """Equal priors, the mean over engines, shares that add up to one; the likeliest first."""
    top = max(float(score.max()) for score in scores.values())
    weight = {name: float(np.exp(score - top).mean()) for name, score in scores.items()}
    whole = sum(weight.values())
    return dict(sorted(((name, w / whole) for name, w in weight.items()), key=lambda pair: -pair[1]))


def checks_left(flow: Flow, odds: Mapping[str, float], at: str, *, paths: Mapping[str, Sequence[str]]) -> float:
    """About how many checks remain, this one among them: those ahead on each fault's usual path, weighed by its odds.

    at: the step about to be asked. paths: fault -> steps of a usual walk (flows.trial.paths); a fault whose path does
    not come by here counts with the mean of the rest.
    """
    ahead = {
        name: sum(flow.steps[step].kind in ("check", "watch") for step in path[path.index(at) :])
        for name, path in paths.items()
        if at in path and name in odds
    }
    weight = sum(odds[name] for name in ahead)
    return sum(odds[name] * count for name, count in ahead.items()) / weight if weight > 0 else 0.0
