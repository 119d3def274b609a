"""The real microphone and loudspeaker, by sounddevice; a device that vanishes is a result, never a hang."""

import queue
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from speech.ports import DeviceLost, SpeechError
from speech.sound import Sound, resample

BLOCK_S = 0.02
LOST_AFTER_S = 1.5
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


class MicrophoneSource:
    """Blocks of 20 ms from a microphone, oldest dropped when nobody reads for four seconds."""

    def __init__(self, device: str | int | None = None, *, wanted_hz: int = 16000) -> None:
        self._sd = sounddevice()
        number, self.name = find_device(device, output=False)
        self._queue: queue.Queue[Block] = queue.Queue(maxsize=200)
        self._last_s = time.monotonic()
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
        now_s = time.monotonic()
        self._last_s = now_s
        block = Block(data[:, 0].copy(), now_s)
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
        try:
            return self._queue.get(timeout=timeout_s)
        except queue.Empty:
            if self._ended:
                return DeviceLost(self.name, "the microphone stopped")
            if time.monotonic() - self._last_s > LOST_AFTER_S:
                return DeviceLost(self.name, f"no sound has come from the microphone for {LOST_AFTER_S:g} s")
            return None

    def flush(self) -> None:
        """Forget what came in while nobody listened."""
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


class Loudspeaker:
    """Plays sounds in blocks of 20 ms; `stop` cuts the one that plays."""

    def __init__(self, device: str | int | None = None, *, wanted_hz: int = 22050) -> None:
        self._sd = sounddevice()
        number, self.name = find_device(device, output=True)
        self._stopping = threading.Event()
        self._jobs: queue.Queue[tuple[Sound, threading.Event, list[str]] | None] = queue.Queue()
        try:
            self.rate_hz = _rate_for(self._sd, number, output=True, wanted_hz=wanted_hz)
            self._stream = self._sd.OutputStream(
                samplerate=self.rate_hz, device=number, channels=1, dtype="int16", latency="low"
            )
        except self._sd.PortAudioError as problem:
            raise DeviceError(f"the loudspeaker {self.name} cannot be opened ({problem}); is it in use?") from problem
        self._lost: DeviceLost | None = None
        self._thread = threading.Thread(target=self._run, name="player", daemon=True)
        self._thread.start()

    def play(self, sound: Sound) -> DeviceLost | None:
        """Play and return when the last sample is out; DeviceLost when the device does not take it."""
        if self._lost is not None:
            return self._lost
        ready, problems = threading.Event(), list[str]()
        self._stopping.clear()
        self._jobs.put((resample(sound, self.rate_hz), ready, problems))
        if not ready.wait(sound.duration_s + LOST_AFTER_S):
            problems.append("the loudspeaker takes no more sound")
        if problems:
            self._lost = DeviceLost(self.name, problems[0])
        return self._lost

    def stop(self) -> None:
        """Cut short what plays now."""
        self._stopping.set()

    def _run(self) -> None:
        while (job := self._jobs.get()) is not None:
            sound, ready, problems = job
            try:
                self._write(sound.samples)
            except Exception as problem:  # whatever the driver raises, the device is lost
                problems.append(str(problem))
            ready.set()

    def _write(self, samples: np.ndarray) -> None:
        size = round(BLOCK_S * self.rate_hz)
        self._stream.start()
        for start in range(0, len(samples), size):
            if self._stopping.is_set():
                self._stream.abort()
                return
            self._stream.write(samples[start : start + size].reshape(-1, 1))
        self._stream.stop()  # returns when the last sample has been played

    def close(self) -> None:
        self._jobs.put(None)
        self._stopping.set()
        self._thread.join(1.0)
        close_stream(self._stream)
