"""Practice on a page: by plain forms, and by clicking probe points in a browser."""

import re
from collections.abc import Callable, Iterator
from typing import Any, cast

import httpx
import pytest
from starlette.types import ASGIApp

from flows.site import Site
from runner.practice.exercise import Exercise, PracticeError
from runner.practice.scoring import Best, BestOrder
from runner.web.app import make_app
from runner.web.practice import MOST, Desk, Room, section

Serve = Callable[[ASGIApp], httpx.Client]
SIGNAL, UNIT = "coolant_plug.coolant-signal", "unit.coolant-signal"


class Known:
    """A best order that is known at once."""

    def __init__(self, exercise: Exercise) -> None:
        self.classes = {exercise.hidden: frozenset({exercise.hidden})}

    def result(self, *, wait_s: float) -> Best:
        return Best(2.0, 3.0, False, "dc_voltage coolant_plug.coolant-signal battery.negative [key on]")


@pytest.fixture
def room() -> Room:
    return Room(machine="th2", meter="bench", site=Site(), best=lambda exercise: cast(BestOrder, Known(exercise)))


class Trainee:
    """Somebody at the page who sends its forms."""

    def __init__(self, client: httpx.Client) -> None:
        self.client, self.text = client, client.get("/practice").text

    def send(self, word: str, **fields: str) -> str:
        token = re.search(r'name="token" value="([0-9a-f]+)"', self.text)
        assert token is not None
        data = {**{name.replace("__", "-"): value for name, value in fields.items()}, "token": token[1]}
        self.text = self.client.post(f"/practice/{word}", data=data, follow_redirects=True).text
        return self.text


@pytest.fixture
def trainee(serve: Serve, room: Room) -> Iterator[Trainee]:
    yield Trainee(serve(make_app([section(room)])))


def only(room: Room) -> Desk:
    (desk,) = room._desks.values()
    return desk


def hide(trainee: Trainee, room: Room, fault: str) -> Desk:
    """An exercise with a fault that is known here."""
    trainee.send("start", flow="coolant-temperature")
    (key,) = room._desks
    desk = room.begin(key, "coolant-temperature", seed=3, fault=fault)
    trainee.text = trainee.client.get("/practice").text
    return desk


def test_an_exercise_by_plain_forms_to_its_debrief(trainee: Trainee, room: Room) -> None:
    hide(trainee, room, "coolant-signal-open")
    assert "Codes stored: P0118" in trainee.text
    off = {"state-coolant_plug": "out", "state-control_unit_plug": "out", "state-key": "off"}
    trainee.send("probe", red=SIGNAL, black=UNIT, quantity="resistance", **off)
    assert "What will it read?" in trainee.text
    trainee.send("make", predicted="OL", minded="on")
    assert "as you said, near enough" in trainee.text and ">OL<" in trainee.text
    trainee.send("name", fault="coolant-signal-open")
    assert "Right. The fault was coolant signal open." in trainee.text
    assert "Where the information was" in trainee.text and "Predictions near the reading: 1 of 1." in trainee.text
    trainee.send("leave")
    assert "Hide a fault" in trainee.text


def test_a_check_of_the_flow_can_be_chosen_and_put_back(trainee: Trainee, room: Room) -> None:
    desk = hide(trainee, room, "coolant-signal-open")
    volts = next(c.number for c in desk.exercise.choices if c.step.measure and c.step.measure.quantity == "dc_voltage")
    trainee.send("choose", number=str(volts))
    assert desk.exercise.pending is desk.exercise.choices[volts - 1].step
    trainee.send("make", do="back")
    assert desk.exercise.pending is None and not desk.exercise.done


def test_what_cannot_be_done_is_said_and_the_fault_is_not(trainee: Trainee, room: Room) -> None:
    desk = hide(trainee, room, "coolant-signal-open")
    trainee.send("probe", red=SIGNAL, black=UNIT, quantity="resistance", **{"state-key": "on"})
    assert "Key off first." in trainee.text and len(desk.exercise.refused) == 1
    trainee.send("probe", red="<script>alert(1)</script>", black=UNIT, quantity="dc_voltage")
    assert "<script>alert" not in trainee.text and "&lt;script&gt;" in trainee.text
    for fields in ({"number": "0"}, {"number": "-3"}, {"number": "²"}, {"number": "9" * 400}, {}):
        trainee.send("choose", **fields)
        assert "There is no check" in trainee.text
    volts = next(c.number for c in desk.exercise.choices if c.step.measure and c.step.measure.quantity == "dc_voltage")
    trainee.send("choose", number=str(volts))
    trainee.send("make", predicted="four kilos of volts")
    assert "is no reading" in trainee.text and not desk.exercise.done
    trainee.send("make", predicted="12 ohms")
    assert "volts" in trainee.text and not desk.exercise.done
    trainee.send("name", fault="no-such")
    assert "no fault" in trainee.text and desk.exercise.named is None
    assert "coolant-signal-open" not in trainee.text.replace('value="coolant-signal-open"', "")


def test_nothing_happens_without_an_exercise_or_a_token(trainee: Trainee, room: Room) -> None:
    for word in ("choose", "probe", "make", "name", "leave"):
        assert "Hide a fault" in trainee.send(word)
    assert trainee.client.post("/practice/start", data={"flow": "coolant-temperature"}).status_code == 403
    assert "There is no flow" in trainee.send("start", flow="../../etc/passwd")
    assert not room._desks


def test_two_trainees_do_not_see_each_other_and_old_exercises_go(room: Room) -> None:
    for number in range(MOST + 2):
        room._desks[str(number)] = room._desks.get("0") or room.begin("0", "coolant-temperature", seed=1)
    room.begin("last", "coolant-temperature", seed=2)
    assert len(room._desks) == MOST and room.of("0") is None and room.of("last") is not None
    with pytest.raises(PracticeError):
        room.begin("last", "no-such-flow")


def test_a_trainee_clicks_the_probe_points(browser: Any, serve: Serve, room: Room) -> None:
    client = serve(make_app([section(room)]))
    problems: list[str] = []
    page = browser.new_page()
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(str(client.base_url.join("/practice")))
    page.get_by_label("Circuit").select_option("coolant-temperature")
    page.get_by_role("button", name="Hide a fault").click()
    page.locator(f"[id='point-{SIGNAL}'] .reach").wait_for()
    page.wait_for_load_state()  # the page's script has run
    page.locator(f"[id='point-{SIGNAL}'] .reach").click()
    page.locator("[id='point-battery.negative']").focus()
    page.keyboard.press("Enter")
    assert page.locator(f"[id='point-{SIGNAL}'] .probe.red").is_visible()
    assert page.locator("[id='point-battery.negative'] .probe.black").is_visible()
    page.get_by_role("button", name="Probe here").click()
    page.get_by_label("What will it read?").fill("4.9 V")
    page.get_by_role("button", name="Show it").click()
    shown = page.locator(".made .reading").inner_text()  # waits for the page
    assert [made.shown for made in only(room).exercise.done] == [shown]
    page.locator("select[name=fault]").select_option(only(room).exercise.hidden)
    page.get_by_role("button", name="Name it").click()
    page.wait_for_selector("text=Where the information was", timeout=60_000)
    assert page.locator("h1").inner_text().startswith("Right.")
    page.close()
    assert not problems
