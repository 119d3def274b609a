"""The conversation as a technician meets it: what is said, what is taken, what is asked again."""

import pytest

from runner.report.telling import tell
from speech.fakes import QuietVoice, ScriptedEars
from speech.ports import DeviceLost, Heard, Rejected, Silence

# From the supply step to its reading: the caution, the probes, then the call-out with nobody objecting to the readback.
STAGED = ("affirm", "set")
GOOD = ("five point zero zero three volts", "")
HERE = (*STAGED, *GOOD)
# From the reading on: the control unit is out of reach, the sensor is unplugged and plugged in again.
# Its last reading ends the job, so it is called twice.
REST = ("cannot", "set", GOOD[0], *GOOD, "set")


def test_a_reading_inside_its_window_stands_unless_somebody_objects(run_session) -> None:
    done = run_session(*HERE, *REST)
    taken = done.of("measured")[0]
    assert (taken["value"], taken["unit"], taken["confirmed"], taken["attempts"]) == (5.003, "V", "implicit", 1)
    assert done.of("judged")[0]["outcome"] == "in"
    assert "Five point zero zero three volts, in." in done.said
    assert done.state.status == "not found today"
    assert not done.left, "everything in the script was wanted"


def test_the_caution_comes_before_its_step_and_is_acknowledged(run_session) -> None:
    done = run_session(*HERE, *REST)
    kinds = [event["type"] for event in done.events]
    assert kinds.index("caution") < kinds.index("measured")
    assert done.said[0].startswith("Caution.")
    assert done.of("caution")[0]["acknowledged"] is True


def test_a_reading_that_would_end_the_job_is_called_twice_and_must_agree(run_session) -> None:
    done = run_session(*STAGED, "four point one two zero volts", "four point one two one volts", "", "set")
    taken = done.of("measured")[0]
    assert (taken["value"], taken["confirmed"], taken["attempts"]) == (4.121, "called_twice", 2)
    assert done.state.finding["blames"] == ["supply-open"]
    assert done.state.status == "found, not proved"


def test_a_misheard_grave_value_is_repaired_by_calling_it_again(run_session) -> None:
    heard = (
        "one point zero zero three volts",
        "five point zero zero three volts",
        "five point zero zero three volts",
        "",
    )
    done = run_session(*STAGED, *heard, *REST)
    assert done.of("measured")[0]["value"] == 5.003
    assert done.of("judged")[0]["outcome"] == "in"
    assert any("I have One point zero zero three volts" in text for text in done.said)


def test_a_wrong_readback_is_objected_to_and_called_again(run_session) -> None:
    done = run_session(*STAGED, "five point zero one three volts", "wrong", *GOOD, *REST)
    assert done.of("measured")[0]["value"] == 5.003


def test_a_correction_is_taken_and_asked_for_once_more(run_session) -> None:
    script = ("five point zero one three volts", "correction five point zero zero three volts", *GOOD)
    done = run_session(*STAGED, *script, *REST)
    taken = done.of("measured")[0]
    assert (taken["value"], taken["confirmed"]) == (5.003, "called_twice")


def test_a_mumble_after_the_readback_is_not_taken_for_consent(run_session) -> None:
    done = run_session(*STAGED, GOOD[0], Rejected("", 0.3), "wrong", *GOOD, *REST)
    assert any(text.startswith("Is Five point zero zero three volts right?") for text in done.said)
    assert done.of("measured")[0]["confirmed"] == "implicit"


def test_an_answer_that_cannot_be_made_out_twice_is_an_objection_and_not_asked_for_for_ever(run_session) -> None:
    mumbled = Rejected("", 0.3)
    done = run_session(*STAGED, "five point zero one three volts", mumbled, mumbled, "fine", *GOOD, *REST)
    assert sum("right? Affirm, or wrong." in text for text in done.said) == 1
    assert len(done.of("corrected")) == 1
    assert done.of("measured")[0]["value"] == 5.003
    silent = run_session(*STAGED, GOOD[0], mumbled, "", mumbled, "", "affirm", *REST)
    assert silent.of("measured")[0]["confirmed"] == "yes", "silence is no answer, and no objection"


def test_where_an_objection_might_not_be_heard_silence_is_no_consent(run_session) -> None:
    loud = Heard(GOOD[0], 1.0, level_dbfs=-20.0, noise_dbfs=-27.0)  # 6 dB over the noise
    done = run_session(*STAGED, loud, "affirm", *REST)
    assert done.said.count("Loud here. Affirm, or wrong?") == 1
    assert done.of("measured")[0]["confirmed"] == "yes"
    unheard = run_session(*STAGED, loud, "", "", "wrong", *GOOD, *REST)
    assert "Is Five point zero zero three volts right? Affirm, or wrong." in unheard.said
    assert unheard.of("measured")[0]["confirmed"] == "implicit"


def test_a_value_without_a_unit_is_called_again(run_session) -> None:
    done = run_session(*STAGED, "five point zero zero three", "five point zero zero three volts", "", *REST)
    assert any("with the unit" in text for text in done.said)
    assert done.of("measured")[0]["attempts"] == 2


def test_a_poorly_heard_value_is_called_again(run_session) -> None:
    poor = Heard(GOOD[0], confidence=0.2)
    done = run_session(*STAGED, poor, *GOOD, *REST)
    assert any("I heard that poorly" in text for text in done.said)
    assert done.of("measured")[0]["confirmed"] == "called_twice"


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("four point point six volts", "I heard two points. Give me the digits."),
        ("about five volts", "Give me the digits."),
        ("five hundred ohms", "I heard ohms. This step wants volts. Call the volts."),
    ],
)
def test_what_is_no_reading_of_this_step_is_refused_aloud(run_session, words: str, answer: str) -> None:
    done = run_session(*STAGED, words, *GOOD, *REST)
    assert answer in done.said
    assert done.of("measured")[0]["value"] == 5.003


def test_millivolts_are_converted_where_volts_are_expected(run_session) -> None:
    done = run_session(*STAGED, "five zero zero three millivolts", "", *REST)
    assert done.of("measured")[0]["value"] == pytest.approx(5.003)


def test_minus_where_it_cannot_be_asks_for_swapped_leads(run_session) -> None:
    script = ("minus five point zero zero three volts", "minus five point zero zero three volts", "", "set", *GOOD)
    done = run_session(*STAGED, *script, *REST)
    assert any("Swap the leads" in text for text in done.said)
    assert done.of("measured")[0]["value"] == 5.003
    assert done.state.finding["status"] == "not_found"


def test_cannot_at_the_control_unit_is_remembered_for_the_session(run_session) -> None:
    done = run_session(*HERE, *REST)
    assert done.state.unreachable == {"unit"}
    assert done.of("branched")[1]["outcome"] == "cannot"


def test_what_was_unplugged_is_read_back_and_put_right(run_session) -> None:
    done = run_session(*HERE, *REST)
    assert any("sensor plug is out" in text for text in done.said)
    assert done.of("closed")[0]["put_right"] == []


def test_silence_repeats_the_question_and_help_lists_what_may_be_said(run_session) -> None:
    done = run_session("", "affirm", "help", "set", *GOOD, *REST)
    assert done.said.count(done.said[0]) == 2
    assert any("stand by" in text for text in done.said)


def test_why_and_limits_say_where_the_limit_comes_from(run_session) -> None:
    done = run_session(*STAGED, "why", "limits", *GOOD, *REST)
    assert "Everything else is a share of the supply." in done.said
    assert any(text.startswith("From 4.900 volts to 5.100 volts.") for text in done.said)


def test_stand_by_waits_for_go_ahead(run_session) -> None:
    done = run_session(*STAGED, "stand by", "", "go ahead", *GOOD, *REST)
    assert [event["type"] for event in done.events if event["type"] in ("paused", "resumed")] == ["paused", "resumed"]
    assert done.of("measured")[0]["value"] == 5.003


def test_go_back_takes_the_step_before_again(run_session) -> None:
    done = run_session(*HERE, "go back", "set", *GOOD, *REST)
    assert [event["value"] for event in done.of("measured")] == [5.003, 5.003, 5.003]
    assert done.of("went_back")[0]["to"] == "supply"


def test_stop_always_stops_and_says_what_is_still_apart(run_session) -> None:
    done = run_session(*HERE, "cannot", "set", "stop test")
    assert done.state.status == "stopped"
    assert any("sensor plug is out" in text for text in done.said)
    assert done.of("closed")[0]["put_right"] == ["sensor plug is out"]


def test_nobody_answering_ends_in_a_stop_that_can_be_resumed(run_session) -> None:
    done = run_session(*[""] * 20)
    assert done.state.status == "stopped"
    assert done.of("stopped")[0]["why"] == "nobody answered"


def test_a_lost_microphone_goes_on_at_the_keyboard_with_nothing_lost(run_session) -> None:
    written = QuietVoice()
    keyboard = ScriptedEars(
        *(Heard(w, confidence=1.0, source="keyboard") for w in (GOOD[0], "cannot", "set", GOOD[0], GOOD[0], "set"))
    )
    done = run_session(*STAGED, DeviceLost("microphone", "unplugged"), fallback=lambda: (keyboard, written))
    assert done.of("device_lost")[0]["device"] == "microphone"
    assert any("microphone is gone" in text for text in (*done.said, *written.said))
    assert [event["confirmed"] for event in done.of("measured")] == ["typed", "typed"]
    assert done.state.status == "not found today"


def test_a_lost_loudspeaker_is_replaced_and_the_sentence_said_again(run_session) -> None:
    written = QuietVoice()
    typed = ("set", GOOD[0], "cannot", "set", GOOD[0], GOOD[0], "set")
    keyboard = ScriptedEars(*(Heard(w, confidence=1.0, source="keyboard") for w in typed))
    done = run_session("affirm", voice=QuietVoice(lost_at=1), fallback=lambda: (keyboard, written))
    assert done.of("device_lost")[0]["device"] == "loudspeaker"
    assert any("Sensor supply at the plug." in text for text in written.said)


def test_every_event_is_stored_before_its_words_are_spoken(run_session, monkeypatch) -> None:
    spoken_before_stored = []
    voice = QuietVoice()
    done_events: list = []

    def say(text: str):
        if not any(event.get("text") == text for event in done_events):
            spoken_before_stored.append(text)
        return QuietVoice.say(voice, text)

    from runner.record import logbook

    write = logbook.ListStore.append

    def append(self, event):
        done_events.append(event)
        return write(self, event)

    monkeypatch.setattr(logbook.ListStore, "append", append)
    monkeypatch.setattr(voice, "say", say)
    run_session(*HERE, *REST, voice=voice)
    assert spoken_before_stored == []


def test_a_resumed_session_goes_on_at_its_step(run_session) -> None:
    first = run_session(*HERE, "stop test")
    again = run_session(*REST, before=(*first.events, {"type": "resumed"}))
    assert again.of("measured")[0]["step"] == "plug-off"
    assert again.state.status == "not found today"


def test_a_repair_is_proved_by_the_check_that_failed(run_session) -> None:
    low = ("four point one two zero volts", "four point one two one volts", "")
    found = run_session(*STAGED, *low, "set")
    proved = run_session("set", *GOOD, "set", before=(*found.events, {"type": "resumed"}), prove=True)
    assert proved.of("proof_run")[0] == {**proved.of("proof_run")[0], "steps": {"supply": "in"}, "passed": True}
    assert proved.state.status == "proved"
    assert [m.value for m in proved.state.replaced] == [4.121], "before and after are both on the record"


def test_a_repair_that_did_not_help_is_not_proved(run_session) -> None:
    low = ("four point one two zero volts", "four point one two one volts", "")
    found = run_session(*STAGED, *low, "set")
    again = run_session("set", *low, "set", before=(*found.events, {"type": "resumed"}), prove=True)
    assert again.state.status == "found, not proved"


def test_nothing_heard_is_not_a_reading(run_session) -> None:
    done = run_session(*STAGED, Silence(30), Rejected("", 0.1), *GOOD, *REST)
    assert done.of("measured")[0]["value"] == 5.003


def test_a_check_whose_window_rests_on_a_missing_reading_is_skipped_aloud(run_session) -> None:
    done = run_session("set", "set", GOOD[0], *GOOD, "set", at="same-again")
    assert any("an earlier reading" in text for text in done.said)
    assert done.of("unjudged")[0]["step"] == "same-again"
    assert done.of("branched")[0]["outcome"] == "cannot"
    assert not done.state.unreachable, "a missing reading says nothing about who can reach what"


def test_who_is_never_understood_is_not_asked_for_ever(run_session) -> None:
    mumble = Rejected("", 0.2)
    done = run_session(*[mumble] * 4, *(("go ahead", mumble) * 12))
    assert done.of("stopped")[0]["why"] == "not understood"
    assert done.state.status == "stopped", "it can be resumed at the keyboard"


def test_a_reading_that_is_never_sure_ends_in_a_stop_that_can_be_resumed(run_session) -> None:
    done = run_session(*STAGED, *["five point zero zero one"] * 17)
    assert done.of("stopped")[0]["why"] == "not understood"
    assert not done.of("measured")


def test_a_pin_told_in_full_once_is_told_by_its_place_after_and_in_full_when_asked_again(run_session) -> None:
    script = (*HERE, "set", *GOOD, *GOOD, "set", "say again", GOOD[0], *GOOD, "set")
    done = run_session(*script)
    assert any("sensor plug, wire side, latch up, far right, brown" in text for text in done.said[:3])
    short = "Black to sensor plug, far right. Red to far left, orange. Key on. Volts?"
    full = [text for text in done.said[done.said.index(short) + 1 :] if "wire side, latch up, far right" in text]
    assert full and full[0].endswith("Key on. Call the volts.")


def test_whether_set_answers_and_why_a_call_is_repeated_are_said_in_full_once(run_session) -> None:
    no_unit = ("five point zero zero three", *GOOD)
    done = run_session(*HERE, "set", *no_unit, *no_unit, "set", GOOD[0], *GOOD, "set")
    assert [text.endswith("Say set.") for text in done.said if "Black to" in text] == [True, False, False]
    assert [text for text in done.said if "ith the unit" in text] == [
        "Five point zero zero three volts. Call it again, with the unit.",
        "Five point zero zero three volts. With the unit.",
    ]


def test_a_check_keeps_its_own_name_on_the_record_when_its_sentence_is_not_said(run_session) -> None:
    done = run_session(*HERE, "set", *GOOD, *GOOD, "set", GOOD[0], *GOOD, "set")
    assert not any(text.startswith("Supply with the sensor unplugged. Black to") for text in done.said)
    titles = {visit.step: visit.title for visit in tell(done.events).visits}
    assert titles["plug-off"] == "Supply with the sensor unplugged"
