"""Words the ears can know, each with the ways people say it, in ARPAbet phones without stress.

Sources: the phone names are ARPAbet; the spelling alphabet and the digits fife, tree, fower, niner and
tousand are those of ICAO Annex 10 volume II, 5.2.1.3 and 5.2.1.4.3, kept beside the plain English ones.
The recogniser knows phones, not words: a line added to model/lexicon.txt is heard without new training.
"""

from collections.abc import Iterable
from functools import cache
from pathlib import Path

SILENCE = "SIL"
PHONES: tuple[str, ...] = (
    SILENCE,
    *("AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY"),
    *("F", "G", "HH", "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY"),
    *("P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH"),
)
"""Phone i has Kaldi number i + 1 and network output i; output 0 is silence and the CTC blank."""

TABLE = Path(__file__).parent / "model" / "lexicon.txt"

Pronunciation = tuple[str, ...]


class UnknownWordError(ValueError):
    """A word the ears were asked to know has no pronunciation."""

    def __init__(self, word: str) -> None:
        self.word = word
        super().__init__(f"no pronunciation for the word {word!r}; add a line for it to speech/model/lexicon.txt")


def read_table(text: str) -> dict[str, tuple[Pronunciation, ...]]:
    """Lines of `word: phones | phones` into a table. Raises ValueError with the line of a mistake."""
    table: dict[str, tuple[Pronunciation, ...]] = {}
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        word, _, ways = line.partition(": ")
        spoken = tuple(tuple(way.split()) for way in ways.split("|"))
        strange = [phone for way in spoken for phone in way if phone not in PHONES[1:]]
        if strange or not all(spoken) or word in table:
            why = f"no phone is called {strange[0]}" if strange else "given twice" if word in table else "has no phones"
            raise ValueError(f"line {number}: {word!r}: {why}; a line is `word: PHONE PHONE | PHONE PHONE`")
        table[word] = spoken
    return table


@cache
def _lexicon() -> dict[str, tuple[Pronunciation, ...]]:
    return read_table(TABLE.read_text(encoding="utf-8"))


def words() -> frozenset[str]:
    """Every word with a pronunciation."""
    return frozenset(_lexicon())


def pronounce(word: str) -> tuple[Pronunciation, ...]:
    """Ways to say a word, the commonest first. Raises UnknownWordError naming the word.

    >>> pronounce("five")
    (('F', 'AY', 'V'), ('F', 'AY', 'F'))
    """
    try:
        return _lexicon()[word.lower()]
    except KeyError:
        raise UnknownWordError(word) from None


def missing(wanted: Iterable[str]) -> list[str]:
    """Words without a pronunciation, sorted, each once; an empty list means all can be heard.

    >>> missing(["five", "blorp"])
    ['blorp']
    """
    return sorted({word for word in wanted if word.lower() not in _lexicon()})
