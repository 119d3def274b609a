"""Written text -> text a voice says well: no symbol is left, values go digit by digit, unit last."""

import re

from speech.cardinals import spell_cardinal, spell_digits
from speech.numbers import speak_value
from speech.spelling import spell_code
from speech.units import UNITS

_SYMBOL_UNITS: dict[str, str] = {
    **{name: name for name in UNITS},
    **{"Ω": "ohm", "Ohm": "ohm", "ohms": "ohm", "kΩ": "kohm", "k": "kohm", "MΩ": "Mohm", "°C": "degC", "°F": "degF"},
    **{"%": "percent", "volts": "V", "volt": "V", "amps": "A", "v": "V", "mv": "mV", "kpa": "kPa", "KPa": "kPa"},
}
_OTHER_UNITS = {
    **{"°": "degrees", "mm²": "square millimetres", "mm": "millimetres", "m": "metres", "cm": "centimetres"},
    **{"km": "kilometres", "s": "seconds", "ms": "milliseconds", "min": "minutes", "h": "hours", "hPa": "hectopascals"},
    **{"W": "watts"},
}
_SYMBOLS = {
    **{"±": " plus or minus ", "≤": " at most ", "≥": " at least ", "<": " below ", ">": " above ", "≈": " about "},
    **{"=": " equals ", "×": " times ", "·": " times ", "+": " plus ", "&": " and ", "→": " to ", "/": " or "},
    **{"%": " percent ", "Ω": " ohms ", "°": " degrees ", "@": " at ", "#": " number ", "µ": " micro "},
}
_ONE = re.compile(
    r"(?P<sign>(?<![\w.])[-\u2212])?(?P<figures>\d+(?:[.]\d+)?)(?:\s?(?P<unit>"
    + "|".join(re.escape(name) for name in sorted({*_SYMBOL_UNITS, *_OTHER_UNITS}, key=len, reverse=True))
    + r")(?![\w²]))?"
)
_CODE = re.compile(r"\b[PBCU][0-3][0-9A-F]{3}\b")
_TO = re.compile(r"(?<=\d)\s?[\u2013\u2026]\s?(?=[\d\u2212])|(?<=\d)-(?=\d)|(?<=\d)\.{2,3}(?=\d)")
_NAME = re.compile(r"\b([A-Z]{1,3})-?(\d{1,3})\b")


def speak_code(code: str) -> str:
    """A trouble code, letter and figures one by one.

    >>> speak_code("P0107")
    'P zero one zero seven'
    """
    return spell_code(code)


def speak_pin(pin: str) -> str:
    """A pin of a plug, said after the word pin.

    >>> speak_pin("A3"), speak_pin("12")
    ('pin A three', 'pin twelve')
    """
    parts = re.findall(r"[A-Za-z]|\d+", pin)
    return " ".join(["pin", *(spell_cardinal(int(p)) if p.isdigit() else p.upper() for p in parts)])


def speak_colour(colour: str) -> str:
    """A wire's colour, with its stripe.

    >>> speak_colour("red/white"), speak_colour("light_blue")
    ('red with white', 'light blue')
    """
    return " with ".join(part.strip().replace("_", " ").replace("-", " ").lower() for part in colour.split("/"))


def speakable(text: str) -> str:
    """The text with every figure, unit and symbol as words.

    >>> speakable("Limits 4.88-5.10 V (P0107).")
    'Limits four point eight eight to five point one zero volts, P zero one zero seven.'
    """
    text = _CODE.sub(lambda found: speak_code(found[0]), text)
    text = _NAME.sub(_spell_name, _TO.sub(" to ", text))
    text = _ONE.sub(_value_words, text)
    for symbol, words in _SYMBOLS.items():
        text = text.replace(symbol, words)
    text = re.sub(r"\s*[(\[{]\s*", ", ", text)
    text = re.sub(r"[)\]}]", "", text)
    text = re.sub(r"\s[\u2013\u2014-]\s|[\u2013\u2014]", ", ", text)
    text = re.sub(r"[^\w\s.,;:?!'-]|_", " ", text)
    text = re.sub(r"\s+([.,;:?!])", r"\1", re.sub(r"\s+", " ", text))
    return re.sub(r"^[,;:\s]+", "", text).strip()


def _spell_name(found: re.Match[str]) -> str:
    letters, figures = found[1], found[2]
    return " ".join([*letters, spell_cardinal(int(figures))])


def _value_words(found: re.Match[str]) -> str:
    figures, unit = found["figures"], found["unit"]
    sign = "minus " if found["sign"] else ""
    decimals = len(figures.partition(".")[2])
    if unit in _OTHER_UNITS:
        named = _OTHER_UNITS[unit]
        return f"{sign}{_bare(figures)} {named.removesuffix('s') if figures == '1' else named}"
    if unit is None:
        return sign + _bare(figures)
    return sign + speak_value(float(figures), _SYMBOL_UNITS[unit], decimals=decimals)


def _bare(figures: str) -> str:
    """Counts as numbers, values with a point or a zero in front digit by digit."""
    if "." in figures or (figures[0] == "0" and len(figures) > 1) or len(figures) > 6:
        return spell_digits(figures)
    return spell_cardinal(int(figures))


def words_in(text: str) -> list[str]:
    """The words a voice would say for this text, in lower case.

    >>> words_in("Call the volts: 5.1 V.")
    ['call', 'the', 'volts', 'five', 'point', 'one', 'volts']
    """
    return [word.strip("'-") for word in re.findall(r"[\w'-]+", speakable(text).lower()) if word.strip("'-")]


def talk_s(text: str, wpm: int = 165) -> float:
    """About how long a voice talks, from syllables and pauses [s].

    A word has 1.5 syllables on average, so `wpm` words a minute are 1.5 `wpm` syllables a minute.
    """
    spoken = speakable(text).lower()
    syllables = sum(max(1, len(re.findall(r"[aeiouy]+", re.sub(r"e\b", "", word)))) for word in words_in(spoken))
    pauses = 0.15 * len(re.findall(r"[,;:]", spoken)) + 0.3 * len(re.findall(r"[.?!]+\s", spoken))
    return syllables * 60 / (1.5 * wpm) + pauses
