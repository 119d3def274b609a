"""Ears on a source: when an utterance is over, what each way of hearing nothing is, the button beside the voice."""

import numpy as np
import pytest

from speech.button import Button
from speech.endings import Endpointer, Waits, ending_of
from speech.fakes import QuietVoice, ScriptedEars, SoundSource
from speech.grammar import grammar_for
from speech.graph import FILLER
from speech.levels import Caller
from speech.ports import DeviceLost, Heard, ListeningKind, Rejected, Said, Silence
from speech.recogniser import Decoded, confidences, result_of
from speech.sentences import Walker
from speech.sound import Sound, from_floats, join, silence
from speech.vosk_ears import OUTDONE_S, VoskEars

WALKER = Walker(grammar_for("reading"))
COMMANDS = Walker(grammar_for("commands"))


@pytest.mark.parametrize(
    ("words", "ending"),
    [
        ("", "none"),
        ("<unk>", "none"),
        ("four", "bare"),
        ("four point", "part"),
        ("minus", "part"),
        ("four point nine six", "bare"),
        ("four point nine six volts", "closed"),
        ("two k", "open"),
        ("twenty degrees", "open"),
        ("twenty degrees celsius", "closed"),
        ("oh el", "open"),
        ("stop", "part"),
        ("stop test", "open"),
        ("half a", "bare"),
    ],
)
def test_how_far_a_reading_has_come(words: str, ending: str) -> None:
    assert ending_of(words, WALKER) == ending


def test_commands_close_at_once() -> None:
    assert ending_of("yes", COMMANDS) == "open"  # "yes it is"
    assert ending_of("fine", COMMANDS) == "closed"
    assert ending_of("cannot", COMMANDS) == "open"
    assert ending_of("can't", COMMANDS) == "part"


def fed(*parts: tuple[float, bool, str], timeout_s: float = 5.0) -> float | None:
    """When an endpointer ends after (length, loud, words) parts [s], None for not at all."""
    ends = Endpointer(timeout_s)
    for length_s, loud, words in parts:
        for _ in range(round(length_s / 0.02)):
            ends.frames([loud, loud])
            ends.heard(words)
            if ends.over(ending_of(words, WALKER)):
                return round(ends.now_s, 2)
    return None


def test_a_whole_reading_ends_soon_and_an_open_one_later() -> None:
    waits = Waits()
    closed = fed((0.5, False, ""), (1.0, True, ""), (3.0, False, "four point nine volts"))
    opened = fed((0.5, False, ""), (1.0, True, ""), (3.0, False, "two k"))
    barely = fed((0.5, False, ""), (1.0, True, ""), (3.0, False, "four point nine"))
    parted = fed((0.5, False, ""), (1.0, True, ""), (3.0, False, "minus"))
    assert (closed, opened, barely, parted) == (
        pytest.approx(1.5 + waits.closed_s, abs=0.03),
        pytest.approx(1.5 + waits.open_s, abs=0.03),
        pytest.approx(1.5 + waits.bare_s, abs=0.03),
        pytest.approx(1.5 + waits.part_s, abs=0.03),
    )


def test_nobody_speaks_until_the_time_is_up() -> None:
    assert fed((9.0, False, "")) == 5.0


def test_a_click_is_no_speech() -> None:
    assert fed((1.0, False, ""), (0.02, True, ""), (9.0, False, "")) == 5.0


def test_speech_that_is_nothing_ends_when_it_is_quiet() -> None:
    assert fed((1.0, False, ""), (2.0, True, "<unk>"), (2.0, False, "<unk>")) == pytest.approx(3.7, abs=0.03)


def test_in_noise_words_that_no_longer_change_end_it() -> None:
    ended = fed((0.5, True, "four"), (9.0, True, "four volts"))
    assert ended == pytest.approx(0.5 + 0.25 + 0.3, abs=0.05)


def test_what_never_ends_is_ended() -> None:
    ended = fed((60.0, True, "<unk>"))
    assert ended == pytest.approx(Waits().longest_s, abs=0.1)


class OneAnswer:
    """A recogniser that hears the same in every utterance, near the end of a second of sound."""

    def __init__(self, words: str) -> None:
        self.words = words
        self.kinds: list[str] = []

    def walker(self, kind: ListeningKind) -> Walker:
        return WALKER

    def stream(self, kind: ListeningKind, *, hiss_dbfs: float) -> "OneAnswer":
        self.kinds.append(kind)
        self._loud = 0
        return self

    def accept(self, samples: np.ndarray) -> None:
        self._loud += int(np.sum(np.abs(samples.astype(int)) > 500))

    def partial(self) -> str:
        return self.words if self._loud > 10_000 else ""

    def finish(self) -> Decoded:
        return Decoded(self.partial(), 0.9)

    def callers_words(self, whole: Decoded, samples: np.ndarray, kind: ListeningKind) -> Decoded:
        return whole


def burst(rate_hz: int = 16000) -> Sound:
    return from_floats(0.3 * np.sin(np.arange(rate_hz) * 2000.0 / rate_hz), rate_hz)


def ears(words: str, source: SoundSource, button: Button | None = None) -> VoskEars:
    return VoskEars(OneAnswer(words), source, button=button)  # type: ignore[arg-type]


@pytest.mark.parametrize("rate_hz", [16000, 48000, 44100, 8000])
def test_a_reading_is_heard_with_its_times_and_levels(rate_hz: int) -> None:
    heard = ears("four volts", SoundSource(burst(rate_hz), lead_s=1.0)).listen("reading", timeout_s=5)
    assert isinstance(heard, Heard)
    assert heard.words == "four volts"
    assert heard.ended_s - heard.started_s == pytest.approx(1.0, abs=0.1)
    assert heard.level_dbfs == pytest.approx(-13.5, abs=1.0)
    assert heard.noise_dbfs < -60


def test_silence_speech_that_is_nothing_and_a_lost_device_are_three_results() -> None:
    quiet = ears("four volts", SoundSource()).listen("reading", timeout_s=0.5)
    assert isinstance(quiet, Silence)
    assert quiet.waited_s == pytest.approx(0.5, abs=0.05)
    assert isinstance(ears("<unk>", SoundSource(burst())).listen("reading", timeout_s=5), Rejected)
    assert isinstance(ears("x", SoundSource(burst(), lost_after=20)).listen("reading", timeout_s=5), DeviceLost)


def test_what_came_in_before_is_forgotten() -> None:
    source = SoundSource(burst(), silence(0.1, rate_hz=16000))
    both = ears("four volts", source)
    assert isinstance(both.listen("reading", timeout_s=5), Heard)
    assert isinstance(both.listen("reading", timeout_s=0.5), Silence)
    both.close()
    assert source.closed


def test_a_noise_without_words_is_passed_over() -> None:
    clank = Sound(burst().samples[:4000], 16000)
    source = SoundSource(join([clank, silence(2.0, rate_hz=16000), burst()]))
    heard = ears("four volts", source).listen("reading", timeout_s=6)
    assert isinstance(heard, Heard)
    assert source.read_s > 3.0
    nothing = ears("four volts", SoundSource(clank)).listen("reading", timeout_s=3)
    assert isinstance(nothing, Silence)
    assert nothing.waited_s == pytest.approx(3.0, abs=0.1)


def fainter(sound: Sound, by_db: float) -> Sound:
    return Sound((sound.samples * 10 ** (-by_db / 20)).astype(np.int16), sound.rate_hz)


def test_a_voice_far_fainter_than_the_callers_is_passed_over() -> None:
    pause = silence(2.0, rate_hz=16000)
    source = SoundSource(burst(), burst(), join([fainter(burst(), 18), pause, burst()]), fainter(burst(), 10))
    near = ears("four volts", source)
    levels = [near.listen("reading", timeout_s=8) for _ in range(4)]
    assert all(isinstance(one, Heard) for one in levels)
    assert [round(one.level_dbfs) for one in levels if isinstance(one, Heard)] == [-13, -13, -13, -23]


def test_a_caller_who_went_further_off_is_heard_after_two_silences() -> None:
    far = fainter(burst(), 18)
    near = ears("four volts", SoundSource(burst(), burst(), far, far, far))
    kinds = [type(near.listen("reading", timeout_s=4)) for _ in range(5)]
    assert kinds == [Heard, Heard, Silence, Silence, Heard]


def test_readbacks_that_nobody_objects_to_do_not_make_a_radio_the_caller() -> None:
    quiet, radio = silence(0.1, rate_hz=16000), fainter(burst(), 18)
    near = ears("four volts", SoundSource(burst(), quiet, burst(), quiet, quiet, radio, burst(), radio))
    kinds = [type(near.listen("reading", timeout_s=3)) for _ in range(8)]
    assert kinds == [Heard, Silence, Heard, Silence, Silence, Silence, Heard, Silence]


def test_a_check_of_the_microphone_tells_the_caller_from_the_first_call_on() -> None:
    source = SoundSource(join([fainter(burst(), 18), silence(2.0, rate_hz=16000), burst()]))
    near = VoskEars(OneAnswer("four volts"), source, caller=Caller(-13.0))  # type: ignore[arg-type]
    heard = near.listen("reading", timeout_s=8)
    assert isinstance(heard, Heard)
    assert heard.level_dbfs == pytest.approx(-13.5, abs=1.0)


@pytest.mark.parametrize(("by_db", "what"), [(6, Rejected), (12, Silence)])
def test_what_is_not_understood_is_passed_over_when_it_is_fainter_than_the_caller(by_db: float, what: type) -> None:
    source = SoundSource(fainter(burst(), by_db))
    near = VoskEars(OneAnswer(FILLER), source, caller=Caller(-13.5))  # type: ignore[arg-type]
    assert isinstance(near.listen("reading", timeout_s=4), what)
    objecting = VoskEars(OneAnswer(FILLER), SoundSource(fainter(burst(), by_db)), caller=Caller(-13.5))  # type: ignore[arg-type]
    assert isinstance(objecting.listen("commands", timeout_s=1.2), Rejected), "a mumble after a readback is no consent"
    understood = VoskEars(OneAnswer("four volts"), SoundSource(fainter(burst(), by_db)), caller=Caller(-13.5))  # type: ignore[arg-type]
    assert isinstance(understood.listen("reading", timeout_s=4), Heard)


def test_while_no_level_is_known_a_louder_voice_outdoes_what_was_not_understood() -> None:
    radio, pause = fainter(burst(), 14), silence(1.0, rate_hz=16000)
    source = SoundSource(join([radio, pause, burst(), pause, burst()]))
    heard = ears(FILLER, source).listen("reading", timeout_s=20)
    assert isinstance(heard, Rejected)
    assert heard.level_dbfs > -18  # of all that was listened to: the radio and the caller, who is at -13
    alone = SoundSource(radio)
    heard = ears(FILLER, alone).listen("reading", timeout_s=20)
    assert isinstance(heard, Rejected)
    assert heard.level_dbfs == pytest.approx(-27.5, abs=1.5)
    assert alone.read_s < burst().duration_s + OUTDONE_S + 1.5
    known = SoundSource(radio)
    near = VoskEars(OneAnswer(FILLER), known, caller=Caller(-27.0))  # type: ignore[arg-type]
    assert isinstance(near.listen("reading", timeout_s=20), Rejected)
    assert known.read_s < burst().duration_s + 1.5, "who is known is answered at once"


class Pressing(SoundSource):
    """A source during which the button is pressed and let go at given times."""

    def __init__(self, button: Button, down_s: float, up_s: float, sound: Sound) -> None:
        super().__init__(sound)
        self.button, self.down_s, self.up_s = button, down_s, up_s

    def read(self, *, timeout_s: float = 0.1):  # type: ignore[no-untyped-def]
        block = super().read(timeout_s=timeout_s)
        if abs(self.read_s - self.down_s) < 0.011:
            self.button.press(self.read_s)
        self.button.hold(self.read_s)
        if abs(self.read_s - self.up_s) < 0.011:
            self.button.release(self.read_s)
        return block


@pytest.mark.parametrize(("held_s", "words"), [(0.1, "yes"), (0.8, "no")])
def test_the_button_answers(held_s: float, words: str) -> None:
    button = Button()
    source = Pressing(button, 0.4, 0.4 + held_s, silence(1, rate_hz=16000))
    heard = ears("four volts", source, button).listen("yes_no", timeout_s=5)
    assert isinstance(heard, Heard)
    assert (heard.words, heard.source, heard.confidence) == (words, "button", 1.0)


def test_a_held_button_keeps_the_ears_open_until_it_is_let_go() -> None:
    button = Button()
    sound = join([burst(), silence(3.0, rate_hz=16000)])
    source = Pressing(button, 0.1, 4.0, sound)
    waits = Waits(closed_s=2.0)  # longer than it takes to hold
    heard = VoskEars(OneAnswer("four volts"), source, button=button, waits=waits).listen("reading", timeout_s=5)  # type: ignore[arg-type]
    assert isinstance(heard, Heard)
    assert heard.words == "four volts"
    assert source.read_s == pytest.approx(4.02, abs=0.05)


def test_results_from_what_was_decoded() -> None:
    assert isinstance(result_of(Decoded("", 0.0), "reading", -90, -90, ended_s=2.0), Silence)
    assert isinstance(result_of(Decoded("<unk>", 0.9), "reading", -20, -60), Rejected)
    assert isinstance(result_of(Decoded("four [unk]", 0.9), "reading", -20, -60), Rejected)
    heard = result_of(Decoded("four", 0.9), "reading", -20, -60, started_s=1.0, ended_s=2.0)
    assert heard == Heard("four", 0.9, (), -20, -60, 1.0, 2.0, "voice")


@pytest.mark.parametrize(
    ("kind", "certainty", "taken"),
    [
        ("reading", 0.3, True),
        ("reading", 0.2, False),
        ("commands", 0.3, False),
        ("commands", 0.45, True),
        ("yes_no", 0.3, False),
    ],
)
def test_a_guess_counts_as_not_understood(kind: ListeningKind, certainty: float, taken: bool) -> None:
    words = {"reading": "four volts", "commands": "light", "yes_no": "yes"}[kind]
    result = result_of(Decoded(words, certainty), kind, -20, -60)
    assert isinstance(result, Heard) is taken
    assert taken or result == Rejected(words, certainty, -20, -60)


def test_confidences_are_shares() -> None:
    shares = confidences([("five", -10.0), ("nine", -12.0), ("five", -11.0)], sharpness=1.0)
    assert [text for text, _ in shares] == ["five", "nine"]
    assert sum(share for _, share in shares) == pytest.approx(1)
    assert shares[0][1] == pytest.approx(0.8808, abs=1e-4)  # 1 / (1 + e**-2)
    assert confidences([]) == []


def test_fakes_follow_their_script() -> None:
    script = ScriptedEars("four volts", "", Rejected("", 0.2), DeviceLost("microphone", "unplugged"))
    kinds = [type(script.listen("reading", timeout_s=1)).__name__ for _ in range(4)]
    assert kinds == ["Heard", "Silence", "Rejected", "DeviceLost"]
    with pytest.raises(AssertionError, match="script ran out"):
        script.listen("reading", timeout_s=1)
    voice = QuietVoice(lost_at=1)
    assert isinstance(voice.say("Key on."), Said)
    assert isinstance(voice.say("Key off."), DeviceLost)
    assert voice.said == ["Key on."]
