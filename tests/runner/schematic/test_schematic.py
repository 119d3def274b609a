"""Every flow's circuit as a schematic: all its points, each once, and no words upon words."""

from functools import cache
from itertools import combinations
from xml.etree import ElementTree

import pytest

from flows.circuits import CIRCUITS, variants
from flows.model import Flow
from flows.sheet import MachineSheet
from flows.source import load_flow, load_sheet, shipped_flows
from runner.schematic import Schematic, schematic_of
from runner.schematic.schematic import SIZES, points_read
from runner.schematic.sheet import WIDTH, Label

SVG = "{http://www.w3.org/2000/svg}"
WIDE = 0.535  # of a letter's height: what Noto Sans and DejaVu Sans take for these words, measured in Chromium


@cache
def sheet() -> MachineSheet:
    return load_sheet("th2")


@cache
def flow_of(name: str) -> Flow:
    return load_flow(name, sheet())


@cache
def drawn(flow: str) -> Schematic:
    read = flow_of(flow)
    return schematic_of(CIRCUITS[read.circuit](sheet()), wanted=points_read(read))


def box(label: Label) -> tuple[float, float, float, float]:
    size = SIZES[label.kind]
    width = len(label.text) * size * WIDE
    left = label.x - {"start": 0.0, "middle": width / 2, "end": width}[label.anchor]
    return left, label.y - size * 0.75, left + width, label.y + size * 0.2


def overlap(one: tuple[float, float, float, float], two: tuple[float, float, float, float]) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


@pytest.mark.parametrize("flow", shipped_flows())
def test_every_point_a_flow_reads_is_there_once(flow: str) -> None:
    made = drawn(flow)
    read = {p for step in flow_of(flow).steps.values() if (m := step.measure) for p in (m.red, m.black) if p}
    assert read and read <= set(made.points)
    ids = [each.get("id") for each in ElementTree.fromstring(made.svg(live=True)).iter() if each.get("id")]
    assert len(ids) == len(set(ids))
    assert {f"point-{name}" for name in read} <= set(ids)


@pytest.mark.parametrize("flow", shipped_flows())
def test_every_terminal_of_every_wire_is_a_point(flow: str) -> None:
    circuit = CIRCUITS[flow_of(flow).circuit](sheet())
    description = circuit.description
    terminals = {run.node(end) for run in description.runs for end in (0, 1)} | set(description.points)
    assert terminals & set(sheet().points) <= set(drawn(flow).points)


@pytest.mark.parametrize("flow", shipped_flows())
def test_no_two_labels_overlap_and_all_are_inside(flow: str) -> None:
    made = drawn(flow)
    for one, two in combinations(made.labels, 2):
        assert not overlap(box(one), box(two)), f"{one.text!r} and {two.text!r}"
    for label in made.labels:
        left, top, right, bottom = box(label)
        assert left >= 0 and right <= WIDTH + 2 and top >= 0 and bottom <= made.height, label.text


@pytest.mark.parametrize("flow", shipped_flows())
def test_points_can_be_told_apart_by_a_finger(flow: str) -> None:
    """Two points are at least two of their own diameters apart, and no label lies on one."""
    made = drawn(flow)
    for one, two in combinations(made.dots, 2):
        assert max(abs(one.x - two.x), abs(one.y - two.y)) >= 15, f"{one.name} and {two.name}"
    for dot in made.dots:
        round_about = (dot.x - 4, dot.y - 4, dot.x + 4, dot.y + 4)
        on = [label.text for label in made.labels if overlap(box(label), round_about)]
        assert not on, f"{dot.name} under {on}"


@pytest.mark.parametrize("flow", shipped_flows())
def test_a_page_with_a_strict_policy_takes_it(flow: str) -> None:
    """No style attribute, no style or script element, no address."""
    root = ElementTree.fromstring(drawn(flow).svg(live=True))
    for each in root.iter():
        assert each.tag in {SVG + tag for tag in ("svg", "g", "path", "circle", "rect", "text", "title")}
        assert not {name for name in each.attrib if name == "style" or name.startswith("on") or "href" in name}


def test_probes_are_told_by_colour_shape_and_letter() -> None:
    made = drawn("coolant-temperature")
    red, black = "coolant_plug.coolant-signal", "coolant_plug.coolant-ground"
    root = ElementTree.fromstring(made.svg(red=red, black=black))
    probes = {each.get("class"): each for each in root.iter(f"{SVG}g") if "probe" in each.get("class", "")}
    assert set(probes) == {"probe red", "probe black"}
    disc, square = probes["probe red"].find(f"{SVG}circle"), probes["probe black"].find(f"{SVG}rect")
    assert disc is not None and square is not None
    there = made.dot(red)
    assert there is not None and (float(disc.get("cx", "")), float(disc.get("cy", ""))) == (there.x, there.y)
    assert [each.findtext(f"{SVG}text") for each in probes.values()] == ["R", "B"]


def test_both_tips_on_one_point_are_both_seen() -> None:
    made = drawn("coolant-temperature")
    root = ElementTree.fromstring(made.svg(red="leads.tips", black="leads.tips"))
    texts = [each for each in root.iter(f"{SVG}text") if each.text in ("R", "B")]
    assert abs(float(texts[0].get("x", "")) - float(texts[1].get("x", ""))) >= 16


def test_a_point_that_is_not_drawn_gets_no_mark() -> None:
    assert drawn("coolant-temperature").marks(red="pedal_plug.pedal-one-signal", black=None) == ""


def test_names_from_a_sheet_are_escaped() -> None:
    wire = sheet().wires["coolant-signal"].model_copy(update={"colour": '<b onclick="x">&'})
    place = sheet().places["coolant_plug"].model_copy(update={"spoken": "<script>"})
    odd = sheet().model_copy(
        update={
            "wires": {**sheet().wires, "coolant-signal": wire},
            "places": {**sheet().places, "coolant_plug": place},
        }
    )
    text = schematic_of(CIRCUITS["coolant-temperature"](odd)).svg(live=True)
    ElementTree.fromstring(text)
    assert "<script>" not in text and "<b " not in text


@pytest.mark.parametrize("flow", shipped_flows())
def test_every_sheet_the_flow_is_tried_on_can_be_drawn(flow: str) -> None:
    circuit = flow_of(flow).circuit
    for _, other in variants(circuit, sheet()):
        assert ElementTree.fromstring(schematic_of(CIRCUITS[circuit](other)).svg())
