"""The table of a circuit's faults that an author starts from."""

import subprocess
import sys

from flows.circuits.__main__ import rows


def test_the_table_has_what_a_flow_blames() -> None:
    """The neutral switch by hand: its two terminals in the plug cannot be told apart, a switch that sticks has no size."""
    table = {fault: (size, codes, alike) for fault, size, codes, alike in rows("neutral-switch")}
    assert table["switch-stuck-open"] == ("", "P0852", "")
    assert table["switch-stuck-closed"] == ("", "P0851", "")
    assert table["neutral-signal-plug-intermittent"][2] == "neutral-ground-plug-intermittent"
    assert (
        111 < float(table["neutral-signal-resistance"][0]) < 1000
    )  # half a volt is 111 ohm beside 1000; some times that
    assert "neutral-signal-short-to-battery" not in table


def test_a_circuit_that_is_not_there_is_told_with_the_nearest() -> None:
    made = subprocess.run([sys.executable, "-m", "flows.circuits", "neutral-swich"], capture_output=True, text=True)
    assert made.returncode == 2
    assert "did you mean 'neutral-switch'?" in made.stderr
