"""A headset: the ears stay open while the tool speaks, and "enough" or "stop test" cuts a prompt short.

The tool's own voice leaks from the earpiece into the microphone. How loud it comes back is learned from the prompts that
nobody spoke into; only what is clearly louder than that is listened to at all, so the leak never reaches the recogniser.
"""

import threading
from collections import deque
from collections.abc import Iterable
from math import inf

import numpy as np

from speech.commands import parse_command
from speech.levels import FRAME_S, SPEECH_OVER_NOISE_DB, LevelMeter
from speech.playing_voice import PlayingVoice
from speech.ports import DeviceLost, Ears, Heard, Listened, ListeningKind, Said
from speech.recogniser import RATE_HZ, Recogniser
from speech.resampling import StreamResampler
from speech.sound import Sound, frame_levels_dbfs
from speech.vosk_ears import TAIL_S, AudioSource

CUTS = ("enough", "stop")
OVER_LEAK_DB = 6.0
"""How far a voice must stand over the loudest leak of the tool's own."""
SURE = 0.5
QUIET_AFTER_S = 0.25
LEAD_S = 0.2
LONGEST_S = 2.5
REMEMBERED = 5  # prompts the leak is learned from


class Leak:
    """How loud the tool comes back into the microphone, against what is played [dB]; the quietest of the last prompts."""

    def __init__(self) -> None:
        self._past: deque[float] = deque(maxlen=REMEMBERED)

    @property
    def known(self) -> bool:
        """Whether a prompt has been heard through; the first one cannot be cut."""
        return bool(self._past)

    @property
    def gain_db(self) -> float:
        """Loudest leaked frame over loudest played frame; a prompt somebody spoke into only raises it for itself."""
        return min(self._past)

    def learn(self, heard_peak_dbfs: float, played_peak_dbfs: float) -> None:
        """A prompt was played to its end."""
        if heard_peak_dbfs > -inf:
            self._past.append(heard_peak_dbfs - played_peak_dbfs)


class Headset:
    """Voice and ears of a headset in one: says, listens meanwhile, and hands a "stop test" on to who listens next."""

    def __init__(self, voice: PlayingVoice, ears: Ears, source: AudioSource, recogniser: Recogniser) -> None:
        """ears: for when nothing is said; source: what they listen to."""
        self._voice, self._ears, self._source, self._recogniser = voice, ears, source, recogniser
        self._leak = Leak()
        self._pending: Heard | None = None
        self.cut = ""  # what cut the last sentence short

    def say(self, text: str) -> Said | DeviceLost:
        """Speak until the last sample or until somebody cuts it short."""
        self.cut = ""
        played = self._voice.sound_of(text)
        over = threading.Event()
        listener = threading.Thread(target=self._while_speaking, args=(played, text, over), name="open-ears")
        listener.start()
        try:
            return self._voice.say(text)
        finally:
            over.set()
            listener.join()

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        """What was called into the last sentence, else what is heard now."""
        if self._pending is not None:
            heard, self._pending = self._pending, None
            return heard
        return self._ears.listen(kind, timeout_s=timeout_s)

    def sound(self, earcon: str) -> Said | DeviceLost:
        return self._voice.sound(earcon)

    def prepare(self, texts: Iterable[str]) -> None:
        self._voice.prepare(texts)

    def set_rate(self, wpm: int) -> None:
        self._voice.set_rate(wpm)

    def set_volume(self, volume: float) -> None:
        self._voice.set_volume(volume)

    def close(self) -> None:
        """Let go of both; may be called once as the ears and once as the voice."""
        self._ears.close()
        self._voice.close()

    def _while_speaking(self, played: Sound, text: str, over: threading.Event) -> None:
        peak_dbfs = float(frame_levels_dbfs(played).max(initial=-120.0))
        own = {parse_command(words) for words in ("enough", "stop test") if words in text.lower()}
        open_to = {command for command in CUTS if command not in own}
        meter = LevelMeter(self._source.rate_hz)
        gate_dbfs = peak_dbfs + self._leak.gain_db + OVER_LEAK_DB if self._leak.known else inf
        spoken = _Spoken(self._recogniser, self._source.rate_hz)
        self._source.flush()
        while not over.is_set():
            block = self._source.read(timeout_s=0.05)
            if isinstance(block, DeviceLost):
                return  # who listens next is told
            if block is None:
                continue
            meter.add(block.samples)
            heard = spoken.add(block.samples, gate_dbfs=max(gate_dbfs, meter.noise_dbfs + SPEECH_OVER_NOISE_DB))
            command = parse_command(heard.words) if heard is not None else None
            if heard is not None and command in open_to and heard.confidence >= SURE:
                self.cut = command
                self._pending = heard if command == "stop" else None
                self._voice.stop()
                return
        if not self.cut:
            self._leak.learn(meter.peak_dbfs, peak_dbfs)


class _Spoken:
    """Cuts what is louder than a gate out of the stream and recognises each piece as a command."""

    def __init__(self, recogniser: Recogniser, rate_hz: int) -> None:
        self._recogniser, self._rate_hz = recogniser, rate_hz
        self._before: deque[np.ndarray] = deque(maxlen=max(1, round(LEAD_S / 0.02)))
        self._piece: list[np.ndarray] = []
        self._quiet_s = 0.0

    def add(self, samples: np.ndarray, *, gate_dbfs: float) -> Heard | None:
        """A block of sound; what was said, once a piece has ended."""
        loud = frame_levels_dbfs(Sound(samples, self._rate_hz), frame_s=FRAME_S).max(initial=-120.0) > gate_dbfs
        if not self._piece and not loud:
            self._before.append(samples)
            return None
        if not self._piece:
            self._piece = [*self._before]
        self._piece.append(samples)
        self._quiet_s = 0.0 if loud else self._quiet_s + len(samples) / self._rate_hz
        long_s = sum(len(part) for part in self._piece) / self._rate_hz
        return self._recognised() if self._quiet_s >= QUIET_AFTER_S or long_s >= LONGEST_S else None

    def _recognised(self) -> Heard | None:
        samples = StreamResampler(self._rate_hz, RATE_HZ).feed(np.concatenate(self._piece))
        self._piece, self._quiet_s = [], 0.0
        self._before.clear()
        stream = self._recogniser.stream("commands")
        stream.accept(samples)
        stream.accept(np.zeros(round(TAIL_S * RATE_HZ), np.int16))
        decoded = stream.finish()
        return None if decoded.is_filler or not decoded.words else Heard(decoded.words, decoded.confidence)
