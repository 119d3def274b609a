"""A circuit's schematic as SVG: every probe point a group of its own, lit or marked from outside."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any

from flows.model import Flow
from flows.sheet import MachineSheet
from runner.schematic.layout import Layout
from runner.schematic.pieces import net_of
from runner.schematic.sheet import POINT, WIDTH, Dot, Label
from runner.schematic.symbols import drawn

REACH = 13  # radius within which a finger hits a point
SIZES = {"wire": 12, "colour": 11, "place": 12, "part": 11, "note": 12}
RED, BLACK = "red", "black"
ASIDE = 9.0  # pixels by which two marks on one point stand apart


@dataclass(frozen=True)
class Schematic:
    """One circuit drawn. dots: probe points in drawing order. titles: point -> how it is said."""

    name: str
    strokes: str
    dots: tuple[Dot, ...]
    labels: tuple[Label, ...]
    joints: tuple[tuple[float, float], ...]
    height: float
    wired: float  # height of the circuit itself, without what is listed below it
    titles: dict[str, str]

    @property
    def viewbox(self) -> str:
        return f"0 0 {WIDTH} {self.height:g}"

    def viewbox_for(self, *points: str | None) -> str:
        """As much of the picture as these points need: the circuit, and the list below it where one of them stands there."""
        listed = any(dot.y > self.wired for name in points if name and (dot := self.dot(name)))
        return self.viewbox if listed else f"0 0 {WIDTH} {self.wired:g}"

    @property
    def points(self) -> tuple[str, ...]:
        return tuple(dot.name for dot in self.dots)

    def dot(self, name: str) -> Dot | None:
        return next((dot for dot in self.dots if dot.name == name), None)

    def svg(self, *, red: str | None = None, black: str | None = None, live: bool = False, label: str = "") -> str:
        """The whole picture. live: every point carries both marks, hidden, for a page to light and to click.

        red, black: points that a probe is on.
        """
        words = escape(label or f"Circuit: {self.name.replace('-', ' ')}", quote=True)
        body = self.drawing(live=live) + ("" if live else self.marks(red=red, black=black))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="schematic" viewBox="{self.viewbox}" role="img"'
            f' aria-label="{words}" font-family="system-ui, sans-serif">{body}</svg>'
        )

    def drawing(self, *, live: bool = False) -> str:
        """What is inside the picture, without marks."""
        words = "".join(_words(label) for label in self.labels)
        joints = "".join(f'<circle cx="{x:g}" cy="{y:g}" r="3" fill="currentColor"/>' for x, y in self.joints)
        points = "".join(self._point(dot, live=live) for dot in self.dots)
        return f'<g class="strokes">{self.strokes}{joints}</g>{words}{points}'

    def marks(self, *, red: str | None, black: str | None) -> str:
        """The probes, on their points: a red disc with R, a black square with B; one on both shows both."""
        apart = ASIDE if red == black else 0.0  # the tips held together
        found = ((RED, self.dot(red or ""), -apart), (BLACK, self.dot(black or ""), apart))
        return "".join(_mark(colour, dot.x + aside, dot.y) for colour, dot, aside in found if dot)

    def _point(self, dot: Dot, *, live: bool) -> str:
        title = escape(self.titles.get(dot.name, dot.name), quote=True)
        x, y = f"{dot.x:g}", f"{dot.y:g}"
        inner = f'<title>{title}</title><circle class="dot" cx="{x}" cy="{y}" r="{POINT:g}" fill="currentColor"/>'
        inner += f'<circle cx="{x}" cy="{y}" r="{POINT - 2:g}" fill="Canvas" class="eye"/>'
        if live:
            reach = f'<circle class="reach" cx="{x}" cy="{y}" r="{REACH}" fill="none" pointer-events="all"/>'
            inner += reach + _mark(RED, dot.x, dot.y) + _mark(BLACK, dot.x, dot.y)
        return f'<g id="point-{escape(dot.name, quote=True)}" class="point">{inner}</g>'


def _mark(colour: str, x: float, y: float) -> str:
    if colour == RED:
        shape = f'<circle cx="{x:g}" cy="{y:g}" r="9" fill="#b3122a" stroke="currentColor"/>'
    else:
        shape = f'<rect x="{x - 8:g}" y="{y - 8:g}" width="16" height="16" fill="#111" stroke="currentColor"/>'
    letter = f'<text x="{x:g}" y="{y + 4:g}" font-size="11" font-weight="700" fill="#fff" text-anchor="middle">'
    return f'<g class="probe {colour}">{shape}{letter}{colour[0].upper()}</text></g>'


def _words(label: Label) -> str:
    weight = ' font-weight="600"' if label.kind == "place" else ""
    faint = ' opacity="0.75"' if label.kind == "colour" else ""
    return (
        f'<text class="{label.kind}" x="{label.x:g}" y="{label.y:g}" font-size="{SIZES[label.kind]}"'
        f' text-anchor="{label.anchor}" fill="currentColor"{weight}{faint}>{escape(label.text)}</text>'
    )


def points_read(flow: Flow) -> tuple[str, ...]:
    """Every point that a step of this flow puts a probe on, in the flow's order."""
    measured = (step.measure for step in flow.steps.values() if step.measure)
    return tuple(dict.fromkeys(point for m in measured for point in (m.red, m.black) if point))


def schematic_of(circuit: Any, *, wanted: Iterable[str] = ()) -> Schematic:
    """The schematic of a circuit of flows.circuits. wanted: points to have in it, on a wire or not."""
    return _drawn(circuit, tuple(wanted))


@lru_cache(maxsize=32)
def _drawn(circuit: Any, wanted: tuple[str, ...]) -> Schematic:
    net = net_of(circuit)
    laid = Layout(net, wanted=wanted).laid_out()
    return Schematic(
        name=net.name,
        strokes=drawn(laid.strokes),
        dots=tuple(laid.dots),
        labels=tuple(laid.labels),
        joints=tuple(laid.joints),
        height=round(laid.height),
        wired=round(laid.wired),
        titles=_titles(net.sheet),
    )


def _titles(sheet: MachineSheet) -> dict[str, str]:
    return {name: point.spoken for name, point in sheet.points.items()}
