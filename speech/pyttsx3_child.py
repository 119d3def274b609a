"""The process a voice lives in: one pyttsx3 engine with fixed settings, one JSON line in, one JSON line out.

Started by path with `python -P`, never imported; imports nothing of this project, so that it works from any folder.
In: {"text": ..., "file": ...}. Out: {"file": ...}, or {"error": ...} after which the process ends.
"""

import ctypes
import json
import os
import sys
from pathlib import Path


def load_library() -> None:
    """Make the packaged espeak-ng the one that pyttsx3 finds; without it, the system's own is used."""
    try:
        import espeakng_loader
    except ImportError:
        return
    # espeak-ng dies inside C when it does not find its data
    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
    ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)


def known_voice(name: str, ids: list[str]) -> str:
    """The name espeak-ng knows a voice by; it takes an unknown one in silence and speaks with another."""
    base, _, variant = name.partition("+")
    if not any(base.lower() in (one, one.rpartition("/")[2]) for one in ids) and base != "en-gb":
        raise ValueError(f"there is no voice {base!r}")
    variants = Path(os.environ.get("ESPEAK_DATA_PATH", ""), "voices", "!v")
    if variant and variants.is_dir() and not (variants / variant).exists():
        raise ValueError(f"there is no variant {variant!r} of a voice")
    # "en-gb" is a language; only the voice "en" takes a variant
    return f"en+{variant}" if base == "en-gb" and variant else name


def settled(rate_wpm: int) -> None:
    """Wait until espeak-ng has taken its settings: a loop that begins before then cancels them, and it speaks at 200."""
    from pyttsx3.drivers import _espeak

    _espeak.Synchronize()
    taken = _espeak.dll.espeak_GetParameter(_espeak.RATE, 1)  # pyttsx3 leaves out "the current one"
    if taken != rate_wpm:
        raise ValueError(f"asked for {rate_wpm} words a minute, the voice took {taken}")


def main() -> None:
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # pyttsx3 prints on standard output

    def answer(**facts: object) -> None:
        answers.write(json.dumps(facts) + "\n")
        answers.flush()

    settings = json.loads(sys.argv[1])
    try:
        load_library()
        import pyttsx3

        engine = pyttsx3.init("espeak")
        ids = [voice.id for voice in engine.getProperty("voices")]
        engine.runAndWait()  # before its first loop pyttsx3 only queues what is set
        engine.setProperty("voice", known_voice(settings["voice"], ids))
        engine.setProperty("rate", settings["rate_wpm"])
        engine.setProperty("volume", settings["volume"])
        settled(settings["rate_wpm"])
    except (Exception, SystemExit) as problem:
        answer(error=f"{type(problem).__name__}: {problem}")
        return
    answer(ready=True)
    for line in sys.stdin:
        job = json.loads(line)
        engine.save_to_file(job["text"], job["file"])
        engine.runAndWait()
        answer(file=job["file"], bytes=Path(job["file"]).stat().st_size if Path(job["file"]).exists() else 0)


if __name__ == "__main__":
    main()
