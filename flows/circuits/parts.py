"""Parts that are not straight lines: a regulator with a current limit, a pressure chip. Each has modes, solved by trying.

A mode is a straight line; `follows` says which mode the solved voltages call for. When nothing changes, it is solved.
"""

from dataclasses import dataclass

from flows.circuits.network import Network, Solution

HYSTERESIS_V = 0.02


@dataclass(frozen=True)
class Regulator:
    """Holds `out` at volt above `earth` until the current limit; cannot take current back.  limit_a [A]."""

    out: str
    earth: str
    volt: float
    ohm: float
    limit_a: float
    start = "on"

    def stamp(self, network: Network, mode: str) -> None:
        if mode == "on":
            network.source(self.out, self.earth, volt=self.volt, ohm=self.ohm)
        elif mode == "limit":
            network.current(self.earth, self.out, self.limit_a)
            network.resistor(self.out, self.earth, 1e5)
        else:  # pushed up from outside: it only bleeds
            network.resistor(self.out, self.earth, 5e4)

    def follows(self, solution: Solution, mode: str) -> str:
        volt = solution.volt(self.out, self.earth)
        if mode == "on":
            ampere = (self.volt - volt) / self.ohm
            if ampere > self.limit_a:
                return "limit"
            return "blocked" if ampere < -1e-6 else "on"
        if mode == "limit":
            return "limit" if volt <= self.volt else "on"
        return "blocked" if volt > self.volt else "on"


@dataclass(frozen=True)
class PressureChip:
    """Output = share of its supply, through a resistance, with a current limit; off below runs_above_v."""

    supply: str
    out: str
    ground: str
    share: float
    supply_ohm: float
    output_ohm: float
    sink_ohm: float | None  # of an output without power; None when it floats
    dead: bool = False
    runs_above_v: float = 3.0
    limit_a: float = 0.008
    start = "sourcing"

    def stamp(self, network: Network, mode: str) -> None:
        network.resistor(self.supply, self.ground, self.supply_ohm)
        if mode == "off":
            if self.sink_ohm is not None:
                network.resistor(self.out, self.ground, self.sink_ohm)
            return
        if mode == "most":
            network.current(self.supply, self.out, self.limit_a)
        elif mode == "least":
            network.current(self.out, self.ground, self.limit_a)
        else:
            drain = self.supply if mode == "sourcing" else self.ground
            weights = {self.supply: self.share, self.ground: 1 - self.share}
            network.controlled(self.out, drain, weights, ohm=self.output_ohm)

    def follows(self, solution: Solution, mode: str) -> str:
        across = solution.volt(self.supply, self.ground)
        if self.dead or across < self.runs_above_v - (0 if mode == "off" else HYSTERESIS_V):
            return "off"
        wanted = self.share * across - solution.volt(self.out, self.ground)
        ampere = wanted / self.output_ohm
        if abs(ampere) >= self.limit_a:
            return "most" if ampere > 0 else "least"
        if mode in ("sourcing", "sinking") and abs(ampere) < 1e-9:
            return mode
        return "sourcing" if ampere >= 0 else "sinking"
