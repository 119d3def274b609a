"""Ears and a voice for tests: a script instead of a microphone, a memory instead of a loudspeaker."""

from speech.ports import DeviceLost, Heard, Listened, ListeningKind, Said
from speech.ports import Silence as SilenceResult


class ScriptedEars:
    """Ears that hear a written script; an empty string in it is silence, a ready-made result is given as it is."""

    def __init__(self, *script: "str | Listened", confidence: float = 1.0) -> None:
        self._script = list(script)
        self._confidence = confidence
        self.listened: list[str] = []
        self.closed = False

    def listen(self, kind: ListeningKind, *, timeout_s: float) -> Listened:
        assert not self.closed, f"listening for {kind} after close"
        assert self._script, f"script ran out while listening for {kind}"
        self.listened.append(kind)
        item = self._script.pop(0)
        if not isinstance(item, str):
            return item
        return Heard(item, confidence=self._confidence) if item else SilenceResult(timeout_s)

    @property
    def left(self) -> "tuple[str | Listened, ...]":
        """What nobody has listened to yet."""
        return tuple(self._script)

    def close(self) -> None:
        self.closed = True


class QuietVoice:
    """A voice that remembers what it was told to say; `lost_at` makes the loudspeaker vanish at that sentence."""

    def __init__(self, *, lost_at: int | None = None) -> None:
        self.said: list[str] = []
        self.rate_wpm = 165
        self.volume = 1.0
        self.closed = False
        self._lost_at = lost_at

    def say(self, text: str) -> Said | DeviceLost:
        assert not self.closed, f"asked to say {text!r} after close"
        if self._lost_at is not None and len(self.said) >= self._lost_at:
            return DeviceLost("loudspeaker", "the script took it away")
        self.said.append(text)
        return Said(60.0 * len(text.split()) / self.rate_wpm)

    def set_rate(self, wpm: int) -> None:
        self.rate_wpm = wpm

    def set_volume(self, volume: float) -> None:
        self.volume = volume

    def close(self) -> None:
        self.closed = True
