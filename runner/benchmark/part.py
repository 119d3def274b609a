"""Says, listens and answers in a process of its own, on the virtual sound card; prints JSON lines."""

import json
import sys
import time

from speech.playing_voice import PlayingVoice
from speech.ports import DeviceLost
from speech.pyttsx3_voice import Synthesiser
from speech.recogniser import Recogniser
from speech.sound_devices import DeviceError, Loudspeaker, MicrophoneSource, devices
from speech.vosk_ears import VoskEars


def tell(what: str, **facts: object) -> None:
    print(json.dumps({"what": what, "at_s": time.monotonic(), **facts}), flush=True)


def main(kinds: list[str]) -> None:
    try:
        tell("devices", names=[one.name for one in devices()])
        voice = PlayingVoice(Loudspeaker(), Synthesiser(cache=None))
        ears = VoskEars(Recogniser(kinds=["reading", "commands"]), MicrophoneSource())
    except DeviceError as problem:
        tell("no device", sentence=str(problem))
        return
    voice.prepare(["Call the volts.", "I heard you."])
    for kind in kinds:
        said = voice.say("Call the volts.")
        if isinstance(said, DeviceLost):
            tell("voice lost", reason=said.reason)
            break
        tell("listening", kind=kind)
        heard = ears.listen(kind, timeout_s=6.0)  # type: ignore[arg-type]
        tell(type(heard).__name__, words=getattr(heard, "words", ""), reason=getattr(heard, "reason", ""))
        if isinstance(heard, DeviceLost):
            break
        voice.say("I heard you.")
    started_s = time.monotonic()
    ears.close()
    voice.close()
    tell("closed", took_s=time.monotonic() - started_s)


if __name__ == "__main__":
    main(sys.argv[1:])
