"""Flow files as authors write them: good ones pass, each mistake is found at its place, and nothing ever breaks the loader."""

import re
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flows.circuits import manifold_pressure
from flows.documents import Document, parse_document
from flows.problems import FlowProblems, Problem, did_you_mean
from flows.rules import RULES, lint
from flows.rules.sentences import spoken_words
from flows.source import LIBRARY, MACHINES, load_flow, load_sheet, shipped_flows

HERE = Path(__file__).parents[1]
GOOD = sorted((HERE / "flows_good").glob("*.yaml"))
BAD = sorted((HERE / "flows_bad").glob("*.yaml"))
SHEET = load_sheet()
WANTS = re.compile(r"# wants: (\d+):(\d+) (\S+)")


@pytest.mark.parametrize("file", GOOD, ids=lambda f: f.stem)
def test_a_good_file_has_no_problem(file: Path) -> None:
    assert lint(file, SHEET) == []


@pytest.mark.parametrize("file", BAD, ids=lambda f: f.stem)
def test_a_mistake_is_found_at_its_line_and_column(file: Path) -> None:
    """A bad file names on top what is wanted of it; faults that no finding blames are asked for in one file only."""
    wanted = {(int(line), int(column), rule) for line, column, rule in WANTS.findall(file.read_text())}
    found = {
        (p.line, p.column, p.rule)
        for p in lint(file, SHEET)
        if file.stem == "fault-unblamed" or p.rule != "unblamed-fault"
    }
    assert wanted
    assert found == wanted


@pytest.mark.parametrize("file", BAD, ids=lambda f: f.stem)
def test_every_problem_says_what_and_what_to_do(file: Path) -> None:
    for problem in lint(file, SHEET):
        assert problem.what and problem.fix
        assert str(problem).startswith(f"{problem.file}:{problem.line}:{problem.column}: ")
        assert "Traceback" not in str(problem)


def test_every_mistake_in_a_file_is_told_at_once(tmp_path: Path) -> None:
    text = (HERE / "flows_good" / "two-checks.yaml").read_text()
    text = (
        text.replace("plug.signal,", "plug.sgnal,")
        .replace("sensor: pressure,", "sensor: presure,")
        .replace('"in, doubtful": nothing', '"in, doubtful": nothng')
    )
    file = tmp_path / "three.yaml"
    file.write_text(text)
    assert {"unknown-point", "unknown-sensor", "unknown-step"} <= {p.rule for p in lint(file, SHEET)}


@pytest.mark.parametrize(
    "file", [*LIBRARY.glob("*.yaml"), *LIBRARY.glob("parts/*.yaml"), *MACHINES.glob("*.yaml")], ids=lambda f: f.stem
)
def test_what_we_ship_passes_lint(file: Path) -> None:
    assert lint(file, SHEET) == []


def test_a_missing_file_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(FlowProblems, match="did you mean 'manifold-pressure'"):
        load_flow("manifold-presure", SHEET)
    assert lint(tmp_path / "none.yaml", SHEET)[0].rule == "file"
    assert lint(tmp_path, SHEET)[0].rule == "file"


def test_bytes_that_are_no_text_are_told_with_their_line(tmp_path: Path) -> None:
    file = tmp_path / "bytes.yaml"
    file.write_bytes(b"flow: a\ntitle: \xff\xfe\n")
    (problem,) = lint(file, SHEET)
    assert (problem.line, problem.rule) == (2, "file")


def test_yes_stays_a_word_and_leading_zeros_stay() -> None:
    document = parse_document("a: yes\nb: 010\nc: 1e3\n", file="x")
    assert document.data == {"a": "yes", "b": "010", "c": "1e3"}
    assert (document.mark(("b",)).line, document.mark(("b",)).column) == (2, 1)


def test_a_key_given_twice_names_both_lines() -> None:
    (problem,) = parse_document("a: 1\nb: 2\na: 3\n", file="x").problems
    assert problem == Problem(
        "x", 3, 1, "duplicate-key", "key 'a' is given twice, first on line 1", "keep one of the two"
    )


@pytest.mark.parametrize(
    "text",
    [
        "&a [*a]",
        "? [a]\n: b",
        "a: &x {b: 1}\nc: *x",
        "[" * 3000,
        "{" * 500 + "a" + "}" * 500,
        "--- a\n--- b",
        "\x00",
        "a: !!python/object:os.system x",
        "\ud800" and "a: \\ud800",
        "!!binary x: y",
        "a: *b",
        "%YAML 9.9\n---\na: 1",
    ],
)
def test_strange_yaml_is_refused_or_read_but_never_breaks(text: str) -> None:
    document = parse_document(text, file="x")
    assert document.problems or isinstance(document.data, dict)


@given(st.text(max_size=400))
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_text_breaks_the_reader(text: str) -> None:
    document = parse_document(text, file="x")
    assert document.problems or isinstance(document.data, dict)


SCRAPS = st.sampled_from(
    [
        "",
        "{}",
        "[]",
        "~",
        "null",
        "on",
        "1e999",
        ".nan",
        "-3",
        "a: b",
        "plug.signal",
        "[a, b]",
        "{low: in}",
        "'",
        "{signal}",
        "$x",
        "*y",
        "dc_voltage",
        "other: {a: 1}",
    ]
)
WHOLE = (HERE / "flows_good" / "shared-part.yaml").read_text().splitlines()
SHEET_LINES = (MACHINES / "th2.yaml").read_text().splitlines()


@given(st.data())
@settings(max_examples=250, deadline=None)
def test_a_spoiled_flow_or_sheet_is_told_and_never_breaks(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Lines taken out, doubled, cut, or given another value: problems or a flow, never a traceback."""
    lines = list(data.draw(st.sampled_from([WHOLE, SHEET_LINES])))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        way = data.draw(st.sampled_from(["out", "double", "cut", "value", "indent"]))
        line = lines[at]
        if way == "out":
            del lines[at]
        elif way == "double":
            lines.insert(at, line)
        elif way == "cut":
            lines[at] = line[: data.draw(st.integers(0, len(line)))]
        elif way == "value":
            lines[at] = f"{line.partition(':')[0]}: {data.draw(SCRAPS)}"
        else:
            lines[at] = " " * data.draw(st.integers(0, 6)) + line.strip()
        if not lines:
            break
    file = tmp_path_factory.mktemp("spoiled") / "spoiled.yaml"
    file.write_text("\n".join(lines))
    for problem in lint(file, SHEET):
        assert problem.line >= 1 and problem.fix


def test_a_part_is_expanded_under_its_name_with_what_it_is_given() -> None:
    flow = load_flow(HERE / "flows_good" / "shared-part.yaml", SHEET)
    assert flow.start == "meter/jack"
    assert flow.steps["meter/pins"].expect == {"same_as": {"step": "meter/plain", "counts": 2.0}}
    assert flow.steps["battery/cranking"].expect == {"battery_cranking": {"rest_from": "meter/plain"}}
    assert flow.steps["battery/cranking"].outcomes["in"] == "look"


def test_a_loaded_flow_is_complete_and_frozen() -> None:
    flow = load_flow("manifold-pressure", SHEET)
    for name, step in flow.steps.items():
        assert set(step.outcomes) == set(step.legal_outcomes()), name
        if step.measure is not None:
            assert step.measure.state["plug"] in ("in", "out"), name
        assert "{" not in step.say + step.long + step.why, name
    with pytest.raises(ValueError, match="frozen"):
        flow.start = "other"  # type: ignore[misc]
    assert "manifold-pressure" in shipped_flows()


def test_did_you_mean_offers_the_nearest_or_says_what_there_is() -> None:
    assert did_you_mean("nxt", ["next", "say"]).startswith("did you mean 'next'?")
    assert did_you_mean("zzz", []) == "Known: none."
    many = [f"word-{i}" for i in range(40)]
    assert did_you_mean("word-7x", many) == "did you mean 'word-7'?"
    assert did_you_mean("zzz", many).endswith("and more.")


@pytest.mark.parametrize(
    ("broken", "told"),
    [
        (KeyError("idle_ohm"), "cannot be built from this sheet: KeyError: 'idle_ohm'"),
        (TypeError("unexpected keyword argument 'nme'"), "TypeError: unexpected keyword argument 'nme'"),
        (SyntaxError("invalid syntax", ("/somewhere/mine.py", 16, 1, "df")), "invalid syntax (mine.py:16)"),
    ],
)
def test_a_circuit_that_cannot_be_built_is_told_not_thrown(
    monkeypatch: pytest.MonkeyPatch, broken: Exception, told: str
) -> None:
    def describe(sheet: object) -> object:
        raise broken

    monkeypatch.setattr(manifold_pressure, "describe", describe)
    (problem,) = lint(HERE / "flows_good" / "two-checks.yaml", SHEET)
    assert (problem.rule, problem.line, problem.column) == ("broken-circuit", 4, 1)
    assert told in problem.what and "Traceback" not in str(problem)


def test_a_mistake_in_a_part_of_the_sheet_is_told_in_that_file(tmp_path: Path) -> None:
    """A section that only parts have, and a model's own complaint about a whole setting."""
    shutil.copy(MACHINES / "th2.yaml", tmp_path / "m.yaml")
    (tmp_path / "m").mkdir()
    (tmp_path / "m" / "lever.yaml").write_text("settings:\n  lever: {home: up, say: {down: Push the lever down.}}\n")
    with pytest.raises(FlowProblems) as caught:
        load_sheet(tmp_path / "m.yaml")
    (problem,) = caught.value.problems
    assert (Path(problem.file).name, problem.line, problem.column) == ("lever.yaml", 2, 3)
    assert "lever" in problem.what and "home 'up' is no position" in problem.what


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Call the volts.", 3),
        ("Set it to 4.75 V.", 8),  # four point seven five volts
        ("Codes P0107, P0113.", 11),
        ("Fine, bad, or can't see?", 5),
        ("A two-pin plug.", 4),
    ],
)
def test_words_are_counted_as_a_voice_says_them(text: str, words: int) -> None:
    assert spoken_words(text) == words


def test_rules_have_ids() -> None:
    assert set(RULES) >= {
        "unreachable",
        "no-end",
        "blame",
        "sentence",
        "live-ohms",
        "hazard",
        "place-by-colour",
        "fits",
        "circuit",
    }


def _slowly(text: str) -> Document:
    """As PyYAML alone reads it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delattr("yaml.CBaseLoader", raising=False)
        return parse_document(text, file="f.yaml")


FLOW_TEXT = (LIBRARY / "coolant-temperature.yaml").read_text()[:6000]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 5999), st.sampled_from([*" \n:-{}[]'\"#&*!|>%@`,?", "é", "\t", "", "- ", ": "])),
        max_size=4,
    )
)
def test_libyaml_reads_what_pyyaml_reads_at_the_same_places(changes: list[tuple[int, str]]) -> None:
    text = FLOW_TEXT
    for at, put in changes:
        text = text[:at] + put + text[at + 1 :]
    quick, slow = parse_document(text, file="f.yaml"), _slowly(text)
    assert quick.data == slow.data
    assert quick.marks == slow.marks
    assert quick.problems == slow.problems


@pytest.mark.parametrize(
    "file", sorted(p for folder in (LIBRARY, MACHINES) for p in folder.rglob("*.yaml")), ids=lambda f: f.stem
)
def test_every_shipped_file_is_read_the_same_by_both(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    quick, slow = parse_document(text, file="f.yaml"), _slowly(text)
    assert (quick.data, quick.marks, quick.problems) == (slow.data, slow.marks, slow.problems)


@pytest.mark.parametrize("piece", ["[", "{a: ", "- ", "? ", "[{a: "])
def test_however_deep_a_text_is_it_is_told_and_nothing_dies(piece: str) -> None:
    for times in (50, 2000, 200_000 // len(piece)):
        assert parse_document(piece * times, file="f.yaml").problems
