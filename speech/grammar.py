"""What may be said, one strict grammar for each kind of listening; whatever is heard can be parsed."""

from functools import cache

from speech.cardinals import TEENS, TENS
from speech.choices import CHOICES
from speech.commands import COMMANDS, EVERYWHERE, YES_NO
from speech.graph import WordGraph
from speech.numbers import HESITATIONS, LEADS
from speech.ports import KINDS, ListeningKind
from speech.sentences import Like, Piece, costly, either, many, maybe, repeat, seq, shared, to_graph
from speech.spelling import ALPHABET, NO_CODES
from speech.units import UNITS

COMMAND_COST = 0.5
"""Commands said where a reading is wanted [natural log]: a number is likelier. At 2.0, short ones were refused."""

UNIT_PART = "<unit>"
NO_UNIT_COST = 3.0
"""A reading without its unit: people are asked for it, and in noise a lost unit turns into a last digit."""

SINGULAR_COST = 1.5

RARE_COST = 3.0
"""Hesitations and things people seldom say."""

ODD_COST = 5.0
"""What is no reading but is said: two points, nothing after the point."""

_DIGIT = either("zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "niner")
_NONZERO = either("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "niner")
_TWO_FIGURES = either(*TEENS, seq(either(*TENS), maybe(_NONZERO)))
_BELOW_HUNDRED = either(_NONZERO, _TWO_FIGURES)
_HUNDREDS = seq(either(_BELOW_HUNDRED, "a"), "hundred", maybe(maybe("and"), _BELOW_HUNDRED))
_THOUSANDS = seq(
    either(_BELOW_HUNDRED, "a"), "thousand", maybe(maybe("and"), either(_BELOW_HUNDRED, seq(_NONZERO, "hundred")))
)
_CARDINAL = either(_BELOW_HUNDRED, _HUNDREDS, _THOUSANDS)
_SIGN = either("minus", "negative")
_POINT = either("point", costly("decimal", RARE_COST))
_DECIMALS = either(repeat(_DIGIT, 1, 4), _TWO_FIGURES)
_MIXED = seq(_NONZERO, _TWO_FIGURES)
_PAIRS = seq(_TWO_FIGURES, either(_DIGIT, _TWO_FIGURES, seq("oh", _NONZERO)))

_POINTED = seq(maybe(either(repeat(_DIGIT, 1, 3), _CARDINAL)), _POINT, _DECIMALS)
_WHOLE = either("zero", _CARDINAL, repeat(_DIGIT, 2, 6), _MIXED, costly(_PAIRS, RARE_COST))
_FRACTION = either(
    seq(either("half", "quarter", "a half", "a quarter", "three quarters"), maybe(maybe("of"), "a")),
    seq(_BELOW_HUNDRED, "and", either("a half", "a quarter", "three quarters")),
)
_WITH_K = seq(_BELOW_HUNDRED, either("k", "meg"), repeat(_DIGIT, 1, 2))
_TWO_POINTS = either(
    seq(repeat(_DIGIT, 1, 3), "point point", repeat(_DIGIT, 1, 3)),
    seq(repeat(_DIGIT, 1, 3), "point", repeat(_DIGIT, 1, 3), "point", repeat(_DIGIT, 1, 3)),
    seq(repeat(_DIGIT, 1, 3), "point"),
)


_TWINS = ("milli volts", "milli amps", "kilo ohm", "kilo ohms", "kilo pascals", "meg ohms", "p s i", "r p m")
"""Written ways of units that sound like another one: read, never heard."""


def _units() -> Piece:
    """Every unit phrase; the singular is seldom said."""
    phrases = [phrase for unit in UNITS.values() for phrase in unit.phrases if phrase not in _TWINS]
    seldom = {unit.singular for unit in UNITS.values() if unit.singular != unit.plural} | {"ampere"}
    return either(*(costly(one, SINGULAR_COST) if one in seldom else one for one in phrases if "c" not in one.split()))


_UNIT = shared(_units(), UNIT_PART)
_UNIT_FIRST = either(
    "volts", "millivolts", "ohms", "kilohms", "amps", "kilopascals", "psi", "degrees", "hertz", "percent"
)
_OVER = either("oh el", "open", "open line", "overload", "over range", "infinite")


@cache
def _reading() -> Piece:
    """A value with its unit behind, before or left out; over range; a range; a correction."""
    number = seq(maybe(_SIGN), either(_POINTED, _WHOLE, _FRACTION))
    odd = costly(seq(maybe(_SIGN), _TWO_POINTS), ODD_COST)
    with_k = seq(_WITH_K, maybe(either("ohm", "ohms")))
    value = either(
        seq(number, maybe(_UNIT)),
        costly(seq(_UNIT_FIRST, number), RARE_COST),
        with_k,
        seq(odd, maybe(_UNIT)),
        costly(seq(either("about", "around", "roughly", "nearly"), number, maybe(_UNIT)), RARE_COST),
    )
    plain = seq(maybe(_SIGN), either(_POINTED, _CARDINAL, repeat(_DIGIT, 1, 4), "zero"))
    ends = seq(plain, either("to", "and"), plain, maybe(_UNIT))
    unsteady = seq(either("bouncing", "jumping", "drifting", "unsteady", "between"), ends)
    unsteady_from = seq(either("bouncing", "jumping", "drifting"), either("from", "between"), ends)
    word = either(seq(_OVER, maybe(either("ohms", "kilohms", "megohms"))), "dead", "nothing")
    said = either(value, word, costly(either(unsteady, unsteady_from), RARE_COST))
    start = either(number, seq(number, _UNIT), seq(repeat(_DIGIT, 1, 3), "point"))
    leads = [costly(either(*HESITATIONS, *(" ".join(lead) for lead in LEADS)), RARE_COST)]
    broken_off = costly(seq(maybe(start), "correction"), RARE_COST)
    return seq(maybe(*leads), many(broken_off), said)


def _codes() -> Piece:
    """Letter and four figures, the last two also as one number; several in a row."""
    letter = either("p", *(costly(one, RARE_COST) for one in ("papa", "b", "bravo", "c", "charlie", "u", "uniform")))
    first = either("zero", "oh", "one", "two", "three")
    code = seq(letter, first, _DIGIT, either(seq(_DIGIT, _DIGIT), _TWO_FIGURES))
    return either(seq(code, repeat(seq(maybe("and"), code), 0, 3)), *NO_CODES)


_ANSWERS = {
    "digits": lambda: repeat(_DIGIT, 1, 8),
    "codes": _codes,
    "initials": lambda: repeat(either(*ALPHABET), 2, 3),
    "choice": lambda: either(*CHOICES, _NONZERO),
    "yes_no": lambda: either(*YES_NO),
    "commands": lambda: either(*COMMANDS),
}


@cache
def grammar_for(kind: ListeningKind) -> WordGraph:
    """Word graph of everything that may be said in this kind of listening, commands included.

    Raises ValueError for a kind there is not.
    """
    if kind not in KINDS:
        raise ValueError(f"there is no kind of listening {kind!r}; one of {', '.join(KINDS)}")
    answer: Like = _reading() if kind == "reading" else _ANSWERS[kind]()
    cost = 0.0 if kind in ("yes_no", "commands") else COMMAND_COST
    steering = costly(either(*EVERYWHERE), cost)
    twice = costly(either(*(seq(phrase, phrase) for phrase in ("stop test",))), cost + 1.0)
    return to_graph(either(answer, steering, twice), ending_before={UNIT_PART: NO_UNIT_COST})


def vocabulary(kind: ListeningKind) -> tuple[str, ...]:
    """Every word of a kind, sorted."""
    return tuple(sorted({word for _, _, word, _ in grammar_for(kind).arcs if word is not None}))
