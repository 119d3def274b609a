"""espeak-ng in this process through its C library: sound as numpy, and the phones it says.

One process speaks with one library; run several processes for several voices at a time.
"""

import ctypes
import os
from pathlib import Path

import numpy as np

RATE_HZ = 22050

_IPA = {
    "tʃ": "CH", "dʒ": "JH", "aɪ": "AY", "aʊ": "AW", "ɔɪ": "OY", "oʊ": "OW", "əʊ": "OW", "eɪ": "EY", "eə": "EH R", "iə": "IY AH",
    "ɪə": "IH R", "ʊə": "UH R", "ɜː": "ER", "ɚ": "ER", "ɝ": "ER", "əl": "AH L", "i": "IY", "ɪ": "IH", "ᵻ": "IH", "ɛ": "EH", "e": "EH",
    "æ": "AE", "a": "AE", "ɑ": "AA", "ɒ": "AA", "ɔ": "AO", "o": "AO", "ʌ": "AH", "ə": "AH", "ɐ": "AH", "u": "UW", "ʊ": "UH", "p": "P",
    "b": "B", "t": "T", "d": "D", "k": "K", "ɡ": "G", "g": "G", "f": "F", "v": "V", "θ": "TH", "ð": "DH", "s": "S", "z": "Z",
    "ʃ": "SH", "ʒ": "ZH", "h": "HH", "m": "M", "n": "N", "ŋ": "NG", "l": "L", "ɫ": "L", "ɹ": "R", "r": "R", "j": "Y", "w": "W",
    "ɾ": "T", "ʔ": "T", "x": "K",
}  # fmt: skip


def arpabet(ipa: str) -> list[str]:
    """Phones of espeak-ng's IPA; marks of stress and length are dropped."""
    phones: list[str] = []
    at = 0
    while at < len(ipa):
        for size in (2, 1):
            piece = ipa[at : at + size]
            if len(piece) == size and piece in _IPA:
                phones += _IPA[piece].split()
                at += size
                break
        else:
            at += 1
    return [phone for i, phone in enumerate(phones) if not (phone == "R" and i and phones[i - 1] == "ER")]


class Espeak:
    """The library with its data folder, loaded once a process."""

    def __init__(self, library: Path | None = None, data: Path | None = None) -> None:
        if library is None:
            import espeakng_loader

            library, data = Path(espeakng_loader.get_library_path()), Path(espeakng_loader.get_data_path())
        os.environ["ESPEAK_DATA_PATH"] = str(data)
        self._lib = ctypes.CDLL(str(library))
        self._lib.espeak_TextToPhonemes.restype = ctypes.c_char_p
        rate = self._lib.espeak_Initialize(1, 0, str(data).encode() if data else None, 0)  # 1: sound to the callback
        if rate != RATE_HZ:
            raise RuntimeError(f"espeak-ng started at {rate} Hz, wanted {RATE_HZ}")
        self._blocks: list[np.ndarray] = []
        kind = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
        self._callback = kind(self._take)
        self._lib.espeak_SetSynthCallback(self._callback)

    def _take(self, wav: "ctypes._Pointer[ctypes.c_short]", count: int, _events: object) -> int:
        if wav and count > 0:
            self._blocks.append(np.ctypeslib.as_array(wav, (count,)).copy())
        return 0

    def choose(self, voice: str, *, words_per_minute: int = 160, pitch: int = 50, spread: int = 50) -> bool:
        """Take a voice such as `en-us+klatt2`; False when the library has none of that name."""
        if self._lib.espeak_SetVoiceByName(voice.encode()) != 0:
            return False
        for parameter, value in ((1, words_per_minute), (3, pitch), (4, spread)):
            self._lib.espeak_SetParameter(parameter, value, 0)
        return True

    def say(self, text: str) -> np.ndarray:
        """Sound of a text, int16 at RATE_HZ."""
        self._blocks.clear()
        data = text.encode()
        self._lib.espeak_Synth(data, ctypes.c_size_t(len(data) + 1), 0, 1, 0, 1, None, None)
        self._lib.espeak_Synchronize()
        return np.concatenate(self._blocks) if self._blocks else np.zeros(0, np.int16)

    def phones(self, text: str) -> list[str]:
        """Phones of a text in the chosen voice."""
        pointer = ctypes.c_char_p(text.encode())
        parts: list[str] = []
        while pointer.value:
            said = self._lib.espeak_TextToPhonemes(ctypes.byref(pointer), 1, 0x02)
            parts.append((said or b"").decode())
            if not pointer.value:
                break
        return arpabet(" ".join(parts))
