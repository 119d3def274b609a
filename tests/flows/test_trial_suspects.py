"""Suspects after readings: what is left, with which odds, and a reading that fits nothing."""

import pytest

from flows.circuits import CIRCUITS
from flows.meter import load_meter
from flows.site import Site
from flows.source import load_flow, load_sheet
from flows.trial.engines import engines_at
from flows.trial.paths import usual_paths
from flows.trial.suspects import Standing, Told, Weights, checks_left, suspects
from flows.trial.walk import Course

SHEET = load_sheet()
FLOW = load_flow("manifold-pressure", SHEET)
CIRCUIT = CIRCUITS[FLOW.circuit](SHEET)
METER = load_meter()
ENGINES = engines_at(Site(), 24)


@pytest.fixture(scope="module")
def weights() -> Weights:
    return Weights(FLOW, CIRCUIT, engines=ENGINES, meter=METER)


def told(weights: Weights, fault: str | None, *steps: str) -> list[Told]:
    """What a nominal engine with this fault reads at these steps."""
    made = []
    for name in steps:
        m = FLOW.steps[name].measure
        assert m is not None
        true = CIRCUIT.reading(fault, m.red, m.black, m.quantity, m.state, site=Site())
        made.append(Told(name, value=float(METER.shows(m.quantity, true))))
    return made


def test_nothing_told_leaves_all_alike(weights: Weights) -> None:
    standing = weights.standing([])
    assert len(standing.odds) == len(CIRCUIT.faults()) + 1
    assert max(standing.odds.values()) == pytest.approx(min(standing.odds.values()))
    assert sum(standing.odds.values()) == pytest.approx(1)
    assert standing.sentence.startswith("Nothing stands out")


@pytest.mark.parametrize(
    ("fault", "steps"),
    [
        ("supply-short-to-ground", ("ground", "supply", "supply-off", "supply-lift")),
        ("temperature-open", ("ground", "supply", "intake", "temperature-load", "temperature-unit")),
        ("signal-short-to-battery", ("ground", "supply", "still")),
        ("ground-open", ("ground", "ground-block", "ground-off", "ground-lift")),
    ],
)
def test_the_fault_that_is_there_stays_possible_and_becomes_likely(
    weights: Weights, fault: str, steps: tuple[str, ...]
) -> None:
    standings = weights.moves(told(weights, fault, *steps))
    assert all(s.contradicted_by is None for s in standings)
    assert all(fault in s.left for s in standings)
    last = standings[-1]
    assert max(last.odds, key=lambda name: last.odds[name]) in CIRCUIT.classes()[fault]
    assert last.odds[fault] >= 0.45


def test_healthy_readings_keep_the_sound_engine(weights: Weights) -> None:
    standing = weights.standing(
        told(weights, None, "ground", "supply", "intake", "still", "display-pressure", "vacuum")
    )
    assert "none" in standing.left
    assert not {"supply-open", "signal-open", "ground-open", "sensor-dead", "regulator-high"} & set(standing.left)


def test_a_reading_that_fits_nothing_is_said(weights: Weights) -> None:
    standing = weights.standing([*told(weights, None, "ground", "supply"), Told("still", value=47.0)])
    assert standing.contradicted_by == "still"
    assert standing.left == ()
    assert "Read it again" in standing.sentence


def test_read_again_counts_instead_of_the_first(weights: Weights) -> None:
    good = told(weights, None, "ground", "supply")
    again = [*good, Told("still", value=47.0), *told(weights, None, "still")]
    assert weights.standing(again).contradicted_by is None


def test_looks_and_movements_count_but_never_decide_alone(weights: Weights) -> None:
    looked = weights.standing([Told("look-hose", outcome="bad")])
    assert max(looked.odds, key=lambda name: looked.odds[name]) == "hose-leak"
    moved = weights.standing([Told("watch-unit", outcome="moved")])
    assert {name for name, share in moved.odds.items() if share > 0.1} >= {
        "supply-unit-intermittent",
        "signal-unit-intermittent",
        "ground-unit-intermittent",
    }
    cannot = weights.standing([Told("watch-unit", outcome="cannot")])
    assert cannot.odds == weights.standing([]).odds


def test_it_is_pure(weights: Weights) -> None:
    said = told(weights, "supply-open", "ground", "supply")
    fresh = suspects(FLOW, CIRCUIT, said, engines=ENGINES, meter=METER)
    assert fresh == weights.standing(said) == suspects(FLOW, CIRCUIT, said, engines=ENGINES, meter=METER, bench=weights)


def test_sentences_are_short_and_speakable() -> None:
    cases = [
        Standing({"a-b": 0.96, "c": 0.04}, None),
        Standing({"none": 1.0}, None),
        Standing({"a": 0.1, "b": 0.1}, None),
        Standing({"signal-short-to-temperature-wire": 0.5, "b": 0.3, "c": 0.2}, "still"),
    ]
    for standing in cases:
        assert len(standing.sentence.split()) <= 20
        assert not set(standing.sentence) & set("-%=<>/")


def test_fewer_checks_are_left_the_further_one_is() -> None:
    paths = usual_paths(Course(FLOW, CIRCUIT, SHEET, METER))
    even = {name: 1 / len(paths) for name in paths}
    early = checks_left(FLOW, even, "ground", paths=paths)
    late = checks_left(FLOW, even, "crank-open", paths=paths)
    assert early > late > 0
    assert checks_left(FLOW, even, "no such step", paths=paths) == 0
