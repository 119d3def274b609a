"""Practice in the terminal, by voice or typed: numbers choose checks and faults, a reading is a prediction."""

from collections.abc import Callable, Sequence
from typing import Any

from flows.units import UnitMismatch, spoken_unit, to_base
from runner.errors import StopTest
from runner.practice.exercise import OVER_RANGE, Done, Exercise, PracticeError
from runner.practice.scoring import BestOrder, Score, debrief, score
from runner.report.page import suspect_words
from speech.commands import parse_command
from speech.numbers import NumberProblem, parse_reading
from speech.ports import DeviceLost, Ears, Heard, ListeningKind, Voice
from speech.spelling import parse_digits

WAIT_S = 60.0
MISSES = 4  # after which nobody is there
WELCOME = "A fault is hidden. Choose checks by their numbers, and say enough when you know it."
HOW = "Say the number of a check. Say enough to name the fault, stop test to leave."
PREDICT = "What will it read? Say cannot for no idea. Say stand by if a caution comes first."
ANSWER = "What will it be? Say cannot for no idea. Say stand by if a caution comes first."
Show = Callable[[str, Sequence[tuple[str, str]]], None]  # heading, lines of number and words


class Trainer:
    """Leads one exercise. show: puts a numbered list where the trainee can read it."""

    def __init__(self, exercise: Exercise, ears: Ears, voice: Voice, *, show: Show, best: BestOrder) -> None:
        self._exercise, self._ears, self._voice = exercise, ears, voice
        self._show, self._best = show, best
        self._faults = ("none", *sorted(exercise.circuit.faults()))

    def run(self) -> Score:
        """To the debrief. Raises StopTest when the trainee leaves or is gone."""
        codes = ", ".join(self._exercise.codes) or "none"
        self._voice.say(f"{self._exercise.job.flow.title}. Codes stored: {codes}.")
        self._voice.say(WELCOME)
        self._show("Checks", [(str(c.number), f"{c.words} ({c.detail})") for c in self._exercise.choices])
        while self._exercise.named is None:
            self._once()
        result = score(self._exercise, self._best)
        for line in debrief(result):
            self._voice.say(line)
        return result

    def _once(self) -> None:
        number = self._ask(HOW, "digits", lambda words, command: "enough" if command == "enough" else _number(words))
        if number == "enough":
            self._name()
            return
        try:
            step = self._exercise.choose(int(number))
        except PracticeError as error:
            self._voice.say(str(error))
            return
        self._voice.say(step.say)
        predicted, minded = self._predict()
        made = self._exercise.make(predicted=predicted, minded=minded)
        self._tell(made)

    def _predict(self) -> tuple[float | str | None, bool]:
        """What the trainee expects, and whether they said that a caution comes first."""
        step = self._exercise.pending
        assert step is not None
        plain = step.measure is None or step.watch is not None
        minded = False

        def take(words: str, command: str | None) -> Any:
            nonlocal minded
            if command == "pause":
                minded = True
                return None
            if command == "cannot":
                return "cannot"
            if plain:
                return command if command in ("fine", "bad", "steady", "moved") else None
            return self._value(words)

        found = self._ask(ANSWER if plain else PREDICT, "commands" if plain else "reading", take, quiet=lambda: minded)
        return (None if found == "cannot" else found), minded

    def _value(self, words: str) -> float | None:
        step = self._exercise.pending
        spoken = parse_reading(words)
        if isinstance(spoken, NumberProblem) or step is None or step.measure is None:
            return None
        if spoken.value is None:
            return OVER_RANGE
        try:
            return to_base(spoken.value, spoken.unit, step.measure.quantity)
        except UnitMismatch:
            return None

    def _tell(self, made: Done) -> None:
        for name in made.due:
            caution = self._exercise.job.flow.cautions[name].text
            self._voice.say(f"Caution. {caution}" if made.minded else f"A caution came first: {caution}")
        near = {True: " Near enough.", False: " Not what you said.", None: ""}[made.close]
        self._voice.say(f"It reads {said(made.shown)}.{near}")
        self._voice.say(f"{made.after} of {made.before} suspects left.")

    def _name(self) -> None:
        self._show("Faults", [(str(n), fault_words(name)) for n, name in enumerate(self._faults)])

        def take(words: str, command: str | None) -> str | None:
            number = _number(words)
            if command == "back":
                return "back"
            return number if number is not None and int(number) < len(self._faults) else None

        number = self._ask("Name the fault by its number, or say go back.", "digits", take)
        if number != "back":
            self._exercise.name(self._faults[int(number)])

    def _ask(
        self,
        text: str,
        kind: ListeningKind,
        take: Callable[[str, str | None], Any],
        *,
        quiet: Callable[[], bool] = bool,
    ) -> Any:
        """Ask until something is taken. quiet: whether what was not taken was understood all the same."""
        self._voice.say(text)
        misses = 0
        while misses < MISSES:
            result = self._ears.listen(kind, timeout_s=WAIT_S)
            if isinstance(result, DeviceLost):
                raise StopTest(f"{result.device} lost: {result.reason}")
            if isinstance(result, Heard):
                command = parse_command(result.words)
                if command == "stop":
                    raise StopTest("stop test was said")
                taken = take(result.words, command)
                if taken is not None:
                    return taken
                if quiet():
                    self._voice.say("Good. And what will it read?")
                    continue
            misses += 1
            self._voice.say(text)
        raise StopTest("nobody answered")


def fault_words(name: str) -> str:
    """A fault as it stands in the list."""
    return suspect_words(name)[:1].upper() + suspect_words(name)[1:]


def said(shown: str) -> str:
    """A written reading as it is said; figures are left to the voice."""
    if shown == "OL":
        return "over range"
    figure, _, sign = shown.partition("\u202f")
    units = {"Ω": "ohm", "kΩ": "kohm", "MΩ": "Mohm", "°C": "degC", "°F": "degF", "%": "percent"}
    return f"{figure} {spoken_unit(units.get(sign, sign))}".strip()


def _number(words: str) -> str | None:
    """Digits said one by one, or a number as one says it: "one two" and "twelve" are 12."""
    digits = parse_digits(words)
    if digits is not None:
        return digits
    spoken = parse_reading(words)
    if isinstance(spoken, NumberProblem) or spoken.value is None or spoken.unit is not None:
        return None
    return str(int(spoken.value)) if spoken.value == int(spoken.value) and spoken.value >= 0 else None
