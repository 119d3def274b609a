"""Many engines solved together read what each reads alone, in a fraction of the time."""

from flows.trial.speed import measured, table


def test_together_is_faster_and_reads_the_same() -> None:
    row = measured("coolant-temperature", engines=120, faults=3)
    assert row.apart < 1e-3, "a pin behind an open hangs on a hundred gigohm; both agree as near as ngspice is asked to"
    assert row.solves == 120 * 4 * 3
    assert row.ratio > 2, "a bound that any machine meets; what it is here prints `python -m flows.trial.speed`"
    assert "ratio" in table([row]) and "coolant-temperature" in table([row])
