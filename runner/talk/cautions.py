"""Dangers before their step: those of one step in as few breaths as they fit, each breath acknowledged once."""

from collections.abc import Sequence
from dataclasses import dataclass

from flows.model import Caution
from runner.talk import wording

MOST_WORDS = 25  # in one breath


@dataclass(frozen=True)
class Breath:
    """What is said at once, the same with whom to follow, and the cautions in it with their own words."""

    text: str
    long: str
    cautions: tuple[tuple[str, str], ...]  # name, words


def breaths(cautions: Sequence[Caution], *, told: bool) -> list[Breath]:
    """Every caution once, in order as far as they fit together.

    told: whom to follow was said with an earlier caution of the session; else the first breath that has it says it.

    >>> both = [Caution(name="hot", text="A hot engine burns. Follow the maker's manual."),
    ...         Caution(name="key", text="Key off first. Follow the maker's manual.")]
    >>> [breath.text for breath in breaths(both, told=False)]
    ["Caution. A hot engine burns. Key off first. Follow the maker's manual. Affirm?"]
    >>> breaths(both, told=True)[0].text
    'Caution. A hot engine burns. Key off first. Affirm?'
    """
    groups: list[list[Caution]] = []
    for caution in cautions:
        fits = (g for n, g in enumerate(groups) if _words([*g, caution], defers=n == 0 and not told) <= MOST_WORDS)
        room = next(fits, None)
        if room is None:
            groups.append([caution])
        else:
            room.append(caution)
    return [
        Breath(
            _said(group, defers=number == 0 and not told),
            _said(group, defers=True),
            tuple((one.name, _own(one)) for one in group),
        )
        for number, group in enumerate(groups)
    ]


def _own(caution: Caution) -> str:
    return caution.text.removesuffix(wording.DEFERS).strip()


def _said(group: Sequence[Caution], *, defers: bool) -> str:
    follow = [wording.DEFERS] if defers and any(one.text.endswith(wording.DEFERS) for one in group) else []
    return " ".join([wording.CAUTION, *(_own(one) for one in group), *follow, wording.ACKNOWLEDGE])


def _words(group: Sequence[Caution], *, defers: bool) -> int:
    return len(_said(group, defers=defers).split())
