"""Figures, trouble codes and initials spelled out, word by word."""

from speech.cardinals import DIGIT_WORDS, DIGITS, two_figure_chunks

HESITATIONS = ("uh", "um")
ALPHABET: dict[str, str] = {
    word: word[0]
    for word in (
        *("alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliett", "kilo"),
        *("lima", "mike", "november", "oscar", "papa", "quebec", "romeo", "sierra", "tango", "uniform"),
        *("victor", "whiskey", "x-ray", "yankee", "zulu"),
    )
}
"""Spelling alphabet of ICAO Annex 10 volume II."""

CODE_LETTERS: dict[str, str] = {
    **{"p": "P", "papa": "P", "b": "B", "bravo": "B"},
    **{"c": "C", "charlie": "C", "u": "U", "uniform": "U"},
}
NO_CODES = ("none", "no codes", "nothing", "no code")


def _said(words: str) -> list[str]:
    return [word for word in words.lower().split() if word not in HESITATIONS]


def parse_digits(words: str) -> str | None:
    """Figures of digits said one by one, or None when another word is among them.

    >>> parse_digits("four oh niner two")
    '4092'
    """
    said = _said(words)
    if not said or any(word not in DIGITS for word in said):
        return None
    return "".join(str(DIGITS[word]) for word in said)


def parse_codes(words: str) -> tuple[str, ...] | None:
    """Trouble codes, an empty tuple for "none", or None when the words are not whole codes.

    >>> parse_codes("p zero one zero seven and p oh one thirteen")
    ('P0107', 'P0113')
    """
    said = _said(words)
    if " ".join(said) in NO_CODES:
        return ()
    if not said or said[0] not in CODE_LETTERS:
        return None
    codes: list[str] = []
    for code in _split_codes(said):
        chunks = two_figure_chunks(code[1:])
        figures = "".join(chunks or ())
        if len(figures) != 4 or figures[0] not in "0123":
            return None
        codes.append(CODE_LETTERS[code[0]] + figures)
    return tuple(codes)


def _split_codes(said: list[str]) -> list[list[str]]:
    """Each code from its letter on, without the "and" between."""
    starts = [i for i, word in enumerate(said) if word in CODE_LETTERS]
    parts = [said[start:end] for start, end in zip(starts, [*starts[1:], len(said)], strict=True)]
    return [part[:-1] if part is not parts[-1] and part[-1] in ("and", "then") else part for part in parts]


def parse_initials(words: str) -> str | None:
    """Two or three initials from words of the spelling alphabet, or None.

    >>> parse_initials("juliett mike")
    'JM'
    """
    said = _said(words)
    if not 2 <= len(said) <= 3 or any(word not in ALPHABET for word in said):
        return None
    return "".join(ALPHABET[word] for word in said).upper()


def spell_code(code: str) -> str:
    """A trouble code as it is said.

    >>> spell_code("P0107")
    'P zero one zero seven'
    """
    return " ".join(DIGIT_WORDS[int(figure)] if figure.isdecimal() else figure.upper() for figure in code)
