"""A session's events in, one self-contained page out: no script, nothing fetched, everything escaped."""

from runner.report.page import render

__all__ = ["render"]
