"""Sentences to train and to measure on: call-outs as people say them, commands, codes.

Everything is words of speech/model/lexicon.txt.
"""

from random import Random

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
ALPHABET = [
    "alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliett", "kilo", "lima",
    "mike", "november", "oscar", "papa", "quebec", "romeo", "sierra", "tango", "uniform", "victor", "whiskey",
    "x-ray", "yankee", "zulu",
]  # fmt: skip
LETTERS = [
    "b", "c", "d", "e", "f", "g", "h", "j", "k", "l", "m", "n", "o", "p", "q", "r", "s", "t", "u", "v", "w",
    "x", "y", "z",
]  # fmt: skip
UNITS = {
    "V": ("volts", "volt", "millivolts", "millivolt"),
    "ohm": ("ohms", "ohm", "kilohms", "kilohm", "megohms", "megohm", "k", "meg"),
    "A": ("amps", "amp", "milliamps", "milliamp", "microamps"),
    "T": ("degrees", "degrees celsius", "degrees fahrenheit", "celsius", "fahrenheit", "degrees c", "degrees f"),
    "kPa": ("kilopascals", "psi", "bar", "millibars", "inches", "inches of mercury", "hectopascals"),
    "Hz": ("hertz", "kilohertz", "percent", "rpm", "milliseconds"),
}
_ALL_UNITS = [unit for units in UNITS.values() for unit in units]
COMMANDS = [
    "say again", "repeat", "stand by", "pause", "go ahead", "resume", "continue", "affirm", "affirmative",
    "yes", "yeah", "yep", "okay", "right", "correct", "no", "nope", "wrong", "no wrong", "correction",
    "disregard", "go back", "back", "cannot", "can't", "can't see", "cannot see", "cannot reach", "can't reach",
    "cannot read", "fine", "bad", "good", "set", "done", "ready", "why", "limits", "help", "slower", "faster",
    "louder", "quieter", "note", "enough", "stop test", "stop", "test", "clear", "crank", "cold", "warm", "hot",
    "cool", "skip", "next", "suspects", "how many left", "what is left", "none", "all", "other", "light",
    "starting", "stalling", "power", "idle", "smoke", "first", "second", "third", "last", "confirm", "all fine",
    "all good", "all set", "all done", "not ready", "that is wrong", "that is right", "that is all",
    "say that again", "repeat that", "repeat please", "go on", "next please", "test stop", "what limits",
    "why that", "which pin", "which wire", "first reading", "second reading", "same reading", "same again",
    "nothing moved", "it moved", "moved", "steady", "unsteady", "no codes", "no code", "no light", "light on",
    "light off", "engine light", "no power", "no start", "not starting", "stalling at idle", "black smoke",
    "white smoke", "connected", "disconnected", "loose", "broken", "wet", "green", "chafed", "corroded",
    "shorted", "open", "dead", "nothing", "none of that", "one more",
]  # fmt: skip
VAGUE = ["about", "around", "roughly", "nearly", "over"]


def natural(number: int, rng: Random) -> list[str]:
    """A whole number from 0 to 999,999 as people say it, with or without "and"."""
    if number < 10:
        return [DIGITS[number]]
    if number < 20:
        return [TEENS[number - 10]]
    if number < 100:
        return [TENS[number // 10 - 2]] + ([DIGITS[number % 10]] if number % 10 else [])
    if number < 1000:
        rest = natural(number % 100, rng) if number % 100 else []
        joint = ["and"] if rest and rng.random() < 0.5 else []
        head = ["a"] if number < 200 and rng.random() < 0.15 else [DIGITS[number // 100]]
        return [*head, "hundred", *joint, *rest]
    rest = natural(number % 1000, rng) if number % 1000 else []
    return [*natural(number // 1000, rng), "thousand", *rest]


def digits(length: int, rng: Random) -> list[str]:
    """Digits one by one, with "oh" for zero and "niner" at times."""
    zero = rng.choice(("zero", "zero", "oh"))
    nine = rng.choice(("nine", "nine", "nine", "niner"))
    return [{"zero": zero, "nine": nine}.get(word, word) for word in rng.choices(DIGITS, k=length)]


def _paired(rng: Random) -> list[str]:
    """Three or four digits by pairs: four ninety-eight, one twenty, twelve fifty, one oh five."""
    head = natural(rng.choice((rng.randrange(1, 10), rng.randrange(10, 100))), rng)
    tail = ["oh", DIGITS[rng.randrange(1, 10)]] if rng.random() < 0.15 else natural(rng.randrange(10, 100), rng)
    return head + tail


def _decimal(rng: Random) -> list[str]:
    point = rng.choice(("point",) * 5 + ("decimal",))
    behind = digits(rng.choice((1, 1, 2, 2, 2, 3, 3)), rng)
    if rng.random() < 0.15:
        behind = natural(rng.randrange(10, 100), rng)
    if rng.random() < 0.1:
        return [point, *behind]
    size = rng.random()
    if size < 0.5:
        return [*digits(rng.choice((1, 1, 1, 2, 2, 3)), rng), point, *behind]
    return [*natural(rng.choice((rng.randrange(10), rng.randrange(100), rng.randrange(1000))), rng), point, *behind]


def _fraction(rng: Random) -> list[str]:
    part = rng.choice((["a", "half"], ["a", "half"], ["a", "quarter"], ["three", "quarters"], ["half"]))
    if rng.random() < 0.4:
        return part if part != ["half"] else ["half", "a"]
    return [*natural(rng.randrange(1, 100), rng), "and", *(part if part != ["half"] else ["a", "half"])]


def number(rng: Random) -> list[str]:
    """A number in one of the ways of saying one."""
    way = rng.random()
    if way < 0.26:
        return digits(rng.choice((1, 2, 3, 3, 4, 4, 5)), rng)
    if way < 0.60:
        return _decimal(rng)
    if way < 0.76:
        top = rng.choice((10, 100, 100, 1000, 1000, 1000, 20000, 1000000))
        return natural(rng.randrange(top) // (1 if top < 20000 else 100) * (1 if top < 20000 else 100), rng)
    if way < 0.90:
        return _paired(rng)
    return _fraction(rng)


def _signed(rng: Random) -> list[str]:
    sign = rng.choices(([], ["minus"], ["negative"], ["plus"]), (84, 9, 5, 2))[0]
    return sign + number(rng)


def _tight(rng: Random) -> list[str]:
    """two k two, four meg seven, two point two k."""
    letter = rng.choice(("k", "k", "meg", "kilo"))
    if rng.random() < 0.5:
        return [*digits(rng.choice((1, 1, 2)), rng), letter, *digits(rng.choice((1, 1, 2)), rng)]
    return [*number(rng), letter, *(["ohms"] if rng.random() < 0.3 else [])]


def reading(rng: Random, *, unit: str | None = None) -> list[str]:
    """One reading with its unit behind it, before it or left out."""
    way = rng.random()
    if unit is None and way < 0.10:
        return _tight(rng)
    spoken = (unit or rng.choice(_ALL_UNITS)).split()
    if unit is None and way < 0.27:
        return _signed(rng)
    if unit is None and way < 0.34:
        return spoken + _signed(rng)
    return _signed(rng) + spoken


def plain_reading(rng: Random) -> list[str]:
    """The reading with unit that the model is measured by: digits or a decimal, then the unit."""
    unit = rng.choice(
        ("volts", "volts", "volts", "millivolts", "ohms", "kilohms", "kilopascals", "degrees", "psi", "amps")
    )
    whole = natural(rng.randrange(1000), rng) if rng.random() < 0.4 else digits(rng.choice((1, 1, 2, 3)), rng)
    behind = ["point", *digits(rng.choice((1, 2, 2)), rng)] if rng.random() < 0.75 else []
    return [*whole, *behind, unit]


def special(rng: Random) -> list[str]:
    """Readings that are no number."""
    unit = rng.choice(_ALL_UNITS).split()
    a, b = number(rng), number(rng)
    return rng.choice(
        (
            ["oh", "el"], ["oh", "l"], ["overload"], ["over", "range"], ["open"], ["open", "line"], ["dead"], ["nothing"],
            ["dead", "short"], ["infinite"], ["infinity"], ["shorted"], ["steady"], ["bouncing"],
            ["bouncing", *a, "to", *b], ["bouncing", *a, "to", *b, *unit], ["bouncing", "between", *a, "and", *b],
            ["jumping", *a, "to", *b], ["drifting"], ["drifting", *a, "to", *b], ["steady", *a, *unit],
            [rng.choice(VAGUE), *a], [rng.choice(VAGUE), *a, *unit], [*a, *unit, "steady"], ["nothing", *unit],
        )
    )  # fmt: skip


def corrected(rng: Random) -> list[str]:
    """A false start, then the value again."""
    unit = rng.choice(_ALL_UNITS).split()
    way = rng.random()
    if way < 0.4:
        return ["correction", *_signed(rng), *(unit if rng.random() < 0.7 else [])]
    if way < 0.8:
        return [*number(rng), *(unit if rng.random() < 0.4 else []), "correction", *number(rng), *unit]
    if way < 0.9:
        return [rng.choice(("uh", "um")), *number(rng), *unit]
    return [rng.choice(("no", "wrong", "disregard")), *number(rng), *unit]


def code(rng: Random) -> list[str]:
    """A trouble code: letter and four digits, at times by the spelling alphabet or by pairs."""
    letter = rng.choice(("p", "p", "p", "c", "b", "u"))
    spelt = {"p": "papa", "c": "charlie", "b": "bravo", "u": "uniform"}[letter] if rng.random() < 0.3 else letter
    if rng.random() < 0.2:
        return [spelt, *digits(2, rng), *natural(rng.randrange(10, 100), rng)]
    return [spelt, *digits(4, rng)]


def initials(rng: Random) -> list[str]:
    return [rng.choice(ALPHABET) for _ in range(rng.choice((1, 2, 2, 3)))]


def letters(rng: Random) -> list[str]:
    """Letters and digits mixed: a pin, a plug."""
    head = ["pin", "plug", "wire"][rng.randrange(3)]
    return [head, rng.choice((*LETTERS, *ALPHABET)), *digits(rng.choice((0, 1, 1, 2)), rng)]


_CONFUSED = ["five nine", "two eight", "three eight", "one nine", "five one", "fifteen fifty", "thirteen thirty", "fourteen forty", "sixteen sixty", "seventeen seventy", "eighteen eighty", "nineteen ninety", "volts ohms", "oh zero", "oh four", "six seven", "eight a", "k eight", "no oh", "no note", "wrong one", "seven eleven", "millivolts milliamps", "kilohms kilopascals", "megohms millivolts", "amps ohms", "point one", "point five", "b p", "e p", "d t", "c z", "m n", "f s", "minus nine", "dead ready", "open oh", "fine five", "fine nine", "four forty", "set said", "cold hold", "stop test", "right white", "bar far", "k okay"]  # fmt: skip


def confusable(rng: Random, known: frozenset[str]) -> list[str]:
    """Words people mix up, side by side and among digits."""
    pair = [word for word in rng.choice(_CONFUSED).split() if word in known]
    row = [rng.choice(pair) for _ in range(rng.choice((1, 2, 3, 4)))]
    return row + (digits(rng.choice((1, 2)), rng) if rng.random() < 0.3 else [])


def words_at_random(rng: Random, known: list[str]) -> list[str]:
    """A row of any words, so that no phone leans on the grammar around it."""
    return [rng.choice(known) for _ in range(rng.choice((1, 1, 2, 3, 4, 5)))]


def sentence(rng: Random, known: list[str]) -> list[str]:
    """One sentence of lexicon words, of any kind, in the mix the model is trained on."""
    kinds = (
        (lambda: digits(rng.choice((1, 2, 3, 4, 4, 4, 5, 6, 7, 8)), rng), 16),
        (lambda: reading(rng), 34),
        (lambda: special(rng), 5),
        (lambda: corrected(rng), 4),
        (lambda: rng.choice(COMMANDS).split(), 22),
        (lambda: code(rng), 4),
        (lambda: initials(rng), 4),
        (lambda: letters(rng), 2),
        (lambda: confusable(rng, frozenset(known)), 5),
        (lambda: words_at_random(rng, known), 14),
    )
    return rng.choices([make for make, _ in kinds], [weight for _, weight in kinds])[0]()
