"""A job as the command line names it: flow, machine, meter and place loaded, and what its opening event says of them."""

import hashlib
import os
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from runner.job import Job
from speech.graph import MODEL


def home() -> Path:
    """Folder of the journal and the rehearsals: LEADSMAN_HOME, else the user's data folder. Made by who writes there."""
    if named := os.environ.get("LEADSMAN_HOME"):
        return Path(named)
    data = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(data) / "leadsman"


def journal_path() -> Path:
    """The bay's journal."""
    return home() / "journal.sqlite"


def rehearsal_path(session: str) -> Path:
    """A rehearsal keeps a journal of its own, so that any number can run at once and none is mistaken for a job."""
    return home() / "rehearsals" / f"{session}.sqlite"


def load_job(flow: str, *, machine: str, meter: str, site: Site) -> Job:
    """Everything a session needs. Raises the errors of the flows room, which are sentences."""
    sheet = load_sheet(machine)
    return Job(flow=load_flow(flow, sheet), sheet=sheet, site=site, meter=load_meter(meter))


def code_version() -> str:
    """Version of the installed project, for the record."""
    try:
        return version("leadsman")
    except PackageNotFoundError:
        return "unknown"


def opening(job: Job, *, session: str, machine: str, meter: str, **more: Any) -> dict[str, Any]:
    """Facts of the `opened` event: all that is needed to resume, and to say later what was judged by what."""
    low, nominal, high, because = job.site.pressure_kpa()
    return {
        "session": session,
        "flow": job.flow.name,
        "title": job.flow.title,
        "step": job.flow.start,
        "machine": job.sheet.title,
        "machine_file": machine,
        "meter": job.meter.name,
        "meter_file": meter,
        "site": job.site.model_dump(),
        "outside": {"low": round(low, 2), "nominal": round(nominal, 2), "high": round(high, 2), "because": because},
        "flow_hash": hashlib.sha256(job.flow.model_dump_json().encode()).hexdigest(),
        "sheet_hash": hashlib.sha256(job.sheet.model_dump_json().encode()).hexdigest(),
        "code_version": code_version(),
        **more,
    }


def training_voices(model: Path | None) -> str:
    """Which voices the recogniser learned from, for the report: a rehearsal with one of those proves less."""
    told = (model or MODEL) / "trained_on.txt"
    if told.is_file():
        return told.read_text(encoding="utf-8").strip()
    return f"voices that {model or MODEL} does not name"
