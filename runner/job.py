"""What is tested, on what, where and with which meter."""

from dataclasses import dataclass

from flows.meter import Meter
from flows.model import Flow, MachineSheet
from flows.site import Site


@dataclass(frozen=True)
class Job:
    """Everything a session is judged by; the same from its first step to its last."""

    flow: Flow
    sheet: MachineSheet
    site: Site
    meter: Meter
