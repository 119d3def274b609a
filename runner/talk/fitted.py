"""Who is there is heard as the ears were fitted to them; everybody else as the model was made."""

from collections.abc import Callable
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Protocol

from runner.record.session import Event
from speech.fitting.kept import fitted_model, fitted_to
from speech.ports import ListeningKind

FOLDER = "ears"


class Tuned(Protocol):
    """A recogniser whose model may be exchanged."""

    model: Path
    general: bool

    def use(self, model: Path) -> None: ...

    def load(self, kind: ListeningKind) -> object: ...


def file_of(folder: Path, who: str, device: str) -> Path:
    """Where the fit of this person at this microphone lies in a bay's folder."""
    return folder / FOLDER / f"{sha256(f'{who} at {device}'.encode()).hexdigest()[:20]}.npz"


def files_of(folder: Path, who: str) -> list[Path]:
    """Every fit to this person in a bay's folder, whatever the microphone."""
    return [file for file in sorted((folder / FOLDER).glob("*.npz")) if fitted_to(file) == who]


class FittedEars:
    """Watches a session: when the technician says who is there, the ears become theirs."""

    def __init__(self, folder: Path) -> None:
        """folder: of the bay."""
        self._folder = folder
        self.who = ""  # initials of who is there
        self.told = ""  # whose ears they are now, "" for nobody's
        self.at: tuple[Tuned, str] | None = None  # the recogniser that may be exchanged, and its microphone
        self._made: Path | None = None
        self._aside: set[str] = set()
        self._apply: Callable[[str], None] = lambda who: None
        self.tell: Callable[[str], object] = lambda who: (
            None
        )  # called with whose ears they are from now on, "" for nobody's

    def watch(self, event: Event) -> None:
        """Take in an event of the session's logbook."""
        if (who := initials_in(event)) is not None:
            self.is_there(who)

    def is_there(self, who: str) -> None:
        """These initials, "" for nobody known, are at the microphone from now on."""
        self.who = who
        self._apply(who)

    def set_aside(self) -> None:
        """The fit to who is there is of no use: heard as the model was made, for as long as this lasts."""
        self._aside.add(self.who)
        self._apply(self.who)

    def as_made(self) -> None:
        """Heard as the model was made, and nobody is told: for what is no part of the session any more."""
        if self.at is not None and self._made is not None:
            self.at[0].use(self._made)

    def attach(self, recogniser: Tuned, device: str) -> None:
        """The recogniser that listens from now on, and the microphone it listens to."""
        if recogniser.general:
            return
        made = self._made = recogniser.model
        self.at = recogniser, device

        def apply(who: str) -> None:
            with suppress(OSError):  # no room for the folder: heard as the model was made
                found = fitted_model(file_of(self._folder, who, device), model=made) if self._wanted(who) else None
                recogniser.use(found or made)
                if (whose := who if found else "") != self.told:
                    self.told = whose
                    self.tell(whose)

        self._apply = apply
        if self.who:
            apply(self.who)

    def _wanted(self, who: str) -> bool:
        return bool(who) and who not in self._aside


def initials_in(event: Event) -> str | None:
    """Who is there from this event on, "" when they would not say; None when it tells nothing of that."""
    if event["type"] == "handed_over":
        return str(event.get("to") or "")
    if event["type"] == "answered" and event.get("store") == "who":
        return str(event["answer"]) if event["outcome"] == "answered" else ""
    return None
