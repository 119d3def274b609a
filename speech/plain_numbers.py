"""Words between sign and unit -> a number: points, fractions, and the "k" that stands where a point would be."""

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from speech.cardinals import Whole, parse_whole, two_figure_chunks

Shape = Literal["digits", "cardinal", "mixed", "pairs", "pointed", "fraction"]

POINTS = ("point", "decimal")
SIGNS = {"minus": -1, "negative": -1, "plus": 1}
FRACTIONS = {("half",): "0.5", ("quarter",): "0.25", ("one", "quarter"): "0.25", ("three", "quarters"): "0.75"}
MOST_FIGURES = 7

GIVE_DIGITS = "Give me the digits."
GIVE_POINT = "Say it again with the point."


@dataclass(frozen=True)
class Number:
    """decimals: how many were said, zeros at the end included; figures: all of them."""

    value: Decimal
    decimals: int
    shape: Shape
    figures: int


class BrokenNumberError(Exception):
    """what: what is wrong with the words; ask: the sentence to say back."""

    def __init__(self, what: str, ask: str = GIVE_DIGITS) -> None:
        self.what = what
        self.ask = ask
        super().__init__(what)


def number_with_k(said: list[str], unit: str | None) -> tuple[Number, str | None]:
    """A number, also with a "k" or "meg" where its point would be: "two k two" is 2.2 kilohms."""
    middle = [i for i, word in enumerate(said) if word in ("k", "meg")]
    if not middle:
        return _number(said), unit
    at = middle[0]
    left, right = parse_whole(said[:at]), two_figure_chunks(said[at + 1 :])
    if len(middle) > 1 or left is None or not right or len("".join(right)) > 2 or unit not in (None, "ohm"):
        raise BrokenNumberError("a k in the wrong place")
    if left.shape != "cardinal":
        raise BrokenNumberError("no point", GIVE_POINT)
    figures = "".join(right)
    number = Number(Decimal(f"{left.value}.{figures}"), len(figures), "pointed", len(left.figures) + len(figures))
    return number, "kohm" if said[at] == "k" else "Mohm"


def _number(said: list[str]) -> Number:
    sign = 1
    if said and said[0] in SIGNS:
        sign, said = SIGNS[said[0]], said[1:]
    if not said:
        raise BrokenNumberError("no number")
    number = _fraction(said) or _plain(said)
    if number.figures > MOST_FIGURES:
        raise BrokenNumberError("too many digits", "That is too many digits. Give me the digits again.")
    return replace(number, value=sign * number.value)


def _fraction(said: list[str]) -> Number | None:
    """Halves and quarters: "half a", "three quarters of a", "twelve and a half"."""
    words = list(said)
    for tail in (["of", "a"], ["a"]):
        if words[-len(tail) :] == tail:
            words = words[: -len(tail)]
    whole = 0
    if "and" in words:
        at = len(words) - 1 - words[::-1].index("and")
        head = parse_whole(words[:at])
        part = words[at + 1 :]
        if head is None or head.shape != "cardinal" or tuple(part[part[:1] == ["a"] :]) not in FRACTIONS:
            return None
        whole, words = head.value, part
    text = FRACTIONS.get(tuple(words[words[:1] == ["a"] :]))
    if text is None:
        return None
    decimals = len(text) - 2
    return Number(whole + Decimal(text), decimals, "fraction", len(str(whole)) + decimals)


def _plain(said: list[str]) -> Number:
    points = [i for i, word in enumerate(said) if word in POINTS]
    if len(points) > 1:
        raise BrokenNumberError("two points", f"I heard two points. {GIVE_DIGITS}")
    if not points:
        whole = parse_whole(said)
        if whole is None:
            raise BrokenNumberError("not a number")
        return _whole_number(whole)
    left, right = said[: points[0]], two_figure_chunks(said[points[0] + 1 :])
    whole = parse_whole(left) if left else Whole(0, "cardinal", "")
    if right == []:
        raise BrokenNumberError("nothing after the point", f"I heard nothing after the point. {GIVE_DIGITS}")
    if whole is None or right is None:
        raise BrokenNumberError("not a number")
    if whole.shape == "pairs":
        raise BrokenNumberError("two numbers before the point")
    figures = "".join(right)
    total = len(whole.figures.lstrip("0")) + len(figures)
    return Number(Decimal(f"{whole.value}.{figures}"), len(figures), "pointed", total)


def _whole_number(whole: Whole) -> Number:
    if whole.shape == "digits" and whole.figures[0] == "0" and whole.value != 0:
        raise BrokenNumberError("a zero in front and no point", GIVE_POINT)
    return Number(Decimal(whole.value), 0, whole.shape, len(whole.figures))
