"""The shared database opened and brought up to date; what is wrong with it in a sentence."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, create_engine, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, OperationalError, SQLAlchemyError

from runner.errors import RunError

_MIGRATIONS = Path(__file__).parent / "migrations"
_ONE_AT_A_TIME = 0x4C64734A  # advisory lock while the schema is brought up to date: bays may come at once


class SharingError(RunError):
    """The shared database cannot be used, or will not take a session."""


def connect(url: str, *, at_once: int = 2) -> Engine:
    """An engine for a postgresql:// address, brought up to date. at_once: connections it may hold.

    Raises SharingError when nobody answers there, or not the right thing.
    """
    try:
        address = make_url(url)
        if address.get_backend_name() != "postgresql":
            raise ArgumentError("not PostgreSQL")
        engine = create_engine(
            address.set(drivername="postgresql+psycopg"),
            pool_size=at_once,
            max_overflow=0,
            pool_timeout=120,
            connect_args={"connect_timeout": 10, "application_name": "leadsman"},
        )
    except (ArgumentError, NoSuchModuleError, ValueError) as error:
        raise SharingError(f"{url!r} is no address to share to. Give postgresql://user@host/database.") from error
    with in_words(engine), engine.begin() as connection:
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ONE_AT_A_TIME})
        settings = Config()
        settings.set_main_option("script_location", str(_MIGRATIONS))
        settings.attributes["connection"] = connection
        command.upgrade(settings, "head")
    return engine


@contextmanager
def in_words(engine: Engine) -> Iterator[None]:
    """Errors of the database become sentences; the password is never in them."""
    where = engine.url.render_as_string(hide_password=True)
    try:
        yield
    except OperationalError as error:
        raise SharingError(
            f"{where} cannot be reached ({_first_line(error)}). Nothing is lost: share again when it can."
        ) from error
    except SQLAlchemyError as error:
        raise SharingError(
            f"{where} would not take it ({_first_line(error)}). Nothing is lost; what was sent before stays."
        ) from error


def _first_line(error: SQLAlchemyError) -> str:
    told = str(error.orig) if isinstance(error, DBAPIError) and error.orig else str(error)
    return (told.strip().splitlines() or [type(error).__name__])[0][:200]
