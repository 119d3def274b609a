"""One recording and what is expected of it -> one line of facts, for `leadsman hear` and checks from outside."""

from dataclasses import dataclass

from speech.numbers import NumberProblem, parse_reading
from speech.ports import Heard, ListeningKind, SpeechError
from speech.recogniser import Recogniser
from speech.sound import Sound
from speech.units import UNITS, UnitClashError, convert

EXPECTATIONS: tuple[str, ...] = (*UNITS, "digits", "commands")


@dataclass(frozen=True)
class HearLine:
    """text: the words as recognised, "" for nothing. value: in the expected unit, None when it is no such reading."""

    file: str
    text: str
    value: float | None
    unit: str | None
    confidence: float


def hear(sound: Sound, expect: str, *, recogniser: Recogniser, file: str = "") -> HearLine:
    """What is said in a recording. expect: a unit, "digits" or "commands". Raises SpeechError for anything else."""
    kind = kind_for(expect)
    result = recogniser.decode(sound, kind)
    if not isinstance(result, Heard):
        return HearLine(file, "", None, None, getattr(result, "confidence", 0.0))
    if kind != "reading":
        return HearLine(file, result.words, None, None, result.confidence)
    value, unit = reading_in(result.words, expect)
    return HearLine(file, result.words, value, unit, result.confidence)


def kind_for(expect: str) -> ListeningKind:
    """The kind of listening for an expectation."""
    if expect == "digits":
        return "digits"
    if expect == "commands":
        return "commands"
    if expect not in UNITS:
        raise SpeechError(f"nothing is measured in {expect!r}; expect one of {', '.join(EXPECTATIONS)}")
    return "reading"


def reading_in(words: str, unit: str) -> tuple[float | None, str | None]:
    """Value and unit of a spoken reading in the unit wanted, or two times None when it is none."""
    spoken = parse_reading(words, expected_unit=unit)
    if isinstance(spoken, NumberProblem) or spoken.kind in ("over_range", "range") or spoken.value is None:
        return None, None
    try:
        return convert(spoken.value, spoken.unit or unit, unit), unit
    except UnitClashError:
        return None, None
