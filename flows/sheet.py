"""A machine sheet: what this engine's circuits are made of, where their pins are, and what reaching them costs."""

from functools import cached_property
from typing import Literal

from pydantic import Field, model_validator

from flows.sensors import Part, Sensor

OLD_ITEMS = {"plug": "plug", "unit": "control_unit_plug"}  # place -> bench item, where the two differ
HOMES = {"key": "off", "engine": "off", "throttle": "closed", "jumper": "none", "vacuum": "none", "warmth": "cold"}


class Supply(Part):
    """The control unit's sensor supply."""

    nominal_v: float = Field(gt=0)
    tolerance: float = Field(gt=0, lt=0.5)  # share of nominal, 0.02 is two percent
    output_ohm: float = Field(default=0.5, ge=0)
    limit_ma: float = Field(gt=0)  # the regulator gives no more than this
    other_load_ma: float = Field(default=0, ge=0)  # other sensors on the same supply


class Battery(Part):
    """The starting battery and what the starter draws from it."""

    chemistry: Literal["flooded", "agm", "lifepo4"]
    capacity_ah: float = Field(gt=0)
    internal_ohm: float = Field(gt=0)
    cranking_a: float = Field(gt=0)
    key_on_a: float = Field(gt=0)


class Limits(Part):
    """Limits of the trade that this machine is held to."""

    sensor_ground_v: float = Field(gt=0)
    power_ground_v: float = Field(gt=0)


class Drop(Part):
    """By how much cranking pulls the manifold below outside, at 101.325 kPa; scaled with the pressure outside."""

    low: float
    high: float

    @model_validator(mode="after")
    def _in_order(self) -> "Drop":
        if self.low > self.high:
            raise ValueError(f"low {self.low:g} is above high {self.high:g} | swap them")
        return self


class Cranking(Part):
    """How long the starter may run, and what it does to the manifold."""

    max_s: float = Field(gt=0)
    rest_s: float = Field(ge=0)
    tries: int = Field(ge=1)
    drop_kpa: dict[Literal["closed", "open"], Drop]


class Input(Part):
    """One input of the control unit: how it is pulled, when it stores a code, what it then believes."""

    wire: str
    pull: Literal["up", "down"]
    pull_ohm: float = Field(gt=0)
    pull_to_v: float = Field(default=0, ge=0)
    code_low: str
    code_high: str
    low_below_v: float
    high_above_v: float
    substitute_low: float  # shown on the display after a low code, in the sensor's unit
    substitute_high: float


class ControlUnit(Part):
    """The engine control unit."""

    inputs: dict[str, Input]


class Pin(Part):
    """Where a wire sits in a plug, as one says it."""

    pin: str
    position: str  # "second from left", as seen in the place's view


class Wire(Part):
    """One wire between two plugs."""

    colour: str
    area_mm2: float = Field(gt=0)
    length_m: float = Field(gt=0)
    pins: dict[str, Pin]  # place -> pin
    carries: tuple[str, ...] = ()  # sensors and inputs whose current runs in it; none given: all of the machine


class Place(Part):
    """A place a probe or a hand can get to."""

    spoken: str
    view: str = ""  # how one looks at it, so that "left" has a meaning
    access_minutes: float = Field(ge=0)
    whole_session: bool = False  # "cannot" here holds for the whole session
    unplugs: bool = False  # a plug: `coolant_plug: out` in a state takes it off


class Spot(Part):
    """A probe point that is no pin of a wire: a battery post, the probe tips, a gauge."""

    place: str
    spoken: str
    kind: Literal["metal", "display", "gauge"] = "metal"


class Jumper(Part):
    """A resistor the technician can fit between two pins of an unplugged plug."""

    ohm: float = Field(gt=0)
    spoken: str
    between: tuple[str, str]  # points


class Setting(Part):
    """Something on the bench with a few positions: a relay, a pedal, a load. home: where it is left alone.

    say: position -> the sentence that brings it there, the home position's puts it right. out: position -> what is
    out of place then ("fuel pump relay is pulled"). key_off: the key goes off before it is touched.
    """

    home: str
    say: dict[str, str]
    out: dict[str, str] = Field(default_factory=dict)
    place: str = ""  # of the sheet, that must be reached
    key_off: bool = True
    minutes: float = Field(default=0.5, ge=0)

    @model_validator(mode="after")
    def _home_is_one(self) -> "Setting":
        if self.home not in self.say:
            raise ValueError(f"home '{self.home}' is no position; say has {', '.join(self.say)}")
        return self


class Engine(Part):
    """Speeds [1/min] of the engine in each state, and how warm it gets."""

    cranking_rpm: float = Field(default=260, gt=0)
    idle_rpm: float = Field(default=1400, gt=0)
    fast_rpm: float = Field(default=3000, gt=0)
    speed_share: float = Field(default=0.2, gt=0, lt=1)  # by which a held speed may be off; common practice, no source
    warm_c: float = 88

    def rpm(self, state: str) -> float:
        """Speed in a state of the bench: off, cranking, idle or fast."""
        return {"cranking": self.cranking_rpm, "idle": self.idle_rpm, "fast": self.fast_rpm}.get(state, 0.0)


class Costs(Part):
    """Minutes that are not the way to a place."""

    key_cycle: float = Field(default=0.1, ge=0)
    probe: float = Field(default=0.15, ge=0)
    plug: float = Field(default=0.5, ge=0)
    jumper: float = Field(default=0.5, ge=0)
    vacuum: float = Field(default=1.0, ge=0)
    crank: float = Field(default=0.5, ge=0)
    dial: float = Field(default=0.1, ge=0)
    talk: float = Field(default=0.15, ge=0)


class Point(Part):
    """A probe point, ready to be said: pin, view and colour."""

    name: str
    place: str
    kind: Literal["metal", "display", "gauge"]
    short: str  # within its place: "second from left, red with white"
    spoken: str  # whole: "sensor plug, wire side, latch up, second from left, red with white"


class MachineSheet(Part):
    """One machine."""

    machine: str
    title: str
    supply: Supply
    battery: Battery
    limits: Limits
    cranking: Cranking
    sensors: dict[str, Sensor]
    control_unit: ControlUnit
    wires: dict[str, Wire]
    places: dict[str, Place]
    spots: dict[str, Spot]
    jumpers: dict[str, Jumper] = Field(default_factory=dict)
    vacuum_kpa: float = Field(default=20, gt=0)  # the known step of the hand pump
    settle_s: float = Field(default=2, ge=0)
    codes: dict[str, str] = Field(default_factory=dict)
    costs: Costs = Costs()
    engine: Engine = Engine()
    settings: dict[str, Setting] = Field(default_factory=dict)  # bench items beside plugs: relays, pedal, loads

    def item_of(self, place: str) -> str:
        """Bench item that takes the plug at a place off, "" where nothing comes off.

        The sensor plug and the control unit's are called plug and control_unit_plug; any other by its place.
        """
        if place in OLD_ITEMS:
            return OLD_ITEMS[place] if place in self.places else ""
        found = self.places.get(place)
        return place.replace("-", "_") if found is not None and found.unplugs else ""

    @cached_property
    def plugs(self) -> dict[str, str]:
        """Bench item -> place of each plug."""
        return {item: place for place in self.places if (item := self.item_of(place))}

    def home(self, item: str) -> str:
        """Where a bench item is when nobody has touched it."""
        if item in self.settings:
            return self.settings[item].home
        return HOMES.get(item, "in" if item in self.plugs else "none")

    @cached_property
    def positions(self) -> dict[str, tuple[str, ...]]:
        """Bench item -> what it may be set to, of everything this sheet has beside what every machine has."""
        made: dict[str, tuple[str, ...]] = {item: ("in", "out") for item in self.plugs}
        made |= {name: tuple(setting.say) for name, setting in self.settings.items()}
        moved = tuple(dict.fromkeys(("plug", "harness", "unit", *self.places)))
        return {**made, "engine": ("off", "cranking", "idle", "fast"), "warmth": ("cold", "warm"), "moving": moved}

    def only(self, *sensors: str) -> "MachineSheet":
        """The sheet with these sensors and their inputs alone: for a circuit that knows no others."""
        inputs = {name: entry for name, entry in self.control_unit.inputs.items() if name in sensors}
        unit = self.control_unit.model_copy(update={"inputs": inputs})
        kept = {name: sensor for name, sensor in self.sensors.items() if name in sensors}
        wires = {
            name: wire for name, wire in self.wires.items() if not wire.carries or set(wire.carries) & set(sensors)
        }
        points = {f"{place}.{name}" for name, wire in wires.items() for place in wire.pins} | set(self.spots)
        jumpers = {name: jumper for name, jumper in self.jumpers.items() if points.issuperset(jumper.between)}
        return self.model_copy(
            update={"control_unit": unit, "sensors": kept, "wires": wires, "jumpers": jumpers}, deep=False
        )

    @property
    def access(self) -> dict[str, float]:
        """Place -> minutes to reach it."""
        return {name: place.access_minutes for name, place in self.places.items()}

    @cached_property
    def points(self) -> dict[str, Point]:
        """Every probe point by name: `place.wire` for a pin, `place.spot` for the rest."""
        made: dict[str, Point] = {}
        for wire_name, wire in self.wires.items():
            for place, pin in wire.pins.items():
                if place in self.places:
                    name = f"{place}.{wire_name}"
                    made[name] = self._point(name, place, kind="metal", short=f"{pin.position}, {wire.colour}")
        for name, spot in self.spots.items():
            if spot.place in self.places:
                made[name] = self._point(name, spot.place, kind=spot.kind, short=spot.spoken)
        return made

    def _point(self, name: str, place: str, *, kind: Literal["metal", "display", "gauge"], short: str) -> Point:
        where = self.places[place]
        words = [where.spoken, where.view, short] if "." in name and kind == "metal" else [short]
        if name in self.spots:
            words = [short]
        return Point(name=name, place=place, kind=kind, short=short, spoken=", ".join(w for w in words if w))
