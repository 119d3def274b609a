"""Tables of the shared database, all fed from events: a session, its events as they were written, its readings as rows."""

from sqlalchemy import (
    CHAR,
    Boolean,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    func,
)
from sqlalchemy.dialects.postgresql import TIMESTAMP

metadata = MetaData()
_MOMENT = TIMESTAMP(timezone=True)

# A session is known by the hash of its first event: names are short, and two bays may draw the same one.
sessions = Table(
    "sessions",
    metadata,
    Column("id", CHAR(64), primary_key=True),
    Column(
        "session", Text, nullable=False, unique=True
    ),  # its name, with a part of the id where two bays drew the same
    Column("name", Text, nullable=False),  # as its events call it
    Column("bay", Text, nullable=False),
    Column("head", CHAR(64), nullable=False),
    Column("opened_at", _MOMENT, nullable=False),
    Column("last_at", _MOMENT, nullable=False),
    Column("flow", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("machine", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("status", Text, nullable=False),
    Column("finding", Text, nullable=False),
    Column("events", Integer, nullable=False),
    Column("doubtful", Integer, nullable=False),
    Column("corrected", Integer, nullable=False),
    Column("overridden", Integer, nullable=False),
    Column("near_limit", Integer, nullable=False),
    Column("retakes", Integer, nullable=False),
    Column("low_confidence", Integer, nullable=False),
    Column("signed", Text, nullable=False),
    Column("simulated", Boolean, nullable=False),
    Column("sounds", Integer, nullable=False),
    Column("attention", Integer, nullable=False),
    Column("words", Text, nullable=False),
    Column("readings", Integer, nullable=False),
    Column("calls", Integer, nullable=False),
    Column("above_noise_db", Double),
    Column("shared_at", _MOMENT, nullable=False, server_default=func.now()),
)
Index("sessions_attention", sessions.c.attention.desc(), sessions.c.opened_at.desc())
Index("sessions_opened", sessions.c.opened_at.desc())
Index("sessions_words", sessions.c.words, postgresql_using="gin", postgresql_ops={"words": "gin_trgm_ops"})
for _name in ("flow", "finding", "machine", "person"):
    Index(f"sessions_{_name}", sessions.c[_name], sessions.c.attention.desc(), sessions.c.opened_at.desc())

# body is the canonical JSON whose hash is beside it: what is shared can be audited like the journal it came from.
events = Table(
    "events",
    metadata,
    Column("session_id", CHAR(64), ForeignKey("sessions.id"), primary_key=True),
    Column("sequence", Integer, primary_key=True),
    Column("type", Text, nullable=False),
    Column("at", _MOMENT, nullable=False),
    Column("body", Text, nullable=False),
    Column("hash", CHAR(64), nullable=False),
)

readings = Table(
    "readings",
    metadata,
    Column("session_id", CHAR(64), ForeignKey("sessions.id"), primary_key=True),
    Column("sequence", Integer, primary_key=True),
    Column("flow", Text, nullable=False),
    Column("step", Text, nullable=False),
    Column("phase", Text, nullable=False),
    Column("at", _MOMENT, nullable=False),
    Column("quantity", Text, nullable=False),
    Column("unit", Text, nullable=False),
    Column("value", Double),
    Column("upto", Double),
    Column("over_range", Boolean, nullable=False),
    Column("low", Double),
    Column("high", Double),
    Column("outcome", Text, nullable=False),
    Column("near_limit", Boolean, nullable=False),
    Column("confirmed", Text, nullable=False),
    Column("attempts", Integer, nullable=False),
)
# One step's values lie side by side in it, so that a spread reads a thin slice and no table.
Index(
    "readings_step",
    readings.c.flow,
    readings.c.step,
    readings.c.phase,
    postgresql_include=["value"],
)
