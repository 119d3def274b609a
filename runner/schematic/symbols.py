"""The symbols and lines of a schematic, through schemdraw; the only module that knows it. Coordinates in pixels, y down."""

import re
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from xml.etree import ElementTree

import schemdraw
from schemdraw import elements

PER_UNIT = 36.0  # pixels of schemdraw's SVG for one of its units
BODY = 28.0  # length in pixels of a symbol between its leads
LINE_WIDTH = 1.5
NAMESPACE = "{http://www.w3.org/2000/svg}"
TWO_ENDS = {
    "resistor": elements.Resistor,
    "thermistor": elements.Thermistor,
    "coil": elements.Inductor,
    "motor": elements.Motor,
    "fuse": elements.Fuse,
    "switch": elements.Switch,
    "cell": elements.BatteryCell,
    "battery": elements.Battery,
    "diode": elements.Diode,
    "line": elements.Line,
}
_ONE_AT_A_TIME = threading.Lock()  # schemdraw keeps the drawing in progress in a global


@dataclass(frozen=True)
class Stroke:
    """A symbol from one point to another. kind: of TWO_ENDS, or `ground` (stands at its first point), `arrow`, `box`."""

    kind: str
    start: tuple[float, float]
    end: tuple[float, float]


def drawn(strokes: Iterable[Stroke]) -> str:
    """SVG elements of these strokes, without style attributes (a page's policy may refuse those)."""
    with _ONE_AT_A_TIME:
        drawing = schemdraw.Drawing(canvas="svg", show=False)
        drawing.config(color="currentColor", lw=LINE_WIDTH, unit=0.1)
        for stroke in strokes:
            drawing.add(_element(stroke))
        root = ElementTree.fromstring(drawing.get_imagedata("svg"))
    return "".join(_plain(child) for child in root)


def _element(stroke: Stroke) -> elements.Element:
    (x, y), (x2, y2) = stroke.start, stroke.end
    start, end = (x / PER_UNIT, -y / PER_UNIT), (x2 / PER_UNIT, -y2 / PER_UNIT)
    if stroke.kind == "ground":
        return elements.Ground().at(start).scale(0.6)
    if stroke.kind == "arrow":
        return elements.Arrow(headwidth=0.15, headlength=0.2).at(start).to(end)
    if stroke.kind == "box":
        corner = min(start[0], end[0]), min(start[1], end[1])
        return elements.Rect(corner1=(0, 0), corner2=(abs(end[0] - start[0]), abs(end[1] - start[1]))).at(corner)
    made: elements.Element2Term = TWO_ENDS[stroke.kind]()
    if stroke.kind != "line":
        made.scale(BODY / PER_UNIT)
    return made.at(start).to(end)


def _plain(element: ElementTree.Element) -> str:
    """An element as text: style as attributes, no namespace."""
    given = {key: value for key, value in element.attrib.items() if key != "style"}
    for declared in element.attrib.get("style", "").split(";"):
        name, _, value = declared.partition(":")
        if value and not (name == "stroke-dasharray" and value.strip() == "-"):
            given[name.strip()] = value.strip()
    shown = "".join(f' {name}="{_rounded(value)}"' for name, value in given.items())
    return f"<{element.tag.removeprefix(NAMESPACE)}{shown}/>"


def _rounded(value: str) -> str:
    """Tenths of a pixel are enough."""
    return re.sub(r"-?\d+\.\d+", lambda found: f"{round(float(found[0]), 1):g}", value)
