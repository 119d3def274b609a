"""Whether the sound of what is called out may be kept: asked aloud, answered aloud, and nothing kept before."""

from dataclasses import dataclass
from typing import Any

from runner.errors import GoBack
from runner.record.logbook import Logbook
from runner.record.sounds import SoundStore
from runner.talk.asking import Asker, Question
from runner.talk.line import Keep, Line
from speech.sound import Sound

QUESTION = "May I keep the sound of your call-outs for {days} days? Affirm, or no."
WHY = "So that a doubtful reading can be heard again. Without it the words are kept, and no sound."
KEPT = "Sound is kept."
NOT_KEPT = "No sound is kept."
_ANSWERS = ("yes", "set", "no", "cannot")


@dataclass(frozen=True)
class Sounds:
    """Asks one technician, and keeps from then on what they call out; `store` None keeps nothing and asks nothing."""

    line: Line
    logbook: Logbook
    store: SoundStore | None
    agreed: bool | None = None  # what was answered before the session was taken up again
    days: int = 90  # for how long it is asked to be kept

    def ask_once(self, asker: Asker) -> None:
        """Ask, unless this session has its answer already. Raises StopTest."""
        if self.agreed is None:
            self.ask(asker)
        elif self.agreed and self.store is not None:
            self.line.keep = kept_in(self.store)

    def ask(self, asker: Asker) -> None:
        """Ask, put the answer on the record, and keep sound from here on when it is yes. Raises StopTest."""
        if self.store is None:
            return
        given = self._answer(asker) in ("yes", "set")
        self.logbook.write("sound_consent", given=given, days=self.days)
        self.line.say(KEPT if given else NOT_KEPT)
        self.line.keep = kept_in(self.store) if given else None

    def _answer(self, asker: Asker) -> str:
        text = QUESTION.format(days=self.days)
        question = Question(text, "consent", "yes_no", long=text, why=WHY)
        while True:
            try:
                return asker.ask(question, lambda heard, command: command if command in _ANSWERS else None)
            except GoBack:
                continue  # there is nothing before it


def kept_in(store: SoundStore) -> Keep:
    """Keeps sounds in a store. A disk that takes no more must not stop a test: the event then says what was lost."""
    store.ready()

    def keep(sound: Sound) -> dict[str, Any]:
        try:
            return store.keep(sound)
        except OSError as error:
            return {"lost": error.strerror or str(error), "seconds": round(sound.duration_s, 2)}

    return keep
