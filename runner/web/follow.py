"""The page beside the bench: what is asked, where the probes go, what was read and what is left; it can only be looked at."""

import asyncio
import json
from collections.abc import AsyncIterator
from threading import Lock
from typing import Protocol

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from flows.circuits import CIRCUITS
from flows.model import Flow, FlowError
from flows.source import load_flow, load_sheet
from runner.record.session import Event
from runner.schematic import Schematic, schematic_of
from runner.schematic.schematic import points_read
from runner.web.follow_fold import Followed
from runner.web.paper import page, template_of
from runner.web.sections import Page, Role, Section
from speech.sound import Sound, wav_bytes

LEAST_APART_S = 0.1  # between two pictures sent to one follower; the latest is always sent
BEAT_S = 15.0  # a sign of life, so that a lost connection is noticed
REGIONS = ("now", "reading", "why", "suspects", "end")


class Speaker(Protocol):
    """What makes a sentence sound; a speech.pyttsx3_voice.Synthesiser."""

    def synthesise(self, text: str) -> Sound:
        """The text as sound."""


class Run:
    """One run as its followers see it. Events come in from any thread; pages are made in the server's loop."""

    def __init__(self, speaker: Speaker | None = None) -> None:
        self._speaker = speaker
        self._lock = Lock()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._changed: asyncio.Event | None = None
        self.state = Followed()
        self.version = 0
        self.over = False
        self.flow: Flow | None = None
        self.schematic: Schematic | None = None
        self._message: tuple[int, bytes] = (-1, b"")

    def take(self, event: Event) -> None:
        """One more event of the run."""
        if event.get("type") == "opened":
            self._open(event)
        with self._lock:
            self.state = self.state.after(event)
            self.version += 1
        self._tell()

    def end(self) -> None:
        """Nothing more comes."""
        self.over = True
        with self._lock:
            self.version += 1
        self._tell()

    def _open(self, event: Event) -> None:
        try:
            sheet = load_sheet(str(event["machine_file"]))
            self.flow = load_flow(str(event["flow"]), sheet)
        except (FlowError, KeyError, OSError):
            return  # no picture and no reasons then; what is said is told all the same
        if self.flow.circuit in CIRCUITS:
            self.schematic = schematic_of(CIRCUITS[self.flow.circuit](sheet), wanted=points_read(self.flow))

    def _tell(self) -> None:
        if self._loop is not None and self._changed is not None:
            self._loop.call_soon_threadsafe(self._changed.set)

    @property
    def why(self) -> str:
        """The reason of the step that is being done."""
        step = self.flow.steps.get(self.state.step) if self.flow else None
        return step.why if step else ""

    def regions(self) -> dict[str, str]:
        """The parts of the page that change, as HTML."""
        module = template_of("follow_parts.html").make_module({"run": self, "state": self.state})
        return {name: str(getattr(module, f"part_{name}")()) for name in REGIONS}

    def message(self) -> bytes:
        """Everything that changes, as one event of the stream; made once for all followers."""
        version = self.version
        if self._message[0] != version:
            state = self.state
            facts = {
                "title": state.title,
                "regions": self.regions(),
                "red": state.red,
                "black": state.black,
                "number": state.number,
                "over": self.over,
            }
            self._message = version, f"data: {json.dumps(facts)}\n\n".encode()
        return self._message[1]

    async def messages(self) -> AsyncIterator[bytes]:
        """The picture now, and again whenever something changed."""
        self._loop = asyncio.get_running_loop()
        self._changed = self._changed or asyncio.Event()
        sent = -1
        while True:
            if sent != self.version:
                sent = self.version
                yield self.message()
                if self.over:
                    return
                await asyncio.sleep(LEAST_APART_S)
                continue
            self._changed.clear()
            try:
                await asyncio.wait_for(self._changed.wait(), BEAT_S)
            except TimeoutError:
                yield b": still here\n\n"

    def sound_of(self, number: int) -> bytes | None:
        """A sentence as a WAV file; None when there is no such sentence, or no voice."""
        text = self.state.sentences.get(number)
        if text is None or self._speaker is None:
            return None
        return wav_bytes(self._speaker.synthesise(text))


def section(run: Run) -> Section:
    """The pages of one run."""
    return Section(
        pages=(
            Page("/", show, least=Role.TRAINEE),
            Page("/follow", show, least=Role.TRAINEE),
            Page("/follow/events", stream, least=Role.TRAINEE),
            Page("/follow/sentences/{number:int}.wav", sentence, least=Role.TRAINEE),
        ),
        menu=(("Follow", "/follow", Role.TRAINEE),),
        state={"follow": run},
    )


def show(request: Request) -> Response:
    """The page as it stands now; its script keeps it up to date, and without script it can be loaded again."""
    run: Run = request.app.state.follow
    picture = run.schematic.svg(live=True) if run.schematic else ""
    return page(request, "follow.html", run=run, state=run.state, regions=run.regions(), picture=picture)


async def stream(request: Request) -> Response:
    """What changes, as server-sent events."""
    run: Run = request.app.state.follow
    return StreamingResponse(run.messages(), media_type="text/event-stream", headers={"x-accel-buffering": "no"})


def sentence(request: Request) -> Response:
    """The sound of a sentence of this run, by its number: no other text can be had."""
    run: Run = request.app.state.follow
    sound = run.sound_of(int(request.path_params["number"]))
    if sound is None:
        raise HTTPException(404, "There is no such sentence.")
    return Response(sound, media_type="audio/wav")
