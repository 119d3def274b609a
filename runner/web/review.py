"""The supervisor's pages, put together."""

from runner.web import comparing, hearing_again, over_sessions, review_list, review_session, sounds
from runner.web.records import Records
from runner.web.sections import Role, Section


def section(records: Records) -> Section:
    """List, session, sound, side by side, spread and people."""
    modules = (review_list, review_session, sounds, hearing_again, comparing, over_sessions)
    return Section(
        pages=tuple(page for module in modules for page in module.PAGES),
        menu=(
            ("Sessions", "/", Role.TECHNICIAN),
            ("Side by side", "/compare", Role.TECHNICIAN),
            ("Spread", "/spread", Role.TECHNICIAN),
            ("Re-asking", "/re-asking", Role.SUPERVISOR),
        ),
        state={"records": records, "hearing": hearing_again.Hearing()},
    )
