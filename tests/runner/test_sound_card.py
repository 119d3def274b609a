"""The virtual sound card lets go of what it started, also of what will not go."""

import subprocess
import sys
import time

from runner.benchmark.sound_card import end

DEAF = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(60)"


def test_a_process_that_does_not_go_is_ended_by_force() -> None:
    process = subprocess.Popen([sys.executable, "-c", DEAF], stdout=subprocess.PIPE)
    assert process.stdout is not None and process.stdout.readline() == b"deaf\n"
    began_s = time.monotonic()
    end(process, patience_s=0.2)
    process.stdout.close()
    assert process.returncode == -9
    assert time.monotonic() - began_s < 30
    end(process)  # once more does no harm
