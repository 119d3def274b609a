"""Ears on a live microphone: half duplex, ends an utterance by grammar and level, button beside the voice."""

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

import numpy as np

from speech.button import Button
from speech.endings import Endpointer, Waits, ending_of
from speech.levels import MUMBLED_DB, Caller, LevelMeter
from speech.ports import DeviceLost, Heard, Listened, ListeningKind, Rejected, Silence
from speech.recogniser import HISS_DB, HISS_DBFS, RATE_HZ, Recogniser, Stream, result_of
from speech.resampling import StreamResampler
from speech.sound import Sound
from speech.sound_devices import Block

LEAD_S = 0.5
"""Sound of an utterance that is handed on begins so long before its first loud moment."""
SURE = 0.7
"""Confidence from which on a call-out tells how loud the caller is."""
FAR_LISTENINGS = 2
"""After so many that held only somebody far off, it may be the caller who went there. Silence alone says nothing: it is what
follows every readback that nobody objects to, and beside a radio that is one such listening after every call."""
CONSENT_S = 3.0
"""A listening shorter than this waits for an objection, and silence is consent: a mumble there is not passed over lightly."""
OUTDONE_S = 2.5
"""While nobody knows how loud the caller is, what was not understood is waited on so long for a louder voice."""
TAIL_S = 0.2
"""Nothing but hiss after the last sample, so that the network sees past the last word."""


class AudioSource(Protocol):
    """Something blocks of samples come from."""

    rate_hz: int

    def read(self, *, timeout_s: float) -> Block | DeviceLost | None: ...

    def flush(self) -> None: ...

    def close(self) -> None: ...


class VoskEars:
    """Listens to a source with a recogniser; opened by `listen`, deaf in between."""

    def __init__(
        self,
        recogniser: Recogniser,
        source: AudioSource,
        *,
        button: Button | None = None,
        waits: Waits | None = None,
        caller: Caller | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._recogniser, self._source = recogniser, source
        self._button = button
        self._waits = waits or Waits()
        self._clock = clock
        self._meter = LevelMeter(source.rate_hz)
        self._caller = caller or Caller()
        self._only_far = 0  # listenings in a row that somebody far off was all there was to hear

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        """The next utterance; what came in before the call is forgotten, and a noise without words is passed over, as is a
        voice far fainter than the caller's has been."""
        self._source.flush()
        self._meter.fresh()
        if self._button is not None:
            self._button.clear()
        opened_s, waited_s, far = self._clock(), 0.0, False
        refused: Rejected | None = None  # while nobody knows how loud the caller is; until enough_s it may be outdone
        enough_s = timeout_s
        while True:
            known_dbfs = self._caller.level_dbfs
            hiss_dbfs = HISS_DBFS if known_dbfs is None else known_dbfs - HISS_DB
            stream = self._recogniser.stream(kind, hiss_dbfs=hiss_dbfs)
            ends = Endpointer(enough_s - waited_s, self._waits)
            listening = _Listening(self._recogniser, kind, stream, ends, asked_s=timeout_s)
            result = self._utterance(listening, opened_s + waited_s)
            waited_s += ends.now_s
            if not isinstance(result, Silence):
                if not self._across_the_shop(result, listening):
                    if not self._may_be_outdone(result, refused, listening):
                        self._only_far = 0
                        return result
                    if refused is None:
                        enough_s = min(timeout_s, waited_s + OUTDONE_S)
                    refused = result if isinstance(result, Rejected) else refused
                far = True
            if refused is not None and waited_s >= enough_s:
                return refused
            if waited_s >= timeout_s or listening.let_go:
                self._only_far += far
                if self._only_far >= FAR_LISTENINGS:
                    self._caller.forget()
                    self._only_far = 0
                return Silence(waited_s, self._meter.peak_dbfs)

    def _across_the_shop(self, result: Listened, listening: "_Listening") -> bool:
        """Whether this was said by somebody far off; who holds the button is near."""
        if not isinstance(result, Heard | Rejected) or listening.held or listening.let_go:
            return False
        if isinstance(result, Heard):
            if result.source != "voice":
                return False
            if result.confidence >= SURE and not self._caller.is_not(result.level_dbfs):
                self._caller.learn(result.level_dbfs)
        passes = isinstance(result, Heard) or listening.asked_s < CONSENT_S
        return self._caller.is_not(result.level_dbfs, understood=passes)

    def _may_be_outdone(self, result: Listened, refused: Rejected | None, listening: "_Listening") -> bool:
        """Whether it was not understood, nobody knows yet how loud the caller is, and it is no louder than what was before."""
        if (
            not isinstance(result, Rejected)
            or self._caller.level_dbfs is not None
            or listening.held
            or listening.let_go
        ):
            return False
        return refused is None or result.level_dbfs < refused.level_dbfs + MUMBLED_DB

    def _utterance(self, listening: "_Listening", opened_s: float) -> Listened:
        resampler = StreamResampler(self._source.rate_hz, RATE_HZ)
        last_s = self._clock()
        patience_s = listening.timeout_s + self._waits.longest_s
        while True:
            pressed = self._pressed(listening)
            if pressed is not None:
                return pressed
            block = self._source.read(timeout_s=0.05)
            if isinstance(block, DeviceLost):
                return block
            if block is None:
                # the source says when it is lost; this is for one that forgets to
                if self._clock() - last_s > patience_s:
                    return DeviceLost("microphone", "no sound came while listening")
                continue
            last_s = self._clock()
            listening.add(self._meter.add(block.samples), resampler.feed(block.samples))
            if listening.over():
                return listening.result(self._meter, opened_s)

    def _pressed(self, listening: "_Listening") -> Heard | None:
        press = self._button.take() if self._button is not None else None
        if press in ("short", "long"):
            now_s = self._clock()
            words = "yes" if press == "short" else "no"
            return Heard(words, 1.0, started_s=now_s, ended_s=now_s, source="button")
        if press is not None:
            listening.held = press == "talk_start"
            listening.let_go = press == "talk_end"
        return None

    def close(self) -> None:
        self._source.close()


class _Listening:
    """One call of `listen`: the engine's stream, the endpointer, and whether the button holds the ears open."""

    def __init__(
        self, recogniser: Recogniser, kind: ListeningKind, stream: Stream, endpointer: Endpointer, *, asked_s: float
    ) -> None:
        """asked_s: how long `listen` was asked to wait."""
        self.asked_s = asked_s
        self._recogniser, self._kind = recogniser, kind
        self._walker = recogniser.walker(kind)
        self._stream, self._endpointer = stream, endpointer
        self._fed: list[np.ndarray] = []
        self.timeout_s = endpointer.timeout_s
        self.held = self.let_go = False

    def add(self, loud: list[bool], samples: np.ndarray) -> None:
        self._endpointer.frames(loud)
        if len(samples):
            self._fed.append(samples)
            self._stream.accept(samples)
            self._endpointer.heard(self._stream.partial())

    def over(self) -> bool:
        if self.let_go:
            return True
        if self.held:
            return self._endpointer.now_s >= self._endpointer.timeout_s + self._endpointer.waits.longest_s
        return self._endpointer.over(ending_of(self._endpointer.words, self._walker))

    def result(self, meter: LevelMeter, opened_s: float) -> Listened:
        ends = self._endpointer
        self._stream.accept(np.zeros(round(TAIL_S * RATE_HZ), np.int16))
        started_s = opened_s + (ends.first_loud_s or 0.0)
        ended_s = opened_s + (ends.last_loud_s or ends.now_s)
        decoded = self._stream.finish()
        if decoded.words and self._fed:
            decoded = self._recogniser.callers_words(decoded, np.concatenate(self._fed).astype(np.int16), self._kind)
        if not decoded.words:
            started_s, ended_s = opened_s, opened_s + ends.now_s
        result = result_of(
            decoded, self._kind, meter.speech_dbfs, meter.noise_dbfs, started_s=started_s, ended_s=ended_s
        )
        if isinstance(result, Silence):
            return result
        return replace(result, clipped=meter.clipped, sound=self._sound())

    def _sound(self) -> Sound | None:
        """All that came in, from a little before somebody spoke up."""
        if not self._fed:
            return None
        whole = np.concatenate(self._fed).astype(np.int16)
        first = max(0.0, (self._endpointer.first_loud_s or 0.0) - LEAD_S)
        return Sound(whole[round(first * RATE_HZ) :], RATE_HZ)
