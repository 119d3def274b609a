"""Every sentence of every flow, read back: its values by the number parser, the words it offers by the recogniser."""

import re
from collections.abc import Iterator
from functools import cache

import pytest

from flows.acts import known_after
from flows.bench import Bench
from flows.meter import load_meter
from flows.model import Flow, Step
from flows.site import Site
from flows.source import load_flow, load_sheet, shipped_flows
from flows.staging import stages
from flows.windows import WindowError, compute
from runner.talk import loudness, mic_check, wording
from runner.talk.cautions import breaths
from runner.talk.steps import limits_in_words
from speech.choices import parse_choice
from speech.commands import parse_command
from speech.numbers import Spoken, parse_reading
from speech.phrasing import words_in
from speech.ports import Heard
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound import resample
from speech.units import PHRASES

# Numbers in words, by hand: the parser under test has its own tables.
ONES = {
    word: n
    for n, word in enumerate(
        (
            *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven"),
            *("twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
        )
    )
}
TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90}
SHEET = load_sheet("th2")
METER = load_meter("bench")
UNIT_WORDS = {phrase[0] for phrase in PHRASES if len(phrase[0]) > 2}


@cache
def flow(name: str) -> Flow:
    return load_flow(name, SHEET)


@cache
def sentences(name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_sentences(flow(name))))


def _sentences(one: Flow) -> Iterator[str]:
    everything = told(one)
    for step in one.steps.values():
        yield from (step.say, step.long, step.why)
        for known in ((), everything):
            yield from (stage.say for stage in stages(Bench(), step, SHEET, known=known))
        if step.expect:
            try:
                window = compute(step.expect, sheet=SHEET, site=Site(), meter=METER, readings={})
            except WindowError:
                continue  # rests on an earlier reading
            yield limits_in_words(window)
    for finding in one.findings.values():
        yield from (finding.say, finding.do)
    for step in one.steps.values():
        due = [one.cautions[name] for name in step.cautions]
        yield from (text for said in breaths(due, told=False) for text in (said.text, said.long))


def told(one: Flow) -> frozenset[str]:
    """Everything a technician can know at the end of a session, so that it is said in short."""
    known: frozenset[str] = frozenset()
    for step in one.steps.values():
        known |= {step.measure.red} if step.measure else set()
        for stage in stages(Bench(), step, SHEET):
            known |= known_after(stage, SHEET)
    return known


def value_of(words: list[str]) -> float:
    """A number in words as a person reads it: digits one by one with a point, or a cardinal."""
    sign = -1.0 if words[0] == "minus" else 1.0
    words = words[1:] if words[0] == "minus" else words
    if "point" in words:
        at = words.index("point")
        whole = "".join(str(ONES[word]) for word in words[:at]) or "0"
        return sign * float(whole + "." + "".join(str(ONES[word]) for word in words[at + 1 :]))
    if len(words) > 1 and all(ONES.get(word, 10) < 10 for word in words):
        return sign * float("".join(str(ONES[word]) for word in words))
    total = part = 0
    for word in words:
        if word == "hundred":
            part *= 100
        elif word == "thousand":
            total, part = total + part * 1000, 0
        else:
            part += TENS.get(word, 0) + ONES.get(word, 0)
    return sign * (total + part)


def values_in(text: str) -> Iterator[tuple[list[str], str]]:
    """Number words, and the unit word that follows them."""
    run: list[str] = []
    for word in words_in(text):
        number = word in ONES or word in TENS or word in ("hundred", "thousand", "point", "minus")
        if number:
            run.append(word)
            continue
        if word in UNIT_WORDS and any(part in ONES or part in TENS for part in run):
            yield run, word
        run = []


@pytest.mark.parametrize("name", shipped_flows())
def test_every_value_a_flow_speaks_is_understood_as_it_is_meant(name: str) -> None:
    for text in sentences(name):
        for number, unit in values_in(text):
            said = " ".join([*number, unit])
            spoken = parse_reading(said)
            assert isinstance(spoken, Spoken), f"{said!r} in {text!r}"
            assert spoken.value == pytest.approx(value_of(number)), f"{said!r} in {text!r}"
            assert spoken.unit is not None or unit == "degrees", f"{said!r} in {text!r}"


def test_the_flows_do_speak_values() -> None:
    found = [said for name in shipped_flows() for text in sentences(name) for said in values_in(text)]
    assert len(found) > 300


def items(text: str) -> list[str]:
    return [item.strip().lower() for item in re.split(r",\s*(?:or\s+)?|\s+or\s+", text) if item.strip()]


def offered(step: Step) -> Iterator[str]:
    """The words a step offers as answers."""
    full = stages(Bench(), step, SHEET)
    for stage in (*full, *stages(Bench(), step, SHEET, known={"set", "clear", "movement", "reading"})):
        for said in re.findall(r"Say ([^.?]+)[.]", stage.say):
            yield from items(said)
        if stage.reply == "movement":
            yield from items(stage.say.rstrip("?").rpartition(". ")[2])
        if stage.reply == "clear":
            yield from items(stage.say.rstrip("?.").rpartition(". ")[2].removeprefix("Say "))
    if step.look is not None:
        yield from items(re.split(r"[?!.:]\s", step.say.rstrip("?"))[-1])
    if step.ask is not None and step.ask.reply == "choice":
        yield from (choice.replace("_", " ") for choice in step.ask.choices)


@pytest.mark.parametrize("name", shipped_flows())
def test_every_caution_is_said_by_its_own_words_in_breaths_of_twenty_five(name: str) -> None:
    """One "affirm" a breath; nothing of a caution is lost when it shares a breath, and each defers to the manual or a person."""
    one = flow(name)
    for step in one.steps.values():
        due = [one.cautions[caution] for caution in step.cautions]
        for told_before in (False, True):
            made = breaths(due, told=told_before)
            assert sorted(n for b in made for n, _ in b.cautions) == sorted(c.name for c in due)
            for breath in made:
                assert breath.text.startswith("Caution.") and breath.text.endswith("Affirm?")
                assert len(breath.text.split()) <= 25, breath.text
                assert re.search(r"manual|qualified", breath.long)
                for caution, words in breath.cautions:
                    assert words in breath.text
                    assert one.cautions[caution].text.startswith(words)
                    assert one.cautions[caution].text.removeprefix(words).strip() in ("", "Follow the maker's manual.")


def fixed_offers() -> set[str]:
    """What the dialogue's own sentences offer."""
    texts = [text for text in vars(wording).values() if isinstance(text, str)]
    texts += [*wording.HELP.values(), *loudness.WORDS.values(), mic_check.ASK_COUNT]
    found = {"affirm", "wrong", "no"}
    for text in texts:
        found |= {item for said in re.findall(r"[Ss]ay: ([^.]+)[.]", text) for item in items(said)}
        found |= {said for said in re.findall(r"[Ss]ay (go ahead|set|affirm|enough)\b", text)}
    return found


@cache
def every_offer() -> tuple[str, ...]:
    of_flows = {word for name in shipped_flows() for step in flow(name).steps.values() for word in offered(step)}
    return tuple(sorted(of_flows | fixed_offers()))


def test_every_word_that_is_offered_is_one_that_is_taken() -> None:
    strange = [word for word in every_offer() if parse_command(word) is None and parse_choice(word) is None]
    assert not strange
    assert {"set", "clear", "fine", "bad", "can't see", "steady", "moved", "stop test", "go ahead"} <= {*every_offer()}


def understood(words: str, *, voice: Synthesiser, recogniser: Recogniser) -> bool:
    kind = "commands" if parse_command(words) else "choice"
    heard = recogniser.decode(resample(voice.synthesise(words), 16000), kind)
    if not isinstance(heard, Heard):
        return False
    meaning = parse_command if kind == "commands" else parse_choice
    return meaning(heard.words) == meaning(words)


def test_some_words_that_are_offered_are_heard() -> None:
    recogniser = Recogniser(kinds=("commands",))
    with Synthesiser("en-gb") as voice:
        missed = [w for w in every_offer()[::6] if not understood(w, voice=voice, recogniser=recogniser)]
    assert not missed


@pytest.mark.slow
@pytest.mark.parametrize("name", ["en-us", "en-gb-scotland", "en-gb-x-rp+f3"])
def test_every_word_that_is_offered_is_heard(name: str) -> None:
    recogniser = Recogniser(kinds=("commands", "choice"))
    with Synthesiser(name) as voice:
        missed = [w for w in every_offer() if not understood(w, voice=voice, recogniser=recogniser)]
    assert not missed


@pytest.mark.parametrize("name", shipped_flows())
def test_nothing_is_said_or_heard_while_cranking(name: str) -> None:
    """Everybody stands clear first; the meter holds what it saw, and the value is called once the key is off."""
    for step in flow(name).steps.values():
        m = step.measure
        if m is None or m.state.get("engine") != "cranking":
            continue
        made = stages(Bench(), step, SHEET)
        (crank,) = [stage for stage in made if stage.changes.get("engine") == "cranking"]
        assert m.hold in ("min", "max") or SHEET.points[m.red].kind == "display", step.name
        assert made[made.index(crank) - 1].reply == "clear", step.name
        before, _, after = crank.say.partition("key off.")
        assert "crank" in before and "Call" not in before and "Call the" in after, step.name
