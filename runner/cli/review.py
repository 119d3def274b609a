"""`leadsman review` and `leadsman users`: the supervisor's pages, and who may sign in to them."""

from pathlib import Path

import click

from runner.cli.shared import journal_option, plainly, stderr
from runner.errors import RunError

users_option = click.option(
    "--users",
    "users_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File of users; the bay's own when left out.",
)


def users_path(named: Path | None) -> Path:
    """The file of users: the one named, else the bay's."""
    from runner.jobs import home

    return named or home() / "users.json"


@click.command("review")
@journal_option
@click.option("--from", "source", help="The database that bays share, postgresql://...; for looking.")
@click.option(
    "--audio", type=click.Path(path_type=Path, file_okay=False), help="Folder of sounds; the bay's own when left out."
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to serve at; others than loopback need users and TLS.",
)
@click.option("--port", type=click.IntRange(1, 65535), default=8765, show_default=True)
@click.option("--name", "names", multiple=True, help="Further host name the pages answer to.")
@click.option("--tls-cert", type=click.Path(path_type=Path, dir_okay=False), help="Certificate file (PEM).")
@click.option("--tls-key", type=click.Path(path_type=Path, dir_okay=False), help="Its key.")
@users_option
@plainly
def review_command(
    journal: Path | None,
    source: str | None,
    audio: Path | None,
    host: str,
    port: int,
    names: tuple[str, ...],
    tls_cert: Path | None,
    tls_key: Path | None,
    users_file: Path | None,
) -> None:
    """Serve the supervisor's pages: which jobs need you, each as a timeline, signed or sent back."""
    from runner.record.sounds import SoundStore, sound_store
    from runner.web.app import make_app
    from runner.web.records import BayRecords, Records, SharedForLooking
    from runner.web.review import section
    from runner.web.serving import Place, serve, setting_for
    from runner.web.users import Users

    place = Place(host, port, tls_cert, tls_key, names)
    path = users_path(users_file)
    setting = setting_for(place, Users(path) if users_file or path.exists() or not place.local else None)
    sounds = SoundStore(audio) if audio else sound_store()
    if source and journal:
        raise RunError("--from and --journal name two places. Name one.")
    records: Records = SharedForLooking(_shared(source), sounds) if source else BayRecords(_journal(journal), sounds)
    app = make_app([section(records)], setting=setting)
    stderr().print(f"Open {place.url} in a browser. Ctrl-C stops it.")
    serve(app, place)


def _journal(named: Path | None) -> Path:
    from runner.jobs import journal_path
    from runner.record.journal import Journal

    path = named or journal_path()
    with Journal.read(path):  # a sentence now rather than on every page
        return path


def _shared(url: str) -> object:
    try:
        from runner.sharing.database import connect
        from runner.sharing.reading import SharedRecords
    except ModuleNotFoundError as error:
        raise RunError(
            f"The shared database needs {error.name}, which is not installed: pip install 'leadsman[share]'."
        ) from None
    return SharedRecords(connect(url))


@click.group("users")
def users_command() -> None:
    """Who may sign in to the pages: trainee (follow, practise), technician (look, comment), supervisor (sign)."""


@users_command.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(["trainee", "technician", "supervisor"]), required=True)
@click.password_option(help="Asked for when left out.")
@users_option
@plainly
def add_user(name: str, role: str, password: str, users_file: Path | None) -> None:
    """Add NAME (initials do), or give them another role and password."""
    from runner.web.users import Users

    path = users_path(users_file)
    Users(path).add(name, role, password)
    stderr().print(f"{name} may sign in as {role}. From now on the pages ask everybody to sign in ({path}).")


@users_command.command("remove")
@click.argument("name")
@users_option
@plainly
def remove_user(name: str, users_file: Path | None) -> None:
    """Take NAME out, at once."""
    from runner.web.users import Users

    Users(users_path(users_file)).remove(name)
    stderr().print(f"{name} may not sign in any more.")


@users_command.command("list")
@users_option
@plainly
def list_users(users_file: Path | None) -> None:
    """Everybody who may sign in, one a line."""
    from runner.web.users import Users

    for user in Users(users_path(users_file)).all():
        click.echo(f"{user.name}\t{user.role.word}")
