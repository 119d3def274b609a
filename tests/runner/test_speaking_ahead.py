"""What is prepared while the person measures is what is said next, whichever branch it is."""

from collections.abc import Iterable

from speech.fakes import QuietVoice
from speech.ports import Said

SUPPLY = ("affirm", "set", "five point zero zero three volts", "")


class SoundingVoice(QuietVoice):
    """A quiet voice that remembers what was prepared before each sentence, and the tones."""

    def __init__(self) -> None:
        super().__init__()
        self.prepared: set[str] = set()
        self.unprepared: list[str] = []
        self.tones: list[str] = []

    def say(self, text: str):
        if text not in self.prepared:
            self.unprepared.append(text)
        return super().say(text)

    def sound(self, earcon: str) -> Said:
        self.tones.append(earcon)
        return Said(0.2)

    def prepare(self, texts: Iterable[str]) -> None:
        self.prepared |= set(texts)


def test_the_next_step_of_the_branch_taken_was_prepared(run_session) -> None:
    voice = SoundingVoice()
    done = run_session(*SUPPLY, "cannot", "set", SUPPLY[2], *SUPPLY[2:], "set", voice=voice)
    following = [text for text in done.said if text.startswith("Supply at the control unit.")]
    assert following and following[0] not in voice.unprepared
    assert done.state.finding["say"] not in voice.unprepared
    assert voice.tones[0] == "in"


def test_a_reading_out_of_its_window_has_another_tone(run_session) -> None:
    voice = SoundingVoice()
    run_session(
        "affirm", "set", "four point one two zero volts", "four point one two one volts", "", "set", voice=voice
    )
    assert voice.tones == ["out"]
