"""The fixed sentences of the dialogue. Short, plain, the thing to do last; read them aloud with gloves on."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

OUTCOME: Mapping[str, str] = MappingProxyType(
    {
        "in": "In.",
        "low": "Low.",
        "high": "High.",
        "unsteady": "Not steady.",
        "doubtful": "Too close to call.",
        "open_line": "Open line.",
    }
)

EARCON: Mapping[str, str] = MappingProxyType({"in": "in", "doubtful": "doubtful", "unsteady": "doubtful"})
"""Tone after a readback; any other outcome has the one for "out"."""

RETRY: Mapping[str, str] = MappingProxyType(
    {
        "reading": "I heard no reading. Call it again.",
        "commands": "Not understood. Say it again.",
        "yes_no": "Say affirm, or no.",
        "codes": "Say the codes digit by digit, or none.",
        "digits": "Digits only. Say them again.",
        "initials": "Spell your initials: alfa, bravo.",
        "choice": "Say one of the words I listed.",
    }
)

HELP: Mapping[str, str] = MappingProxyType(
    {
        "reading": "Call the reading with its unit. Or say: say again, why, limits, cannot, go back, stand by, stop test.",
        "commands": "Answer with the word I asked for. Or say: say again, why, cannot, go back, stand by, stop test.",
    }
)

AGAIN_BECAUSE: Mapping[str, str] = MappingProxyType(
    {
        "grave": "That decides it. Seat both probes, and call it again.",
        "near_limit": "Close to the limit. Call it again from the meter.",
        "unit": "Call it again, with the unit.",
        "poorly_heard": "I heard that poorly. Call it again.",
        "out": "Call it again from the meter.",
        "always": "Call it again from the meter.",
        "digits": "Call every digit the meter shows, once more.",
        "zero": "Press both probes in, and call it again.",
        "over_range": "Press both probes in, and call it again.",
        "doubtful": "Too close for this meter. Lowest range, good contact, call it again.",
        "unsteady": "Hold the probes still. Call it again.",
        "fits_nothing": "No fault left explains that. Check the probes, and call it again.",
        "teens": "Teens and tens sound alike. Call it again.",
    }
)

AGAIN_IN_SHORT: Mapping[str, str] = MappingProxyType(
    {
        "grave": "Seat both again, and call it.",
        "near_limit": "Close. Call it again.",
        "unit": "With the unit.",
        "poorly_heard": "Poorly heard. Again.",
        "out": "Call it again.",
        "always": "Call it again.",
        "digits": "Every digit, again.",
        "zero": "Press both in, and call it again.",
        "over_range": "Press both in, and call it again.",
        "doubtful": "Too close. Good contact, call it again.",
        "unsteady": "Hold still. Again.",
        "fits_nothing": "Nothing left explains that. Check the probes, again.",
        "teens": "Again.",
    }
)
"""The same once it has been said in full in this session."""

AGAIN_BY_EYE: Mapping[str, str] = MappingProxyType(
    {
        "grave": "That decides it. Read it once more.",
        "near_limit": "Close to the limit. Read it once more.",
        "zero": "Read it once more.",
        "over_range": "Read it once more.",
        "doubtful": "Too close to call. Read it once more.",
        "fits_nothing": "No fault left explains that. Read it once more.",
    }
)
"""The same where no probe is held: a display, a thermometer, a clamp."""

DIGIT_BY_DIGIT = " Digit by digit."  # after what asks for a second call of what was called as a number
CAUTION = "Caution."
DEFERS = "Follow the maker's manual."
ACKNOWLEDGE = "Affirm?"
WAITING = "I am waiting. Say go ahead, or press the button."
PAUSED = "Standing by. Say go ahead."
GOING_ON = "Going on."
NOTHING_BEFORE = "There is no step before this one."
NO_LIMITS = "This step has no limits."
NO_REASON = "No reason is written for this step."
NOTED = "Speak the note now."
NOTE_KEPT = "Note kept."
SWAPPED = "Minus, where minus cannot be. Swap the leads: {places} Say set."
STOPPED = "Stopped. Everything so far is kept."
DISAGREE = "I have {first}, and {second}. Call it once more."
NOT_RIGHT = "Call it again."
NOW_CALL = "Call the reading."
RIGHT = "Is {value} right? Affirm, or wrong."
IN_NOISE = "Loud here. Affirm, or wrong?"
OR_IS_IT = "Or is it {value}? Affirm, or wrong."
NOT_BOTH = "It cannot be both. Call it again."
NO_UNIT = "I cannot hear the unit. Come closer to the microphone, and call value and unit."
CLOSER = "I cannot be sure of it. Come closer to the microphone, and call it again."
NEITHER = "Then call it again."
TOO_LOUD = "Too loud here to be sure. Come closer to the microphone, or wait, and call it again."
TOO_FINE = "That is more digits than this meter shows. Call it again."
UNREACHABLE = "Noted: no access there for this job."
NO_WINDOW = "Skipped: an earlier reading that this one rests on is missing."
HEADSET = "Headset. Say enough to cut me short. Wear hearing protection where you must raise your voice."
HEADSET_UNKNOWN = "Headset of unknown level. Keep it low, or have it measured. Say enough to cut me short."
NO_DECISION = "This meter cannot decide that. Recorded as doubtful."
STARTER_RESTS = "Let the starter rest {seconds} seconds."
THEN_SET = "Then say set."
NO_ADVICE = "No odds are worked out for this flow."
FITS_NOTHING_STILL = "Taken. It fits nothing I know. Recorded as doubtful."
STILL_MINUS = "Still minus. Recorded as you call it."
CLOSING = "The meter once more, before the job is closed."
PROVING = "Proof of the repair."
PROVED = "Proved. The repair holds."
NOT_PROVED = "Not proved. The fault is still there, or there is another."
NOT_UNDERSTOOD = "not understood"  # why a session stopped, on the record
REPEATING = "I mishear you often. When the job is done, I can learn your voice."
REPEATING_UNKNOWN = "I mishear you often. With your initials, I could learn your voice."
FIT_SET_ASIDE = "I mishear you often. From here on, the fit to your voice is left out."
FIT_NOW = "Learn your voice now? Ten readings, then two minutes' wait. Affirm, or no."
REPAIR_FIRST = "Make the repair, then resume this job to prove it."


def listing(items: Sequence[str]) -> str:
    """Things in a row as a person says them.

    >>> listing(["the plug", "the hose", "the fuse"])
    'the plug, the hose, and the fuse'
    """
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])}, and {items[-1]}"
