"""The flow a session walked, when it is one that ships: a name in a record never becomes a file name."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

from flows.model import Flow, FlowError
from flows.source import MACHINES, load_flow, load_sheet, shipped_flows
from runner.report.story import Event
from runner.web.walk_graph import Table


@dataclass(frozen=True)
class Walked:
    """Branches and findings of the flow. note: what a reader must know about them, "" when nothing."""

    table: Table = field(default_factory=dict)
    findings: dict[str, str] = field(default_factory=dict)
    note: str = ""


def harmless(events: Sequence[Event]) -> list[Event]:
    """The events with the file names in their opening taken out where they are no names of what ships.

    A session may come from another bay's export; what it names must not make this program open a file.
    """
    return [_without_files(event) if event.get("type") == "opened" else event for event in events]


def _without_files(event: Event) -> Event:
    known = {"machine_file": _sheets(), "flow": shipped_flows()}
    return {**event, **{key: f"({event.get(key, '')})" for key, names in known.items() if event.get(key) not in names}}


def _sheets() -> set[str]:
    return {each.stem for each in MACHINES.glob("*.yaml")}


def flow_walked(opened: Event) -> Walked:
    """The flow named in an opening event, as it is today."""
    name, sheet = str(opened.get("flow", "")), str(opened.get("machine_file", ""))
    if sheet not in _sheets() or name not in shipped_flows():
        return Walked(note="This flow or its machine is not among those known here; branches not taken are not shown.")
    try:
        flow = _loaded(name, sheet)
    except FlowError as error:
        return Walked(note=f"The flow cannot be read, so branches not taken are not shown: {error}")
    same = hashlib.sha256(flow.model_dump_json().encode()).hexdigest() == opened.get("flow_hash")
    note = "" if same else "The flow has changed since this session; branches not taken are those of today."
    return Walked(dict(flow.table), {each.name: each.say for each in flow.findings.values()}, note)


@cache
def _loaded(name: str, sheet: str) -> Flow:
    return load_flow(name, load_sheet(sheet))
