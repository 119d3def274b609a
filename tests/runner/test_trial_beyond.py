"""`leadsman trial --come-and-go --pairs`: sums, conditions, the same numbers twice, and what is told."""

import json
from collections import Counter

from click.testing import CliRunner

from flows.network.conditions import WORDS
from runner.cli import cli
from runner.trial.beyond import COMINGS, PAIRS, SAID, Beyond, beyond_table, run_beyond, worst_of
from runner.trial.trialling import Lot

FLOW = "coolant-temperature"


def test_a_json_line_a_flow_and_kind_whose_walks_add_up() -> None:
    args = ["trial", FLOW, "--draws", "3", "--seed", "2", "--workers", "1", "--come-and-go", "--pairs", "--json"]
    result = CliRunner().invoke(cli, args)
    assert result.exit_code == 0, result.output
    lines = [json.loads(text) for text in result.stdout.splitlines()]
    assert [line["trial"] for line in lines] == [COMINGS, PAIRS]
    for line in lines:
        assert line["flow"] == FLOW and line["walks"] == 3 * line["faults"] > 0
        assert sum(line[name] for name in SAID[line["trial"]]) == line["walks"]
    assert set(lines[0]["by"]) == set(WORDS.values())
    assert "come and go" in result.stderr and "Two faults at once" in result.stderr


def test_the_same_seed_gives_the_same_with_any_number_of_processes() -> None:
    lots = [Lot(name, draws=2, seed=5) for name in (FLOW, "starter-and-ground")]
    one, two = (list(run_beyond(lots, PAIRS, workers=workers)) for workers in (1, 2))
    assert one == two


def test_what_condemns_another_part_is_told_with_its_rate() -> None:
    row = Beyond("made-up", 2, Counter({"wrong": 1, "found": 99}), {"wet": Counter({"wrong": 1, "found": 99})})
    row.worst["a-leak-when-wet", "b-open"] = 1
    told = list(worst_of([row], COMINGS))
    assert "made-up: a-leak-when-wet ends 1 times in b-open" in told[0]
    assert "wrong: 1.0 %" in told[1] and "4.7" in told[1]  # 4.66; Clopper and Pearson: 1 of 100, upper 95 percent
    assert beyond_table([row], COMINGS).row_count == 2
