"""What a follower sees of a run, folded from its events: pure, one event after the other, nothing of it steers anything."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from flows.trial.suspects import HEALTHY, POSSIBLE, in_words
from runner.record.session import Event
from runner.report.page import suspect_words
from runner.report.readings import gauge_of, value_of
from runner.report.story import OUTCOME_WORDS, first_sentence, title_of

KEPT = 200  # sentences whose sound can still be asked for
LISTENING = {
    "set": "“set”, when it is done",
    "clear": "“clear”, when everybody is clear",
    "swap": "“set”, when the leads are swapped",
    "reading": "the reading, with its unit",
    "again": "the same reading once more",
    "acknowledge": "“affirm”",
    "look": "“fine” or “bad”",
    "watch": "“steady” or “moved”",
    "movement": "“steady” or “moved”",
    "codes": "the codes, or “none”",
    "initials": "two initials",
    "choice": "one of the words named",
    "yes_no": "“affirm” or “no”",
    "right": "“affirm”, or the right value",
}


@dataclass(frozen=True)
class Suspect:
    """A fault still named, or struck out; odds in words."""

    words: str
    odds: str
    out: bool


@dataclass(frozen=True)
class Followed:
    """Where a run stands, as a page shows it."""

    title: str = ""
    machine: str = ""
    step: str = ""
    heading: str = ""  # the step in a few words
    sentence: str = ""  # what was said last
    number: int = 0  # of that sentence: the sequence of its event
    caution: bool = False
    listening: str = ""
    heard: str = ""
    red: str | None = None
    black: str | None = None
    measured: Mapping[str, Any] = field(default_factory=dict)
    judged: Mapping[str, Any] = field(default_factory=dict)
    odds: Mapping[str, float] = field(default_factory=dict)
    named: tuple[str, ...] = ()  # every suspect that was named once, in that order
    possible: int | None = None
    most: int = 0  # the greatest number that were possible
    contradicted: bool = False
    found: Mapping[str, Any] = field(default_factory=dict)
    status: str = ""
    sentences: Mapping[int, str] = field(default_factory=dict)  # number -> text, of the last ones

    def after(self, event: Event) -> "Followed":
        """The same after one more event; a kind it does not know changes nothing."""
        take = _TAKES.get(str(event.get("type")))
        return take(self, event) if take else self

    @property
    def value(self) -> str:
        return value_of(self.measured, self.judged)

    @property
    def gauge(self) -> Any:
        return gauge_of(self.measured, self.judged)

    @property
    def outcome(self) -> str:
        name = str(self.judged.get("outcome", ""))
        return OUTCOME_WORDS.get(name, title_of(name).lower()) if name else ""

    @property
    def left(self) -> tuple[str, ...]:
        """Those named now that are still possible, the likeliest first."""
        return tuple(name for name, share in self.odds.items() if share >= POSSIBLE)

    @property
    def more(self) -> int:
        """How many are possible that the record does not name: it holds the likeliest only."""
        return max(0, (self.possible or 0) - len(self.left))

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """Those named now; then those named before, struck out, once it is known of each that it is out."""
        here = [Suspect(_words(name), in_words(self.odds[name]), out=False) for name in self.left]
        gone = () if self.more or self.contradicted else [name for name in self.named if name not in self.left]
        return (*here, *(Suspect(_words(name), "", out=True) for name in gone))


def _words(name: str) -> str:
    return suspect_words(name)[:1].upper() + suspect_words(name)[1:] if name != HEALTHY else "A sound engine"


def _opened(now: Followed, event: Event) -> Followed:
    title = str(event.get("title") or title_of(str(event.get("flow", ""))))
    return replace(now, title=title, machine=str(event.get("machine", "")))


def _asked(now: Followed, event: Event) -> Followed:
    step, want = str(event.get("step") or ""), str(event.get("want", ""))
    text = str(event.get("text", ""))
    fresh = step != now.step
    caution = want == "acknowledge"
    heading = now.heading
    if fresh or (not now.heading and not caution):
        heading = "" if caution else first_sentence(str(event.get("about") or text)).rstrip(".:")
    made = replace(
        now, step=step, heading=heading, caution=caution, listening=LISTENING.get(want, "an answer"), heard=""
    )
    if fresh:
        made = replace(made, measured={}, judged={})
    if event.get("red") or event.get("black"):
        made = replace(made, red=event.get("red"), black=event.get("black"))
    return made


def _said(now: Followed, event: Event) -> Followed:
    number, text = int(event.get("sequence", now.number + 1)), str(event.get("text", ""))
    kept = dict([*now.sentences.items(), (number, text)][-KEPT:])
    return replace(now, sentence=text, number=number, sentences=kept)


def _heard(now: Followed, event: Event) -> Followed:
    return replace(now, heard=f"“{event.get('words', '')}”")


def _unheard(now: Followed, event: Event) -> Followed:
    if event.get("why") == "silence":
        return now
    return replace(now, heard="not understood")


def _bench(now: Followed, event: Event) -> Followed:
    bench = event.get("bench") or {}
    return replace(now, red=bench.get("red"), black=bench.get("black"))


def _measured(now: Followed, event: Event) -> Followed:
    return replace(now, measured=event, judged={}, listening="")


def _judged(now: Followed, event: Event) -> Followed:
    return replace(now, judged=event)


def _suspects(now: Followed, event: Event) -> Followed:
    odds = {str(name): float(share) for name, share in (event.get("odds") or {}).items()}
    here = [name for name, share in odds.items() if share >= POSSIBLE]
    contradicted = bool(event.get("contradicted_by"))
    count = 0 if contradicted else max(int(event.get("left") or 0), len(here))
    named = tuple(dict.fromkeys((*now.named, *here)))
    return replace(now, odds=odds, named=named, possible=count, most=max(now.most, count), contradicted=contradicted)


def _found(now: Followed, event: Event) -> Followed:
    return replace(now, found=event)


def _closed(now: Followed, event: Event) -> Followed:
    return replace(now, status=str(event.get("status", "")), listening="")


def _proof_begun(now: Followed, event: Event) -> Followed:
    return replace(now, odds={}, named=(), possible=None, most=0, status="", measured={}, judged={})


_TAKES: Mapping[str, Callable[[Followed, Event], Followed]] = {
    "opened": _opened,
    "asked": _asked,
    "said": _said,
    "read_back": _said,
    "heard": _heard,
    "unheard": _unheard,
    "bench": _bench,
    "measured": _measured,
    "judged": _judged,
    "suspects": _suspects,
    "found": _found,
    "closed": _closed,
    "proof_begun": _proof_begun,
}
