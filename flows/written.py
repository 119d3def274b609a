"""What an author writes in a flow file, before parts are expanded and words filled in."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from flows.model import Ask, By, Look, Measure
from flows.sensors import Part


def _listed(value: Any) -> Any:
    """Words where a list is wanted: `one, two` is a list of two."""
    return [word.strip() for word in value.split(",")] if isinstance(value, str) else value


Words = Annotated[tuple[str, ...], BeforeValidator(_listed)]
KINDS = ("ask", "act", "look", "measure", "watch")


class WrittenAct(Part):
    """state: what the technician changes on the bench."""

    state: dict[str, str] = Field(default_factory=dict)


class WrittenWatch(Measure):
    """A reading to hold in view, and the places to move, or to wet, warm or cool."""

    places: Words
    by: By = "moving"


class WrittenStep(Part):
    """One step as written; exactly one of ask, act, look, measure, watch."""

    say: str = Field(min_length=1)
    long: str = ""
    why: str = ""
    cautions: Words = ()
    ask: Ask | None = None
    act: WrittenAct | None = None
    look: Look | None = None
    measure: Measure | None = None
    watch: WrittenWatch | None = None
    expect: dict[str, dict[str, Any]] | None = None
    outcomes: dict[str, str]
    doubts: dict[str, str] = Field(default_factory=dict)
    minutes: float = Field(default=0, ge=0)
    reach: Words = ()  # places to get at, besides those of the probe points
    passing: Words = Field(default=(), alias="pass")  # outcomes that pass when the step proves a repair

    @model_validator(mode="after")
    def _one_kind(self) -> "WrittenStep":
        given = [kind for kind in KINDS if getattr(self, kind) is not None]
        if len(given) != 1:
            found = " and ".join(given) if given else "none of them"
            raise ValueError(f"a step has exactly one of {', '.join(KINDS)}; this one has {found} | keep one of them")
        if self.measure is None and self.expect is not None:
            raise ValueError("only a step with 'measure' has 'expect' | take 'expect' out")
        if self.expect is not None and len(self.expect) != 1:
            raise ValueError("'expect' names exactly one window function | keep one")
        return self


class WrittenFinding(Part):
    """How the flow ends."""

    say: str = Field(min_length=1)
    do: str = ""
    blames: Words = ()
    proof: Words = ()
    status: Literal["found", "not_found", "cannot_decide"] = "found"


class Use(Part):
    """A shared part, put into this flow under a name of its own."""

    part: str
    exits: dict[str, str]
    given: dict[str, str] = Field(default={}, alias="with")


class WrittenFlow(Part):
    """A flow file."""

    flow: str
    title: str
    circuit: str
    codes: Words = ()
    start: str
    use: dict[str, Use] = Field(default_factory=dict)
    steps: dict[str, WrittenStep]
    findings: dict[str, WrittenFinding]
    closing: Words = ()


class WrittenPart(Part):
    """A shared part: steps with exits that the using flow connects. `$name` stands for what it is given."""

    part: str
    start: str
    exits: Words
    needs: Words = ()
    steps: dict[str, WrittenStep]
    findings: dict[str, WrittenFinding] = Field(default_factory=dict)
