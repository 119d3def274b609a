"""What the live device tests run in a process of its own, on the virtual sound card; prints JSON lines.

`back`: listens until the device is lost, then waits for it to come back. `leak`: a headset whose own voice leaks.
"""

import json
import sys
import time

from runner.talk import live
from runner.talk.live import Devices, back_again, open_devices
from speech.headset import Headset
from speech.ports import DeviceLost

PROMPT = "Red to sensor plug, wire side, latch up, second from left, white with green. Key on. Call the volts."


def tell(what: str, **facts: object) -> None:
    print(json.dumps({"what": what, "at_s": time.monotonic(), **facts}), flush=True)


def back() -> None:
    live.REOPENINGS = 8
    ears, voice = open_devices(Devices())
    tell("open")
    result = ears.listen("commands", timeout_s=30.0)
    tell(type(result).__name__)
    assert isinstance(result, DeviceLost)
    tell("loudspeaker", result=type(voice.say("The microphone is gone.")).__name__)
    ears.close()
    voice.close()
    ears, voice = back_again(Devices())
    tell("back", ears=type(ears).__name__, said=type(voice.say("Go on where you were.")).__name__)
    ears.close()
    voice.close()


def leak() -> None:
    headset, _ = open_devices(Devices(headset=True))
    assert isinstance(headset, Headset)
    headset.say("Ready.")
    for number in range(3):
        tell("saying", number=number)
        headset.say(PROMPT)
        tell("said", number=number, cut=headset.cut)
    headset.close()


if __name__ == "__main__":
    {"back": back, "leak": leak}[sys.argv[1]]()
