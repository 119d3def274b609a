"""Whole numbers in words, for what the bench is told."""

ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def in_words(number: float) -> str:
    """Small whole numbers in words.

    >>> in_words(30), in_words(5)
    ('thirty', 'five')
    """
    whole = round(number)
    if whole >= 1000:
        return f"{in_words(whole // 1000)} thousand" + (f" {in_words(whole % 1000)}" if whole % 1000 else "")
    if whole < 20:
        return ONES[max(whole, 0)]
    if whole < 100:
        return TENS[whole // 10 - 2] + (f" {ONES[whole % 10]}" if whole % 10 else "")
    return f"{ONES[whole // 100]} hundred" + (f" {in_words(whole % 100)}" if whole % 100 else "")
