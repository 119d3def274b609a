"""How much many followers delay the voice loop: `python -m runner.web.follow_load --followers 50`.

A turn of the loop is what lies between two waits of a run: the question written down, the call-out recognised, and what
comes of it written down, on a real journal and with the real recogniser. Turns are timed in blocks, without and with
followers by turns, so that whatever else this computer does falls on both alike. Followers are in a process of their
own and take everything they are sent.
"""

import asyncio
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from flows.site import Site
from runner.jobs import load_job, opening
from runner.record.journal import Journal
from runner.record.logbook import Logbook
from runner.web.follow_feed import Feed
from runner.web.serving import Place
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import Sound, resample

FLOW, RATE_HZ = "coolant-temperature", 16000
PAUSE_S = 0.15  # between turns; a person takes far longer
STEPS = (("coolant_plug.coolant-signal", "coolant_plug.coolant-ground"), ("battery.positive", "battery.negative"))


def turn(book: Logbook, hear: Callable[[], Any], number: int) -> float:
    """One turn; how long it took [s]."""
    red, black = STEPS[number % len(STEPS)]
    started = time.perf_counter()
    place = {"red": red, "black": black, "state": {}}
    book.write("asked", step=f"turn-{number}", want="reading", text="Call the volts.", **place)
    book.write("said", text="Call the volts.")
    hear()
    book.write("heard", listening="reading", words="three point zero nine one volts", confidence=0.97)
    book.write("read_back", text="Three point zero nine one volts. In.")
    value = {
        "value": 3.091,
        "high": None,
        "unit": "V",
        "decimals": 3,
        "over_range": False,
        "quantity": "dc_voltage",
        "step": f"turn-{number}",
    }
    book.write("measured", confirmed="implicit", attempts=1, **value)
    book.write("judged", step=f"turn-{number}", outcome="in", low=2.6, high=3.6, guard=0.02, unit="V", because="")
    book.write("branched", step=f"turn-{number}", outcome="in", to=f"turn-{number + 1}")
    return time.perf_counter() - started


async def _follow(port: int, count: int) -> None:
    """So many followers, who take whatever comes until the stream ends."""

    async def one() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(f"GET /follow/events HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        while await reader.read(65536):
            pass
        writer.close()

    await asyncio.gather(*(one() for _ in range(count)))


class Followers:
    """Followers in a process of their own."""

    def __init__(self, port: int, count: int) -> None:
        command = [sys.executable, "-m", "runner.web.follow_load", "--follow-at", str(port), "--followers", str(count)]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(2.5)  # all of them are connected

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait()


def measured(*, followers: int, turns: int, blocks: int) -> dict[str, Any]:
    """Seconds a turn, without and with followers, and by how much the second is slower at the 95th percentile."""
    job = load_job(FLOW, machine="th2", meter="bench", site=Site())
    recogniser = Recogniser(kinds=("reading",))
    voice = Synthesiser()
    sound: Sound = resample(voice.synthesise("three point zero nine one volts"), RATE_HZ)
    voice.close()
    times: dict[bool, list[float]] = {False: [], True: []}
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "journal.sqlite") as store:
        place = Place(port=8799)
        with Feed(place) as feed:
            book = Logbook(store, watchers=(feed.watch,))
            book.write("opened", **opening(job, session=str(store.session), machine="th2", meter="bench"))
            number = 0
            for block in range(2 * blocks):
                watched = block % 2 == 1
                crowd = Followers(place.port, followers) if watched else None
                for _ in range(turns):
                    time.sleep(PAUSE_S)
                    times[watched].append(turn(book, lambda: recogniser.decode(sound, "reading"), number))
                    number += 1
                if crowd:
                    crowd.stop()
    return _told(times, followers=followers)


def _told(times: dict[bool, list[float]], *, followers: int) -> dict[str, Any]:
    def milliseconds(watched: bool, share: int) -> float:
        return round(statistics.quantiles(times[watched], n=100)[share - 1] * 1000, 1)

    alone, watched = milliseconds(False, 95), milliseconds(True, 95)
    return {
        "followers": followers,
        "turns": len(times[True]),
        "median_ms": {"alone": milliseconds(False, 50), "followed": milliseconds(True, 50)},
        "p95_ms": {"alone": alone, "followed": watched},
        "p95_delay_ms": round(watched - alone, 1),
    }


@click.command()
@click.option("--followers", default=50, show_default=True)
@click.option("--turns", default=25, show_default=True, help="Turns a block.")
@click.option("--blocks", default=3, show_default=True, help="Blocks without, and as many with followers.")
@click.option("--follow-at", hidden=True, type=int, help="Be the followers at this port.")
def main(followers: int, turns: int, blocks: int, follow_at: int | None) -> None:
    """Print, as JSON, by how much followers delay a turn of the voice loop."""
    if follow_at:
        asyncio.run(_follow(follow_at, followers))
        return
    print(json.dumps(measured(followers=followers, turns=turns, blocks=blocks), indent=1))


if __name__ == "__main__":
    main()
