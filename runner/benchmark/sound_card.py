"""A virtual sound card for tests and figures: a sound server of its own, one sink for a mouth and one for the loudspeaker."""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import numpy as np

from speech.sound import Sound, write_wav
from speech.sound_devices import DeviceError, sounddevice

PROGRAMS = ("pulseaudio", "pactl", "paplay", "parec")
MODULES = (
    "module-native-protocol-unix",
    "module-null-sink sink_name=mouth rate=48000",
    "module-null-sink sink_name=speaker rate=48000",
)


def lacking() -> str:
    """What this machine lacks for the bench, "" for nothing."""
    absent = [name for name in PROGRAMS if shutil.which(name) is None]
    try:
        sounddevice()
    except DeviceError:
        absent.append("libportaudio2")
    if not any(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        absent.append("libasound2-plugins")
    return ", ".join(absent)


class LiveBench:
    """The server, started with folders of its own and stopped by its process id."""

    def __init__(self, *, rate_hz: int = 48000) -> None:
        """rate_hz: of both sinks, so of what the program's devices run at."""
        self.rate_hz = rate_hz
        self.folder = Path(tempfile.mkdtemp(prefix="leadsman-bench-"))
        (self.folder / ".asoundrc").write_text("pcm.!default { type pulse }\nctl.!default { type pulse }\n")
        run = self.folder / "run"
        run.mkdir(mode=0o700)
        self.env = {**os.environ, "HOME": str(self.folder), "XDG_RUNTIME_DIR": str(run)}
        for name in ("PULSE_SERVER", "XDG_CONFIG_HOME", "PULSE_RUNTIME_PATH"):
            self.env.pop(name, None)
        self.log = (self.folder / "pulse.log").open("wb")
        self.hurry: list[subprocess.Popen[bytes]] = []
        self.start()

    def start(self) -> None:
        """Start the server; after `kill`, the device is back."""
        command = ["pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no"]
        for module in MODULES:
            command += ["-L", module.replace("rate=48000", f"rate={self.rate_hz}")]
        for pid in (self.folder / "run").rglob("pid"):
            pid.unlink()  # a killed server leaves it behind
        self.server = subprocess.Popen(command, env=self.env, stdout=self.log, stderr=self.log)
        self._wait()
        for arguments in (("set-default-sink", "speaker"), ("set-default-source", "mouth.monitor")):
            self._pactl(*arguments)
        # a sink that nobody hurries hands on its sound every two seconds
        self.hurry += [self.record(f"{sink}.monitor", Path(os.devnull)) for sink in ("speaker", "mouth")]

    def _pactl(self, *arguments: str) -> int:
        done = subprocess.run(["pactl", *arguments], env=self.env, capture_output=True, check=False)
        return done.returncode

    def _wait(self) -> None:
        for _ in range(100):
            if self._pactl("info") == 0:
                return
            time.sleep(0.1)
        raise RuntimeError((self.folder / "pulse.log").read_text())

    def call_out(self, sound: Sound) -> "subprocess.Popen[bytes]":
        """Play a sound into the microphone; gives the process that plays."""
        file = self.folder / f"call-{time.monotonic_ns()}.wav"
        write_wav(file, sound)
        return subprocess.Popen(["paplay", "--device=mouth", "--latency-msec=20", str(file)], env=self.env)

    def record(self, device: str, file: Path) -> "subprocess.Popen[bytes]":
        """Record a monitor into a raw file (16 bit mono, 48 kHz) until the process is ended."""
        command = ["parec", f"--device={device}", "--rate=48000", "--channels=1", "--format=s16le", "--latency-msec=10"]
        with file.open("wb") as out:
            return subprocess.Popen(command, env=self.env, stdout=out)

    def stall(self) -> None:
        """The device stays but gives nothing and takes nothing any more."""
        self.server.send_signal(signal.SIGSTOP)

    def leak(self, gain_db: float) -> None:
        """What the loudspeaker plays comes back into the microphone, so much quieter."""
        self._pactl("load-module", "module-loopback", "source=speaker.monitor", "sink=mouth", "latency_msec=20")
        listed = subprocess.run(["pactl", "list", "short", "sink-inputs"], env=self.env, capture_output=True, text=True)
        for line in listed.stdout.splitlines():
            if "loopback" in line:
                self._pactl("set-sink-input-volume", line.split()[0], f"{gain_db}dB")

    def kill(self) -> None:
        """The device vanishes."""
        self.server.send_signal(signal.SIGCONT)
        self.server.kill()
        self.server.wait()

    def close(self) -> None:
        for listener in self.hurry:
            end(listener)
        self.server.send_signal(signal.SIGCONT)  # one that is stalled would not hear the next
        end(self.server)
        self.log.close()
        shutil.rmtree(self.folder, ignore_errors=True)


def end(process: "subprocess.Popen[bytes]", *, patience_s: float = 3.0) -> None:
    """End a process, by force when it does not go: a parec whose server vanished may spin for ever."""
    if process.poll() is None:
        process.terminate()
        with suppress(subprocess.TimeoutExpired):
            process.wait(patience_s)
    if process.poll() is None:
        process.kill()
        process.wait()


def raw_sound(file: Path) -> Sound:
    """What `record` wrote."""
    data = file.read_bytes()
    return Sound(np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(np.int16), 48000)
