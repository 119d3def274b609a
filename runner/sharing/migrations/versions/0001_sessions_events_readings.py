"""Sessions, their events as they were written, their readings as rows."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import TIMESTAMP

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Once shipped, this step is never edited; what comes later is a step of its own."""
    moment = TIMESTAMP(timezone=True)
    counts = ("events", "doubtful", "corrected", "overridden", "near_limit", "retakes", "low_confidence")
    op.create_table(
        "sessions",
        sa.Column("id", sa.CHAR(64), primary_key=True),
        sa.Column("session", sa.Text, nullable=False, unique=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("name", "bay")),
        sa.Column("head", sa.CHAR(64), nullable=False),
        *(sa.Column(name, moment, nullable=False) for name in ("opened_at", "last_at")),
        *(
            sa.Column(name, sa.Text, nullable=False)
            for name in ("flow", "title", "machine", "person", "status", "finding")
        ),
        *(sa.Column(name, sa.Integer, nullable=False) for name in counts),
        sa.Column("signed", sa.Text, nullable=False),
        sa.Column("simulated", sa.Boolean, nullable=False),
        sa.Column("sounds", sa.Integer, nullable=False),
        sa.Column("attention", sa.Integer, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        *(sa.Column(name, sa.Integer, nullable=False) for name in ("readings", "calls")),
        sa.Column("above_noise_db", sa.Double),
        sa.Column("shared_at", moment, nullable=False, server_default=sa.func.now()),
    )
    op.create_index("sessions_attention", "sessions", [sa.text("attention DESC"), sa.text("opened_at DESC")])
    op.create_index("sessions_opened", "sessions", [sa.text("opened_at DESC")])
    op.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")  # PostgreSQL's own; a database's owner may
    op.create_index(
        "sessions_words", "sessions", ["words"], postgresql_using="gin", postgresql_ops={"words": "gin_trgm_ops"}
    )
    for name in ("flow", "finding", "machine", "person"):
        op.create_index(f"sessions_{name}", "sessions", [name, sa.text("attention DESC"), sa.text("opened_at DESC")])
    op.create_table(
        "events",
        sa.Column("session_id", sa.CHAR(64), sa.ForeignKey("sessions.id"), primary_key=True),
        sa.Column("sequence", sa.Integer, primary_key=True),
        sa.Column("type", sa.Text, nullable=False),
        sa.Column("at", moment, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.CHAR(64), nullable=False),
    )
    op.create_table(
        "readings",
        sa.Column("session_id", sa.CHAR(64), sa.ForeignKey("sessions.id"), primary_key=True),
        sa.Column("sequence", sa.Integer, primary_key=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("flow", "step", "phase")),
        sa.Column("at", moment, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("quantity", "unit")),
        *(sa.Column(name, sa.Double) for name in ("value", "upto")),
        sa.Column("over_range", sa.Boolean, nullable=False),
        *(sa.Column(name, sa.Double) for name in ("low", "high")),
        sa.Column("outcome", sa.Text, nullable=False),
        sa.Column("near_limit", sa.Boolean, nullable=False),
        sa.Column("confirmed", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
    )
    op.create_index("readings_step", "readings", ["flow", "step", "phase"], postgresql_include=["value"])
