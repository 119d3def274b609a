"""The keyboard way: typed figures become the words a person would have said, so that one parser judges both."""

import re
import select
import sys
from collections.abc import Callable
from typing import TextIO

from speech.cardinals import spell_cardinal
from speech.choices import parse_choice
from speech.commands import COMMANDS, parse_command
from speech.grammar import vocabulary
from speech.numbers import NumberProblem, parse_codes, parse_digits, parse_initials, parse_reading
from speech.ports import DeviceLost, Heard, Listened, ListeningKind, Rejected, Said, Silence
from speech.spelling import ALPHABET, spell_code
from speech.units import UNITS, unit_words

ReadLine = Callable[[float], str | None]
"""Waits so many seconds for a line: the line without its end, "" for none in time, None when no more will come."""

_SHORT = {"y": "yes", "n": "no", "?": "help", "c": "cannot", "ok": "okay"}
_UNITS = {
    **{name.lower(): name for name in UNITS if name not in ("Mohm", "mV", "mA")},
    **{"mv": "mV", "ma": "mA", "mohm": "Mohm", "ω": "ohm", "ohms": "ohm", "k": "kohm", "kω": "kohm", "r": "ohm"},
    **{"mω": "Mohm", "°c": "degC", "c": "degC", "°f": "degF", "f": "degF", "%": "percent"},
}
_OVER = ("ol", "o.l", "o.l.", "0l", "0.l", "0.l.", "1.")
_FIGURE = re.compile(r"([-\u2212+]?)(\d+(?:[.,]\d+)?|[.,]\d+)\s*([a-zA-Z°%Ωω]*)")


def words_of(text: str, kind: ListeningKind) -> str:
    """Typed text as spoken words.

    >>> words_of("4.96 v", "reading"), words_of("P0107", "codes"), words_of("jm", "initials")
    ('four point nine six volts', 'p zero one zero seven', 'juliett mike')
    """
    typed = " ".join(text.lower().split())
    if typed in _SHORT:
        return _SHORT[typed]
    if typed in COMMANDS or parse_command(typed) not in (None, "correction"):
        return typed
    if kind == "codes":
        return re.sub(r"\b[pbcu]\d{4}\b", lambda found: spell_code(found[0]).lower(), typed).replace(",", " ")
    if kind == "initials":
        return _initials(typed)
    if kind == "digits":
        return " ".join(spell_code(part) for part in typed.split())
    return " ".join(_reading(typed).split())


def _initials(typed: str) -> str:
    letters = typed.replace(".", "").replace(" ", "")
    spelled = {letter: word for word, letter in ALPHABET.items()}
    if len(letters) <= 3 and all(letter in spelled for letter in letters):
        return " ".join(spelled[letter] for letter in letters)
    return typed


def _reading(typed: str) -> str:
    first, _, rest = typed.partition(" ")
    if first in _OVER:
        return f"oh el {rest}"
    apart = re.sub(r"(?<=\d)\s*(?:-|\u2013|\.\.+|\u2026)\s*(?=[\d.])", " to ", typed)
    return _FIGURE.sub(_figure_words, apart)


def _figure_words(found: re.Match[str]) -> str:
    sign, figures, unit = found[1], found[2].replace(",", "."), found[3].lower()
    words = "minus " if sign in ("-", "\u2212") else ""
    whole, point, decimals = figures.partition(".")
    if point:
        words += f"{spell_code(whole or '0')} point {spell_code(decimals)}"
    else:
        words += spell_cardinal(int(whole)) if len(whole) <= 6 else spell_code(whole)
    return f" {words} {unit_words(_UNITS[unit], one=figures == '1') if unit in _UNITS else unit} "


class TypedEars:
    """Ears on a keyboard."""

    def __init__(self, read_line: ReadLine | None = None) -> None:
        self._read_line = read_line or StandardInput()

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        line = self._read_line(timeout_s)
        if line is None:
            return DeviceLost("keyboard", "the input has ended")
        if not line.strip():
            return Silence(timeout_s)
        words = words_of(line, kind)
        if not _belongs(words, kind):
            return Rejected(words, 1.0)
        return Heard(words, 1.0, source="keyboard")

    def close(self) -> None:
        pass


def _belongs(words: str, kind: ListeningKind) -> bool:
    if parse_command(words) is not None:
        return True
    if kind == "reading":
        return not isinstance(parse_reading(words), NumberProblem) or set(words.split()) <= set(vocabulary("reading"))
    parsers: dict[str, Callable[[str], object | None]] = {
        "codes": parse_codes,
        "digits": parse_digits,
        "initials": parse_initials,
        "choice": parse_choice,
    }
    return kind in parsers and parsers[kind](words) is not None


class StandardInput:
    """Lines of the terminal, with a clock."""

    def __init__(self, stream: TextIO | None = None, *, prompt: str = "> ") -> None:
        self._stream, self._prompt = stream or sys.stdin, prompt

    def __call__(self, timeout_s: float) -> str | None:
        if self._stream.isatty():
            sys.stderr.write(self._prompt)
            sys.stderr.flush()
            ready, _, _ = select.select([self._stream], [], [], timeout_s)
            if not ready:
                return ""
        line = self._stream.readline()
        return line.rstrip("\r\n") if line else None


class PrintedVoice:
    """A voice that writes."""

    def __init__(self, write: Callable[[str], object] = print) -> None:
        self._write = write

    def say(self, text: str) -> Said:
        self._write(text)
        return Said(0.0)

    def set_rate(self, wpm: int) -> None:
        pass

    def set_volume(self, volume: float) -> None:
        pass

    def close(self) -> None:
        pass
