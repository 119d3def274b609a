"""Text -> sound with pyttsx3 and espeak-ng, in a child process that is started again when it dies."""

import json
import os
import re
import selectors
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from hashlib import sha256
from pathlib import Path

from speech.phrasing import speakable, words_in
from speech.places import cache_folder, write_whole
from speech.ports import SpeechError
from speech.sound import Sound, SoundError, read_wav, read_wav_bytes, shorten_pauses, trim_silence, wav_bytes

CHILD = Path(__file__).with_name("pyttsx3_child.py")
START_S = 15.0
TRIES = 3
REMEMBERED = 32  # sentences in memory; the folder and the playing voice keep more
KEPT_FILES = 2000
PAUSE_S, USUAL_WPM = 0.26, 165
"""The longest pause between sentences at the usual rate; espeak-ng makes 0.33 to 0.38 s. Between turns people leave 0.2 s."""

ENGLISH = ("en-us", "en-gb", "en-gb-scotland", "en-gb-x-rp", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-029")
VARIANTS = ("", "+f1", "+f2", "+f3", "+f4", "+m1", "+m3", "+m7", "+klatt2")


class VoiceError(SpeechError):
    """No voice, or a voice that makes no sound."""


class NoVoiceError(VoiceError):
    """A voice there is not, or an engine that does not start: trying again is no use."""


def voices() -> tuple[str, ...]:
    """Names of distinct English voices that a Synthesiser can take: accents, then accents with a variant."""
    return tuple(f"{accent}{variant}" for variant in VARIANTS for accent in ENGLISH)


class Synthesiser:
    """One voice; its settings hold for its life, so another rate is another Synthesiser."""

    def __init__(
        self, voice: str = "en-us", rate_wpm: int = USUAL_WPM, volume: float = 1.0, *, cache: Path | bool | None = True
    ) -> None:
        """cache: a folder for finished prompts, True for the user's cache folder, False or None for memory only."""
        if not 60 <= rate_wpm <= 450:
            raise VoiceError(f"a rate of {rate_wpm} words a minute is no speech; use 60 to 450")
        self.voice, self.rate_wpm, self.volume = voice, rate_wpm, min(1.0, max(0.0, volume))
        self._settings = json.dumps({"voice": voice, "rate_wpm": rate_wpm, "volume": self.volume})
        self._cache = cache_folder("prompts") if cache is True else (cache or None)
        self._remembered: dict[str, Sound] = {}
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._child: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()
        self._closed = False
        self._count = 0

    @property
    def process_id(self) -> int | None:
        """The child process, None before the first sentence that had to be made."""
        return self._child.pid if self._child is not None else None

    def at_rate(self, rate_wpm: int) -> "Synthesiser":
        """The same voice at another rate, in place of this one, which is closed."""
        self.close()
        return Synthesiser(self.voice, rate_wpm, self.volume, cache=self._cache)

    def start(self) -> "Synthesiser":
        """Start the child process now rather than at the first sentence."""
        with self._lock:
            self._alive()
        return self

    def synthesise(self, text: str) -> Sound:
        """The text as sound, without silence at its ends. Raises VoiceError when no sound can be made."""
        spoken = _as_espeak_says_it(speakable(text))
        if not words_in(spoken):
            raise VoiceError(f"nothing to say in {text!r}; give it words")
        with self._lock:
            if self._closed:
                raise VoiceError("this voice has been closed; make another one")
            sound = self._remembered.get(spoken) or self._from_disk(spoken)
            if sound is None:
                sound = trim_silence(self._made(spoken), below_peak_db=50.0)
                sound = shorten_pauses(sound, longest_s=PAUSE_S * USUAL_WPM / self.rate_wpm)
                self._to_disk(spoken, sound)
            if len(self._remembered) >= REMEMBERED:
                self._remembered.pop(next(iter(self._remembered)))
            self._remembered[spoken] = sound
            return sound

    def _made(self, spoken: str) -> Sound:
        why = ""
        for _ in range(TRIES):
            try:
                return self._ask(spoken)
            except (OSError, SoundError, VoiceError, TimeoutError) as problem:
                why = str(problem)
                self._stop()
                if isinstance(problem, NoVoiceError):
                    raise
        raise VoiceError(f"the voice {self.voice} made no sound {TRIES} times ({why}); try another voice")

    def _ask(self, spoken: str) -> Sound:
        child = self._alive()
        self._count += 1
        assert self._folder is not None and child.stdin is not None
        file = Path(self._folder.name) / f"{self._count}.wav"
        child.stdin.write(json.dumps({"text": spoken, "file": str(file)}).encode() + b"\n")
        child.stdin.flush()
        self._answer(child, timeout_s=5.0 + 0.01 * len(spoken))
        sound = read_wav(file)
        file.unlink()
        shortest_s = 0.1 * len(words_in(spoken)) * USUAL_WPM / self.rate_wpm
        if sound.duration_s < max(0.1, 0.5 * shortest_s):
            raise VoiceError(f"{sound.duration_s:.2f} s of sound for {len(words_in(spoken))} words")
        return sound

    def _alive(self) -> "subprocess.Popen[bytes]":
        if self._child is not None and self._child.poll() is None:
            return self._child
        self._stop()
        self._folder = tempfile.TemporaryDirectory(prefix="leadsman-voice-")
        self._child = _start_child(self._settings, Path(self._folder.name))
        self._answer(self._child, timeout_s=START_S)
        return self._child

    def _answer(self, child: "subprocess.Popen[bytes]", *, timeout_s: float) -> None:
        facts = _read_answer(child, timeout_s=timeout_s)
        if "error" in facts:
            raise NoVoiceError(f"voice {self.voice!r}: {facts['error']}; one of {', '.join(ENGLISH)} can be had")

    def _stop(self) -> None:
        if self._child is not None:
            _end_child(self._child)
            self._child = None
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def close(self) -> None:
        """End the child process; may be called twice."""
        with self._lock:
            self._closed = True
            self._stop()

    def __enter__(self) -> "Synthesiser":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _path(self, spoken: str) -> Path | None:
        if self._cache is None:
            return None
        return self._cache / (sha256(f"2|{self._settings}|{spoken}".encode()).hexdigest()[:32] + ".wav")

    def _from_disk(self, spoken: str) -> Sound | None:
        path = self._path(spoken)
        if path is None:
            return None
        try:
            return read_wav_bytes(path.read_bytes(), name=str(path))
        except (OSError, SoundError):
            return None

    def _to_disk(self, spoken: str, sound: Sound) -> None:
        path = self._path(spoken)
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
            if self._count % 200 == 1:
                _prune(path.parent)
            write_whole(path, wav_bytes(sound))


def _as_espeak_says_it(text: str) -> str:
    """espeak-ng takes "psi" for the Greek letter and says "sigh"."""
    return re.sub(r"\bpsi\b", "P S I", text, flags=re.IGNORECASE)


def _start_child(settings: str, folder: Path) -> "subprocess.Popen[bytes]":
    # -P: the folder of the script stays off the path, or speech/numbers.py would hide Python's own
    with open(folder / "errors.txt", "wb") as errors:
        return subprocess.Popen(
            [sys.executable, "-P", str(CHILD), settings],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            cwd=folder,
            env={**os.environ, "PYTHONWARNINGS": "ignore"},
        )


def _read_answer(child: "subprocess.Popen[bytes]", *, timeout_s: float) -> dict[str, object]:
    assert child.stdout is not None
    with selectors.DefaultSelector() as selector:
        selector.register(child.stdout, selectors.EVENT_READ)
        if not selector.select(timeout_s):
            raise TimeoutError(f"no answer from the voice's process in {timeout_s:.0f} s")
    line = child.stdout.readline()
    if not line:
        raise VoiceError(f"the voice's process ended (exit status {child.wait(5)})")
    facts: dict[str, object] = json.loads(line)
    return facts


def _end_child(child: "subprocess.Popen[bytes]") -> None:
    for pipe in (child.stdin, child.stdout):
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
    try:
        child.wait(1.0)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def _prune(folder: Path) -> None:
    files = list(folder.glob("*.wav"))
    if len(files) <= KEPT_FILES:
        return
    with suppress(OSError):
        for file in sorted(files, key=lambda one: one.stat().st_mtime)[: len(files) - KEPT_FILES // 2]:
            file.unlink(missing_ok=True)
