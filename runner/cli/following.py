"""`--follow`: a page beside the bench for as long as a run lasts."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from runner.cli.shared import stderr

PORT = 8766
_options = (
    click.option("--follow", is_flag=True, help="Serve a page on which the run can be followed; it cannot be steered."),
    click.option("--follow-port", default=PORT, show_default=True, type=click.IntRange(1, 65535), help="Its port."),
    click.option(
        "--follow-host", default="127.0.0.1", show_default=True, help="Its address; others want TLS and users."
    ),
    click.option("--follow-name", "follow_names", multiple=True, help="A further name the page answers to."),
    click.option("--tls-cert", type=click.Path(path_type=Path), help="Certificate of the page."),
    click.option("--tls-key", type=click.Path(path_type=Path), help="Key of that certificate."),
    click.option("--users", type=click.Path(path_type=Path), help="File of users who may sign in."),
)


def follow_options(command: Any) -> Any:
    """What run and resume take to be followed."""
    for option in reversed(_options):
        command = option(command)
    return command


@contextmanager
def following(wish: dict[str, Any]) -> Iterator[tuple[Any, ...]]:
    """The watchers of the run: none, or the followers' feed, which ends with the block."""
    if not wish["follow"]:
        yield ()
        return
    from runner.web.follow_feed import Feed
    from runner.web.serving import Place

    place = Place(
        wish["follow_host"], wish["follow_port"], wish["tls_cert"], wish["tls_key"], tuple(wish["follow_names"])
    )
    with Feed(place, users=wish["users"], voice=wish["voice"]) as feed:
        stderr().print(f"To follow: {place.url}")
        yield (feed.watch,)
