"""What is still suspected after the readings so far: said when asked for, recorded after each reading, never a branch."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from threading import Thread
from typing import TYPE_CHECKING, Any

from flows.circuits import CIRCUITS
from flows.judging import Reading
from runner.job import Job
from runner.record.session import Event

if TYPE_CHECKING:
    from flows.trial.suspects import Standing, Told, Weights  # imported when first wanted: it is a good part of a start

ENGINES = 12  # sampled engines a fault is put into; more sharpen the odds and cost time
NAMED = 6  # suspects that go on the record with their odds


@dataclass(frozen=True)
class Grounds:
    """What advice is worked out from; one for all sessions of a job on one machine, place and meter."""

    job: Job

    @cached_property
    def circuit(self) -> Any:
        """Worked out when first wanted: nobody waits for it before the first word."""
        return CIRCUITS[self.job.flow.circuit](self.job.sheet)

    @cached_property
    def weights(self) -> "Weights":
        from flows.trial.engines import engines_at
        from flows.trial.suspects import Weights

        engines = engines_at(self.job.site, ENGINES)
        return Weights(self.job.flow, self.circuit, engines=engines, meter=self.job.meter)

    @cached_property
    def paths(self) -> Mapping[str, tuple[str, ...]]:
        """The usual walk of each fault, to tell how many checks remain."""
        from flows.trial.paths import usual_paths
        from flows.trial.walk import Course

        return usual_paths(Course(self.job.flow, self.circuit, self.job.sheet, self.job.meter), self.job.site)


def grounds_for(job: Job) -> Grounds | None:
    """Grounds for a job, or None for a flow whose circuit is not known here."""
    return Grounds(job) if job.flow.circuit in CIRCUITS else None


class Advisor:
    """Listens to a session's events and keeps what was told; a watcher of its logbook."""

    def __init__(self, grounds: Grounds) -> None:
        self._grounds = grounds
        self._told: list[Event] = []  # what readings and answers came to
        self._ahead: Thread | None = None

    def look_ahead(self, step: str) -> None:
        """Work out what this step could read, while the tool speaks and the person measures."""
        self.rest()
        self._ahead = Thread(target=lambda: self._grounds.weights.look_ahead(step), name="suspects", daemon=True)
        self._ahead.start()

    def rest(self) -> None:
        """Wait for what is being worked out."""
        if self._ahead is not None:
            self._ahead.join()
            self._ahead = None

    def watch(self, event: Event) -> None:
        """Take in a reading or an answer; a repair begins with a clean sheet."""
        answered = event["type"] == "answered" and event["step"] in self._grounds.job.flow.steps
        if event["type"] == "measured" or answered:
            self._told.append(event)
        elif event["type"] == "proof_begun":
            self._told.clear()

    def standing(self) -> "Standing":
        """Odds of every fault after what was told."""
        self.rest()
        return self._grounds.weights.standing([_told(event) for event in self._told])

    def explains(self, step: str, reading: Reading) -> bool:
        """Whether a fault that is still suspected, or a sound engine, could give this reading."""
        from flows.trial.suspects import Told

        self.rest()
        new = Told(step, reading.value, reading.high, reading.over_range)
        return self._grounds.weights.explains([_told(event) for event in self._told], new)

    def suspects(self) -> str:
        """The standing in a sentence."""
        return self.standing().sentence

    def how_many_left(self, step: str) -> str:
        """About how many checks remain, in a sentence."""
        from flows.trial.suspects import checks_left

        count = checks_left(self._grounds.job.flow, self.standing().odds, step, paths=self._grounds.paths)
        whole = max(1, round(count))
        return f"About {whole} check{'s' if whole > 1 else ''} left."


def _told(event: Event) -> "Told":
    from flows.trial.suspects import Told

    if event["type"] == "measured":
        return Told(event["step"], event["value"], event["high"], event["over_range"])
    return Told(event["step"], outcome=event["outcome"])


def as_facts(standing: "Standing") -> dict[str, Any]:
    """The standing for the record: the likeliest with their odds, and how many are left."""
    named = {name: round(share, 3) for name, share in list(standing.odds.items())[:NAMED] if share >= 0.001}
    return {"odds": named, "left": len(standing.left), "contradicted_by": standing.contradicted_by}
