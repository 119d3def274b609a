"""`python -m runner.benchmark [PART ...]`: delay, start to first word and memory, the microphone check, a fit, hours of running."""

import argparse
from collections.abc import Callable, Iterable

from runner.benchmark import latency, sessions, soak, sound_card


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m runner.benchmark", description=__doc__)
    parser.add_argument("parts", nargs="*", default=["latency", "starts", "mic", "fit", "soak"])
    parser.add_argument("--count", type=int, default=20, help="call-outs to answer; a quarter of it, starts")
    parser.add_argument("--hours", type=float, default=2.0, help="of sound in the soak")
    options = parser.parse_args()
    makers: dict[str, Callable[[], Iterable[str]]] = {
        "latency": lambda: latency.answers(options.count),
        "starts": lambda: sessions.starts(max(2, options.count // 4)),
        "mic": sessions.mic,
        "fit": sessions.fit,
        "soak": lambda: soak.hours(options.hours),
    }
    lacking = sound_card.lacking()
    for name in options.parts:
        if lacking and name != "soak":
            print(f"{name}: not measured, this machine lacks {lacking}")
            continue
        for line in makers[name]():
            print(line, flush=True)


if __name__ == "__main__":
    main()
