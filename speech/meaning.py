"""What words amount to, so that "oh" and "zero", "volt" and "volts" are not rivals but one and the same."""

from collections.abc import Callable, Hashable, Sequence

from speech.choices import parse_choice
from speech.commands import parse_command
from speech.numbers import Spoken, parse_codes, parse_digits, parse_initials, parse_reading
from speech.ports import ListeningKind

_PARSERS: dict[str, Callable[[str], Hashable]] = {
    "codes": parse_codes,
    "digits": parse_digits,
    "initials": parse_initials,
    "choice": parse_choice,
}


def meaning_of(words: str, kind: ListeningKind) -> Hashable:
    """The same for words that mean the same; the words themselves where nothing is known about them."""
    command = parse_command(words)
    if command not in (None, "correction"):
        return ("command", command)
    if kind == "reading":
        spoken = parse_reading(words)
        if not isinstance(spoken, Spoken):
            return (spoken.what, words if spoken.what == "not a number" else "")
        return (spoken.kind, spoken.value, spoken.high, spoken.unit, spoken.digits, spoken.correction)
    if kind in _PARSERS:
        return (kind, _PARSERS[kind](words) or words)
    return words


def by_meaning(scored: Sequence[tuple[str, float]], kind: ListeningKind) -> list[tuple[str, float]]:
    """For each meaning its likeliest words, with the certainty of all words that mean it; likeliest first.

    >>> by_meaning([("four oh", 0.4), ("four one", 0.35), ("four zero", 0.25)], "digits")
    [('four oh', 0.65), ('four one', 0.35)]
    """
    words: dict[Hashable, str] = {}
    share: dict[Hashable, float] = {}
    for text, confidence in sorted(scored, key=lambda one: -one[1]):
        meaning = meaning_of(text, kind)
        words.setdefault(meaning, text)
        share[meaning] = share.get(meaning, 0.0) + confidence
    return sorted(((words[meaning], share[meaning]) for meaning in words), key=lambda one: -one[1])
