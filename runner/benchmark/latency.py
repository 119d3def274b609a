"""How long an answer takes, over the virtual sound card in real time.

From the last 10 ms frame of a call-out within 30 dB of its peak, as the microphone gets it, to the recogniser's
result and to the first such frame of the spoken answer.
"""

import json
import statistics
import subprocess
import sys
import threading
import time

import numpy as np

from runner.benchmark.sound_card import LiveBench, end
from speech.pyttsx3_voice import Synthesiser
from speech.sound import Sound, frame_levels_dbfs

RATE_HZ = 48000
TEXTS = ("five point one volts", "four point nine six volts", "three five zero millivolts", "twelve point six volts")


class Listener:
    """A monitor's samples, each chunk with the time it came at."""

    def __init__(self, bench: LiveBench, device: str) -> None:
        command = ["parec", f"--device={device}", f"--rate={RATE_HZ}", "--channels=1", "--format=s16le"]
        self.process = subprocess.Popen([*command, "--latency-msec=10"], env=bench.env, stdout=subprocess.PIPE)
        self.chunks: list[tuple[float, np.ndarray]] = []
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        assert self.process.stdout is not None
        while data := self.process.stdout.read1(960):  # type: ignore[attr-defined]
            self.chunks.append((time.monotonic(), np.frombuffer(data[: len(data) // 2 * 2], "<i2")))

    def loud_s(self, start_s: float, end_s: float) -> list[float]:
        """Times of the 10 ms frames within 30 dB of the loudest in this stretch."""
        taken = [(at_s, samples) for at_s, samples in self.chunks if start_s <= at_s <= end_s and len(samples)]
        if not taken:
            return []
        joined = np.concatenate([samples for _, samples in taken]).astype(np.int16)
        levels = frame_levels_dbfs(Sound(joined, RATE_HZ))
        if not len(levels):
            return []
        ends = np.cumsum([len(samples) for _, samples in taken])
        loud = np.flatnonzero(levels > max(levels.max() - 30, -70))
        return [taken[min(len(ends) - 1, int(np.searchsorted(ends, (i + 1) * 480)))][0] for i in loud]

    def close(self) -> None:
        end(self.process)
        self.thread.join(2)
        assert self.process.stdout is not None
        self.process.stdout.close()


def answers(count: int) -> list[str]:
    """So many call-outs and answers, as lines to print."""
    bench = LiveBench()
    voice = Synthesiser("en-us", cache=None)
    sounds = {text: voice.synthesise(text) for text in TEXTS}
    mouth, speaker = Listener(bench, "mouth.monitor"), Listener(bench, "speaker.monitor")
    command = [sys.executable, "-m", "runner.benchmark.part", *["reading"] * count]
    part = subprocess.Popen(command, env=bench.env, stdout=subprocess.PIPE, text=True)
    right, called_s, text = 0, 0.0, ""
    marks: list[tuple[float, float]] = []
    assert part.stdout is not None
    for line in part.stdout:
        fact = json.loads(line)
        if fact["what"] == "listening":
            text = TEXTS[len(marks) % len(TEXTS)]
            time.sleep(0.4)
            called_s = time.monotonic()
            bench.call_out(sounds[text]).wait()
        elif fact["what"] in ("Heard", "Rejected", "Silence"):
            right += fact["words"] == text
            marks.append((called_s, fact["at_s"]))
    part.wait()
    time.sleep(0.5)
    to_result, to_answer = list[float](), list[float]()
    for called_s, result_s in marks:
        said, answer = mouth.loud_s(called_s, result_s), speaker.loud_s(result_s - 0.02, result_s + 0.8)
        if said:
            to_result.append(1000 * (result_s - said[-1]))
            if answer:
                to_answer.append(1000 * (answer[0] - said[-1]))
    for one in (mouth, speaker, voice, bench):
        one.close()
    return [
        *(
            f"end of call-out to {name}: median {statistics.median(figures):.0f} ms, "
            f"95 % {np.percentile(figures, 95):.0f} ms, n={len(figures)}"
            for name, figures in (("result", to_result), ("first speech of the answer", to_answer))
        ),
        f"right: {right} of {len(marks)}",
    ]
