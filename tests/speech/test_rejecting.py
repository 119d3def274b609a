"""Development clips for refusal, and costs put on a grammar by the sweep: no test voice may choose a setting."""

from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("soxr", reason="optional: needs the extra train")

from speech.graph import WordGraph
from speech.training import noises, people, rejecting, speakers
from speech.training.sweep import Setting, changed


def test_no_person_of_the_test_is_among_those_that_choose() -> None:
    tested = {"lucas", "announcer", "reader", "cards", "dhd"}
    assert not tested & set(rejecting.LEARNED)
    assert not any(name.split()[-1] in voice for name in speakers.unseen() for voice in speakers.development())


def test_the_announcers_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="test person"):
        list(rejecting.groups(tmp_path, folder=None, abroad=[people.ANNOUNCER], only=["abroad"]))


def test_noise_of_another_bank_is_other_noise_at_the_same_level() -> None:
    one, other = (noises.noise("ventilation", 16000, np.random.default_rng(1), bank=bank) for bank in (0, 1))
    assert not np.allclose(one, other)
    assert np.sqrt(np.mean(other**2)) == pytest.approx(1.0)


def test_a_setting_puts_its_costs_on_the_grammar() -> None:
    graph = WordGraph(((0, 1, "one", 1.0), (1, 2, None, 0.5)), {1: 3.0, 2: 0.0})
    assert changed(graph, word=0.5, factor=2.0, no_unit=1.0) == WordGraph(
        ((0, 1, "one", 2.5), (1, 2, None, 1.0)), {1: 1.0, 2: 0.0}
    )
    assert Setting.parse("near:beam=10,entry=5").changes == {"beam": 10.0, "entry": 5.0}
