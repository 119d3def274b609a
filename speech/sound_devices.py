"""The real microphone and loudspeaker, by sounddevice; a device that vanishes is a result, never a hang."""

import queue
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from math import inf
from types import ModuleType
from typing import Any

import numpy as np

from speech.ports import DeviceLost, SpeechError
from speech.sound import Sound, resample

BLOCK_S = 0.02
LOST_AFTER_S = 1.5
START_S = 6.0
"""A device may take this long before its first sample; some sound servers do."""
INSTALL = "sudo apt-get install libportaudio2"


class DeviceError(SpeechError):
    """No sound system, or no such device."""


@dataclass(frozen=True)
class Device:
    """One sound device of this machine."""

    number: int
    name: str
    inputs: int
    outputs: int
    rate_hz: int
    is_default_input: bool
    is_default_output: bool


@dataclass(frozen=True)
class Block:
    """Samples, and when the last of them came in (monotonic clock)."""

    samples: np.ndarray
    at_s: float


def sounddevice() -> ModuleType:
    """The sounddevice package. Raises DeviceError with the command that installs what it needs."""
    try:
        import sounddevice as module
    except OSError as problem:
        raise DeviceError(f"the sound library PortAudio is not installed; install it with: {INSTALL}") from problem
    except ImportError as problem:
        raise DeviceError("the package sounddevice is not installed; install Leadsman again") from problem
    found: ModuleType = module
    return found


def devices(*, refresh: bool = False) -> tuple[Device, ...]:
    """Sound devices there are; refresh looks again for those plugged in since, when no stream is open."""
    sd = sounddevice()
    if refresh:
        with suppress(Exception):
            sd._terminate()
        with suppress(Exception):
            sd._initialize()
    default_in, default_out = sd.default.device
    listed = sd.query_devices()
    return tuple(
        Device(
            number,
            str(one["name"]),
            int(one["max_input_channels"]),
            int(one["max_output_channels"]),
            int(one["default_samplerate"]),
            number == default_in,
            number == default_out,
        )
        for number, one in enumerate(listed)
    )


def find_device(wanted: str | int | None, *, output: bool) -> tuple[int | None, str]:
    """Number and name of the device meant by a number or part of a name. Raises DeviceError saying what there is."""
    what = "loudspeaker" if output else "microphone"
    able = [one for one in devices() if (one.outputs if output else one.inputs) > 0]
    if not able:
        raise DeviceError(f"there is no {what}; plug one in and try again, or type readings with --typed")
    if wanted is None:
        usual = [one for one in able if (one.is_default_output if output else one.is_default_input)]
        return (None, usual[0].name) if usual else (able[0].number, able[0].name)
    text = str(wanted)
    hits = [one for one in able if text == str(one.number)] or [one for one in able if text.lower() in one.name.lower()]
    if not hits:
        names = "; ".join(f"{one.number} {one.name}" for one in able)
        raise DeviceError(f"no {what} is called {text!r}; there are: {names}")
    return hits[0].number, hits[0].name


def _rate_for(sd: ModuleType, device: int | None, *, output: bool, wanted_hz: int) -> int:
    """The wanted rate when the device takes it, else the device's own."""
    check = sd.check_output_settings if output else sd.check_input_settings
    try:
        check(device=device, channels=1, dtype="int16", samplerate=wanted_hz)
        return wanted_hz
    except (sd.PortAudioError, ValueError):
        return int(sd.query_devices(device, "output" if output else "input")["default_samplerate"])


AT_ONCE_S = 0.3
"""Ears that open again so soon were working on the last call-out; no sentence was spoken in between."""


class _Heartbeat:
    """When the device last called; a device that has not called for long is lost."""

    def __init__(self) -> None:
        self._started_s = self._last_s = time.monotonic()
        self._count = 0

    def beat(self) -> float:
        self._last_s = time.monotonic()
        self._count += 1
        return self._last_s

    def stopped(self) -> bool:
        now_s = time.monotonic()
        begun = self._count > 10 or now_s - self._started_s > START_S
        return begun and now_s - self._last_s > LOST_AFTER_S


class MicrophoneSource:
    """Blocks of 20 ms from a microphone, oldest dropped when nobody reads for four seconds."""

    def __init__(self, device: str | int | None = None, *, wanted_hz: int = 16000) -> None:
        self._sd = sounddevice()
        number, self.name = find_device(device, output=False)
        self._queue: queue.Queue[Block] = queue.Queue(maxsize=200)
        self._beats = _Heartbeat()
        self._read_s = -inf
        self._ended = False
        try:
            self.rate_hz = _rate_for(self._sd, number, output=False, wanted_hz=wanted_hz)
            self._stream = self._sd.InputStream(
                samplerate=self.rate_hz,
                device=number,
                channels=1,
                dtype="int16",
                blocksize=round(BLOCK_S * self.rate_hz),
                latency="low",
                callback=self._callback,
                finished_callback=self._finished,
            )
            self._stream.start()
        except self._sd.PortAudioError as problem:
            raise DeviceError(f"the microphone {self.name} cannot be opened ({problem}); is it in use?") from problem

    def _callback(self, data: np.ndarray, frames: int, at: Any, status: Any) -> None:
        block = Block(data[:, 0].copy(), self._beats.beat())
        try:
            self._queue.put_nowait(block)
        except queue.Full:
            with suppress(queue.Empty):
                self._queue.get_nowait()
            self._queue.put_nowait(block)

    def _finished(self) -> None:
        self._ended = True

    def read(self, *, timeout_s: float = 0.1) -> Block | DeviceLost | None:
        """The next block, None when there is none yet, DeviceLost when none has come for long."""
        self._read_s = time.monotonic()
        try:
            return self._queue.get(timeout=timeout_s)
        except queue.Empty:
            if self._ended:
                return DeviceLost(self.name, "the microphone stopped")
            if self._beats.stopped():
                return DeviceLost(self.name, f"no sound has come from the microphone for {LOST_AFTER_S:g} s")
            return None

    def flush(self) -> None:
        """Forget what came in while nobody listened, unless that was only a moment: the next word may have begun in it."""
        if time.monotonic() - self._read_s < AT_ONCE_S:
            return
        with suppress(queue.Empty):
            while True:
                self._queue.get_nowait()

    def close(self) -> None:
        close_stream(self._stream)


def close_stream(stream: Any, *, wait_s: float = 1.0) -> None:
    """Close a stream without waiting for a driver that no longer answers."""

    def close() -> None:
        with suppress(Exception):
            stream.abort(ignore_errors=True)
            stream.close(ignore_errors=True)

    closer = threading.Thread(target=close, name="close-stream", daemon=True)
    closer.start()
    closer.join(wait_s)


class _Job:
    """One sound on its way out."""

    def __init__(self, samples: np.ndarray) -> None:
        self.samples = samples
        self.out_at_s = 0.0
        self.handed = threading.Event()


class Loudspeaker:
    """Plays sounds on a stream that is always open, so that they begin at once; `stop` cuts the one that plays."""

    def __init__(self, device: str | int | None = None, *, wanted_hz: int = 22050) -> None:
        self._sd = sounddevice()
        number, self.name = find_device(device, output=True)
        self._job: _Job | None = None
        self._stopping = False
        self._beats = _Heartbeat()
        self._lost: DeviceLost | None = None
        try:
            self.rate_hz = _rate_for(self._sd, number, output=True, wanted_hz=wanted_hz)
            self._stream = self._sd.OutputStream(
                samplerate=self.rate_hz,
                device=number,
                channels=1,
                dtype="int16",
                blocksize=round(BLOCK_S * self.rate_hz),
                latency="low",
                callback=self._callback,
            )
            self._stream.start()
        except self._sd.PortAudioError as problem:
            raise DeviceError(f"the loudspeaker {self.name} cannot be opened ({problem}); is it in use?") from problem

    def play(self, sound: Sound) -> DeviceLost | None:
        """Play and return when the last sample is out; DeviceLost when the device takes no more."""
        if self._lost is not None:
            return self._lost
        job = _Job(resample(sound, self.rate_hz).samples)
        self._stopping, self._job = False, job
        while not job.handed.wait(0.1):
            if self._beats.stopped() or not self._stream.active:
                self._lost = DeviceLost(self.name, "the loudspeaker takes no more sound")
                return self._lost
        time.sleep(max(0.0, job.out_at_s - time.monotonic()))
        return None

    def stop(self) -> None:
        """Cut short what plays now."""
        self._stopping = True

    def _callback(self, data: np.ndarray, frames: int, at: Any, status: Any) -> None:
        now_s = self._beats.beat()
        data.fill(0)
        job = self._job
        if job is None:
            return
        part = job.samples[:0] if self._stopping else job.samples[:frames]
        data[: len(part), 0] = part
        job.samples = job.samples[len(part) :]
        if self._stopping or len(job.samples) == 0:
            delay_s = min(1.0, max(0.0, at.outputBufferDacTime - at.currentTime, self._stream.latency))
            job.out_at_s = now_s + delay_s + len(part) / self.rate_hz
            self._job = None
            job.handed.set()

    def close(self) -> None:
        close_stream(self._stream)
