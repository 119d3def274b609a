"""What is said must be short, and made of what a voice can say."""

import re

from flows.rules.subject import Subject

MOST_WORDS = 25
SPEAKABLE = re.compile(r"[A-Za-z0-9 ,.;:?!'-]*")
ENDS = re.compile(r"(?<=[.?!])\s+")


def spoken_words(text: str) -> int:
    """Words in a sentence as a voice says it: figures one by one, 150 a minute, so that 25 are ten seconds.

    >>> spoken_words("Call the volts."), spoken_words("Set it to 4.75 V."), spoken_words("Codes P0107, P0113.")
    (3, 8, 11)
    """
    return sum(max(1, len(re.findall(r"\d|[.](?=\d)|[A-Za-z']+", word))) for word in text.split())


def sentences(subject: Subject) -> None:
    """long-sentence, unspeakable: in say, long, why, doubts and do, of steps, findings and cautions."""
    for name, step in subject.flow.steps.items():
        _short(subject, name, "say", step.say)
        for key in ("long", "why"):
            _each(subject, name, key, getattr(step, key))
        for text in step.doubts.values():
            _each(subject, name, "doubts", text)
        for text in (step.say, *(step.watch.places if step.watch else ())):
            _speakable(subject, name, "say", text)
    for name, finding in subject.flow.findings.items():
        _short(subject, name, "say", finding.say)
        _speakable(subject, name, "say", finding.say)
        _each(subject, name, "do", finding.do)
    for caution in subject.flow.cautions.values():
        for text in ENDS.split(caution.text):
            if spoken_words(text) > MOST_WORDS or not SPEAKABLE.fullmatch(text):
                user = next(n for n, step in subject.flow.steps.items() if caution.name in step.cautions)
                what = f"caution '{caution.name}' is too long or cannot be spoken: '{text}'"
                subject.problem(user, "cautions", rule="long-sentence", what=what, fix="shorten it in cautions.yaml")


def _short(subject: Subject, name: str, key: str, text: str) -> None:
    count = spoken_words(text)
    if count > MOST_WORDS:
        what = f"'{name}' says {count} words in one breath"
        fix = f"at most {MOST_WORDS}; the rest goes to `long:`"
        subject.problem(name, key, rule="long-sentence", what=what, fix=fix)


def _each(subject: Subject, name: str, key: str, text: str) -> None:
    _speakable(subject, name, key, text)
    for sentence in ENDS.split(text):
        count = spoken_words(sentence)
        if count > MOST_WORDS:
            what = f"a sentence of '{name}' has {count} words"
            fix = f"at most {MOST_WORDS}; make two of it"
            subject.problem(name, key, rule="long-sentence", what=what, fix=fix)


def _speakable(subject: Subject, name: str, key: str, text: str) -> None:
    strange = sorted({character for character in text if not SPEAKABLE.fullmatch(character)})
    if strange:
        what = f"'{name}' has what a voice cannot say: {' '.join(strange)}"
        subject.problem(name, key, rule="unspeakable", what=what, fix="write it as words: percent, ohms, and, to")
