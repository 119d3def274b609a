"""What a call-out may have been: every reading the meter could show, each with its share; several calls weighed together.

The recogniser hands over its likeliest words and others that sound alike. What no meter shows here, or what has digits
that this meter lacks, is no rival: a unit heard as one more digit falls away.
"""

from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import replace

from flows.judging import Reading
from flows.meter import Meter
from flows.units import QUANTITIES
from runner.talk import wording
from runner.talk.taking import NotTaken, Rules, Taken, shown_in_full, take, too_fine
from speech.numbers import NumberProblem, parse_reading
from speech.ports import Heard

UNLISTED = 0.01
"""Least share of a reading that is not among the alternatives of a call: the list is short, one voice errs alike twice."""
UNLISTED_OF_DOUBT = 0.2
"""The part of a call's doubt that any one unlisted reading may have."""
STRUCK = 0.02
"""Weight of a reading that the technician has said is wrong; not nothing, as that may have been misheard too."""


def possible(heard: Heard, *, quantity: str, meter: Meter, rules: Rules) -> tuple[Taken, ...]:
    """Every reading that the words heard or their alternatives can be, the likeliest first.

    Raises NotTaken with the sentence to say when the likeliest words are none, and rules.n_best allows no other.
    """
    spoken = [(heard.words, 1.0 if heard.source != "voice" else heard.confidence)]
    if rules.n_best and heard.source == "voice":
        spoken += [(one.words, one.confidence) for one in heard.alternatives]
    found: list[Taken] = []
    refusal: NotTaken | None = None
    for number, (words, confidence) in enumerate(spoken):
        try:
            taken = _taken(words, confidence, quantity=quantity, meter=meter, rules=rules)
        except NotTaken as problem:
            if number == 0 and not rules.second_best:
                raise
            refusal = refusal or problem
            continue
        found.append(replace(taken, typed=heard.source == "keyboard"))
    if not found:
        assert refusal is not None
        raise refusal
    return _shares(found, rules=rules, meter=meter)


def _taken(words: str, confidence: float, *, quantity: str, meter: Meter, rules: Rules) -> Taken:
    spoken = parse_reading(words, expected_unit=QUANTITIES[quantity].base)
    if isinstance(spoken, NumberProblem):
        raise NotTaken(spoken.ask)
    taken = take(spoken, quantity=quantity, words=words, confidence=confidence, plausible=rules.plausible)
    if rules.shown and too_fine(taken, meter):
        raise NotTaken(wording.TOO_FINE)
    return taken


def _shares(found: Sequence[Taken], *, rules: Rules, meter: Meter) -> tuple[Taken, ...]:
    """One of each reading; what is short of the meter's digits counts less, as a digit may have been lost.

    Of the certainty that went to what cannot be a reading, the part rules.lost stays doubt.
    """
    best: dict[Hashable, Taken] = {}
    share: dict[Hashable, float] = {}
    for taken in found:
        weight = taken.confidence * (1.0 if shown_in_full(taken.reading, meter) else rules.short_weight)
        best.setdefault(key(taken), taken)
        share[key(taken)] = share.get(key(taken), 0.0) + weight
    total = sum(share.values()) + rules.lost * max(0.0, 1.0 - sum(taken.confidence for taken in found))
    ranked = sorted(best.values(), key=lambda taken: -share[key(taken)])
    return tuple(replace(taken, confidence=share[key(taken)] / max(total, 1e-9)) for taken in ranked)


def key(taken: Taken) -> Hashable:
    """The same for call-outs that are the same reading, however said."""
    return reading_key(taken.reading)


def reading_key(reading: Reading) -> Hashable:
    """The same for readings that are the same."""
    return (reading.over_range, *(None if end is None else round(end, 7) for end in (reading.value, reading.high)))


def together(calls: Sequence[tuple[Taken, ...]], *, struck: Collection[Hashable] = ()) -> Mapping[Hashable, float]:
    """Reading -> share after all calls, likeliest first: the product of its shares in each; less for those struck out.

    >>> from flows.judging import Reading
    >>> from speech.numbers import Spoken
    >>> def one(volts, share):
    ...     return Taken(Reading("dc_voltage", volts), Spoken("value", volts), "V", False, "", share)
    >>> shares = together([(one(5.0, 0.6), one(9.0, 0.4)), (one(5.0, 0.9), one(9.0, 0.1))])
    >>> [round(share, 3) for share in shares.values()]
    [0.931, 0.069]
    """
    listed = dict.fromkeys(key(taken) for call in reversed(calls) for taken in call)  # of equals the last called
    product = {one: STRUCK if one in struck else 1.0 for one in listed}
    for call in calls:
        shares = {key(taken): taken.confidence for taken in call}
        unlisted = max(UNLISTED, UNLISTED_OF_DOUBT * (1.0 - sum(shares.values())))
        for one in listed:
            product[one] *= max(unlisted, shares.get(one, 0.0))
    total = sum(product.values())
    return {one: share / total for one, share in sorted(product.items(), key=lambda pair: -pair[1])}
