"""What a control unit drives to ground: a fused feed behind the main relay, the load, and the driver with its watch."""

from dataclasses import dataclass

from flows.network.description import Description, End, Monitor, Run, Sees, wire_run
from flows.network.here import Here
from flows.network.kinds import COPPER_PER_K, Asked, Contact, Kind, Resistance
from flows.network.power import power, shown_v
from flows.sensors import CoilSensor, ValuesPart
from flows.sheet import MachineSheet

EARTH = "earth"
WATCH_OHM = 47e3  # through which the control unit watches its pin; invented
CRANKING = {"engine": "cranking"}


@dataclass(frozen=True, kw_only=True)
class Driven:
    """Names of one driven load: `word` begins its places and bench items, `stem` its wires, `load` is the part's name."""

    sheet: MachineSheet
    word: str
    stem: str
    load: str
    sensor: str
    driver_ohm: float = 0.15
    on: Asked = lambda here: here.turning  # whether the control unit drives it at all

    @property
    def inside(self) -> tuple[str, str]:
        """The load's own pins."""
        return f"{self.word}_sensor.{self.stem}-feed", f"{self.word}_sensor.{self.stem}-drive"

    @property
    def pin(self) -> str:
        return f"pin.{self.stem}-drive"

    @property
    def live(self) -> str:
        return f"{self.word}_fuse_box.live"

    def runs(self) -> tuple[Run, Run]:
        """Drive wire, and the feed back to its fuse, which sits tight."""
        plug = f"{self.word}_plug"
        inside = f"fuse.{self.word}"
        near = End(place=plug, inside=self.inside[0], item=self.sheet.item_of(plug), tag="plug")
        far = End(place=f"{self.word}_fuse_box", inside=inside, tag="fuse", contact=False)
        drive = wire_run(self.sheet, f"{self.stem}-drive", device=plug, role="drive")
        return drive, Run(wire=f"{self.stem}-feed", ends=(near, far), role="feed")

    def parts(self) -> tuple[Kind, ...]:
        """Main relay (its faults belong to another circuit), fuse, load, driver, watch."""
        coil = self.sheet.sensors[self.sensor]
        assert isinstance(coil, CoilSensor)
        box, place = f"{self.word}_fuse_box", f"{self.word}_sensor"
        return (
            Contact(name="main", a="battery.positive", b=self.live, closed=lambda h: float(h.key_on), healthy=True),
            Contact(
                name="fuse", a=self.live, b=f"fuse.{self.word}", closed=self._fuse_holds, can=("blown",), where=box
            ),
            Resistance(
                name=self.load,
                a=self.inside[0],
                b=self.inside[1],
                ohm=coil.ohm_20c,
                tolerance=coil.tolerance,
                per_k=coil.per_k or COPPER_PER_K,
                where=place,
            ),
            Contact(name="driver", a=self.pin, b=EARTH, closed=self._pulls, ohm=self.driver_ohm, where="unit"),
            Resistance(name="watch", a=self.pin, b=EARTH, ohm=WATCH_OHM, healthy=True),
        )

    def _pulls(self, here: Here) -> float:
        return float(bool(self.on(here)) and here.phase == 1)

    def _fuse_holds(self, here: Here) -> float:
        """In its socket, and whole: a feed on ground has blown it."""
        shorted = here.has(f"{self.stem}-feed-short-to-ground")
        return float(here.at(f"{self.word}_fuse") == "in" and not shorted)

    def monitors(self, code: str, state: dict[str, str]) -> tuple[Monitor, Monitor]:
        """The pin stays low at rest, or is not pulled down when it should be."""
        return (
            Monitor(code=code, plus=self.pin, minus=EARTH, below=5.0),
            Monitor(code=code, plus=self.pin, minus=EARTH, below=1.0, alternating=True, state=state),
        )


def driven_while_cranking(driven: Driven, *, circuit: str, code: str, pulses: str) -> Description:
    """A circuit that is nothing but a load driven once or twice a turn: an injector, an ignition primary."""
    values = driven.sheet.sensors[pulses]
    assert isinstance(values, ValuesPart)
    duty = values.values["cranking_duty"]
    return Description(
        name=circuit,
        sheet=driven.sheet,
        runs=driven.runs(),
        parts=(*power(), *driven.parts()),
        # A tenth less across the load lets an injector open late and a spark come weak.
        sees=(Sees(plus=driven.inside[0], minus=driven.inside[1], share=0.1, state=CRANKING),),
        monitors=driven.monitors(code, CRANKING),
        displays={driven.word: lambda solution, here: shown_v(solution.volt(driven.pin, EARTH))},
        states=(CRANKING, {f"{driven.word}_fuse": "pulled"}),
        points=(driven.live,),
        duty=lambda here: duty if here.turning else None,
    )
