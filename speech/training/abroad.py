"""English by diphone voices of other languages, recorded from people: an accent by the sounds their speakers own.

Each English phone becomes the nearest phones of the language; an American voice of festival gives the seconds and the
melody [Hz], which are moved to where the speaker's own pitch lies. The label stays the English phones. Debian's packages
festvox-italp16k, -itapc16k, -czech-dita, -krb, -machac and -ph, -suopuhe-lj and -mv, and -hi-nsk, -mr-nsk or -te-nsk,
which hold one speaker.
"""

import functools
import itertools
import re
import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np

from speech.lexicon import PHONES
from speech.training.neural import _STRESS_LATER, VOWELS, _way
from speech.training.voices import Clip, _read_wav, phones_of

FOLDER = Path("/usr/share/festival/voices")
MELODY_HZ = 105
"""About where the American speaks."""
PEAK = 24000

Ways = Mapping[str, str]
"""English phone (AX: the weak AH) to phones of a language, the likeliest way first, `|` between ways; after `;` makeshifts.

Empty where the language has nothing near: a sentence with that phone is not said.
"""


def _table(text: str) -> Ways:
    """Rows of a phone and its ways; a phone without a row is written alike in small letters."""
    rows = (row.strip().partition(" ") for row in text.split(","))
    return {phone: phone.lower() for phone in PHONES[1:]} | {phone: ways for phone, _, ways in rows}


ITALIAN = _table("""
    AA a1|O1|a, AE a1|E1;E, AH a1|a, AX a|e, AO O1|O|o, AW a1 u, AY a1 i, CH tS, DH d|dz, EH E1|E, ER E1 r|e r, EY e1 i,
    HH, IH i|i1, IY i1;i, JH dZ, NG ng g;n g, OW o1 u;o u, OY O1 i;o i, SH S, TH t|f, UH u|u1, UW u1;u, W w;u, Y j;i,
    Z z|dz;s, ZH Z|dZ;S
""")
CZECH = _table("""
    AA a:|o, AE e|a, AH a, AX e|a, AO o:;o, AW a u, AY a j, B b;p, CH c~, D d;t, DH d|z, EH e, ER e: r;e r, EY e: j;e j,
    G g;k, HH h|ch, IH i, IY i:;i, JH dz~;c~, NG n* k|n* g;n g;n k, OW o u, OY o j, SH s~, TH t|s|f, UH u, UW u:;u,
    V v;f, W u|v, Y j, Z z;s, ZH z~;s~
""")
FINNISH = _table("""
    AA a:|o, AE @:|@, AH a, AX 7|a, AO o:, AW a u, AY a i, B b;p, CH t S;t s, D d;t, DH d;t, EH e, ER 7: r;7 r;7:,
    EY e i, G g;k, HH h, IH i, IY i:;i, JH d S;d s;d j, NG N;N:;N k;n k, OW o u;o: u, OY o i, SH S;s, TH T|t|s, UH u,
    UW u:;u, W w;v|u, Y j;i, Z s, ZH S;s
""")
INDIAN = _table("""
    AE eh|aa, AH a, AX a, AO oo|aa, AW aa v;aw, AY aa y, D D|dh, ER a r, EY ee, HH h, JH j, NG n g, OW oo|oh,
    OY oo y|oh y, T T|th, W v|uh, Z s|j, ZH sh|j
""")


@dataclass(frozen=True)
class Voice:
    """A file of diphones under FOLDER, the language's phones, its silence and a weak vowel, the speaker's pitch [Hz].

    The factor keeps its sounds from clipping, which festival's own gain does not.
    """

    group: str
    ways: Ways
    links: tuple[str, str]
    pitch_hz: float
    factor: float = 0.5


VOICES: Mapping[str, Voice] = {
    "lp": Voice("italian/lp_diphone/group/lp_diphone.group", ITALIAN, ("#", "e"), 197, 0.25),
    "pc": Voice("italian/pc_diphone/group/pc_diphone.group", ITALIAN, ("#", "e"), 110, 0.25),
    "dita": Voice("czech/czech_dita/group/dita.group", CZECH, ("#", "e"), 217),
    "krb": Voice("czech/czech_krb/group/krb.group", CZECH, ("#", "e"), 245),
    "machac": Voice("czech/czech_machac/group/machac.group", CZECH, ("#", "e"), 80),
    "ph": Voice("czech/czech_ph/group/ph.group", CZECH, ("#", "e"), 129),
    "lj": Voice("finnish/suo_fi_lj_diphone/group/ljlpc.group", {**FINNISH, "W": "v | u"}, ("#", "7"), 190),
    "mv": Voice("finnish/hy_fi_mv_diphone/group/mvlpc.group", FINNISH, ("#", "7"), 87, 1.0),
    "nsk": Voice("*/*_NSK_diphone/group/NSKlpc.group", INDIAN, ("pau", "a"), 160),
}


def have() -> list[str]:
    """Voices installed here, none without festival and its voice kal_diphone."""
    if shutil.which("festival") is None or not (FOLDER / "english/kal_diphone").exists():
        return []
    return [name for name, voice in VOICES.items() if any(FOLDER.glob(voice.group))]


@functools.cache
def _quieter(path: Path, factor: float) -> bytes:
    """A file of diphones with its sounds, 8-bit mu-law behind headers of 24 bytes, made quieter."""
    raw, code = np.frombuffer(path.read_bytes(), np.uint8).copy(), np.arange(256)
    size = ((((~code & 15) << 3) + 132) << ((~code & 112) >> 4)) - 132
    value = np.where(code < 128, -size, size)
    table = np.abs(value - factor * value[:, None]).argmin(1).astype(np.uint8)
    for found in re.finditer(rb"\.snd\x00\x00\x00\x18(.{4})\x00\x00\x00\x01", raw.tobytes(), re.DOTALL):
        sound = raw[found.start() + 24 :][: int.from_bytes(found[1], "big")]
        sound[:] = table[sound]
    return raw.tobytes()


@functools.cache
def diphones(path: Path) -> frozenset[tuple[str, str]]:
    """Pairs of phones that a file of diphones holds."""
    rows = re.findall(rb"^(\S+)-(\S+) \d+ \d+ \d+$", path.read_bytes(), re.MULTILINE)
    return frozenset((a.decode("ascii"), b.decode("ascii")) for a, b in rows)


Segment = tuple[str, float, tuple[tuple[float, float], ...]]
"""An English phone (or SIL) as the American says it: seconds, and pitches (seconds from its start, Hz)."""


def _spelt(way: Sequence[str], *, later: bool) -> tuple[list[str], str]:
    """Phones, AX where AH has no stress, and the same as festival writes them, the stressed vowel with a 1."""
    vowels = [i for i, phone in enumerate(way) if phone in VOWELS]
    stressed = vowels[min(1 if later else 0, len(vowels) - 1)] if vowels else -1
    phones = ["AX" if p == "AH" and (i != stressed or len(way) == 1) else p for i, p in enumerate(way)]
    return phones, " ".join(p.lower() + str(int(i == stressed)) * (i in vowels) for i, p in enumerate(phones))


_TOLD = """
(voice_kal_diphone)
(define (say pair) (lex.add.entry (list (car pair) nil (lex.syllabify.phstress (cadr pair)))))
(define (point target) (format t " %f:%f" (item.feat target 'pos) (item.feat target 'f0)))
(define (told number stretch text pairs)
  (Parameter.set 'Duration_Stretch stretch)
  (mapcar say pairs)
  (let ((u (eval (list 'Utterance 'Text text))))
    (mapcar (lambda (step) (step u))
      (list Initialize Text Token_POS Token POS Phrasify Word Pauses Intonation PostLex Duration Int_Targets))
    (mapcar (lambda (s)
        (format t "\\n%d %s %f" number (item.name s) (item.feat s "segment_duration"))
        (mapcar point (item.relation.daughters s 'Target)))
      (utt.relation.items u 'Segment))))
"""
"""Prints for each segment: sentence, phone, length [s], and `time:pitch` [s of the sentence, Hz]."""


def _festival(lines: Sequence[str], folder: Path) -> str:
    script = folder / "all.scm"
    script.write_text("\n".join(lines))
    ran = subprocess.run(["festival", "--batch", str(script)], check=False, capture_output=True, timeout=300)
    return ran.stdout.decode("latin1")


def _told(sentences: Sequence[tuple[Sequence[tuple[str, ...]], Sequence[str]]], rng: Random) -> list[list[Segment]]:
    """Each sentence's segments by the American; none where it said other phones than it was told."""
    lines, wanted = [_TOLD], []
    for number, (ways, words) in enumerate(sentences):
        pause = rng.choices((0.0, 0.15, 0.6, 1.0), (65, 20, 8, 7))[0]
        text, entries, phones = "", "", list[str]()
        for turn, (way, word) in enumerate(zip(ways, words, strict=True)):
            name = f"zz{chr(97 + turn % 26)}{chr(97 + turn // 26)}q"  # made up, so that no phones of its own are said
            own, spelt = _spelt(way, later=word in _STRESS_LATER)
            entries += f'("{name}" ({spelt}))'
            phones += own
            text += name + (", " if rng.random() < pause else " ")
        wanted.append(phones)
        lines.append(f'(told {number} {rng.uniform(0.8, 1.3):.2f} "{text.strip(" ,")}" \'({entries}))')
    with tempfile.TemporaryDirectory() as folder:
        rows = [line.split() for line in _festival(lines, Path(folder)).split("\n") if line]
    return [_segments([row[1:] for row in rows if row[0] == str(number)], own) for number, own in enumerate(wanted)]


def _segments(rows: Sequence[Sequence[str]], phones: Sequence[str]) -> list[Segment]:
    """Rows that `_TOLD` printed for one sentence, with these phones in them; none where their number differs."""
    segments, left, since = list[Segment](), iter(phones), 0.0
    if sum(row[0] != "pau" for row in rows) != len(phones):
        return []
    for name, length, *points in rows:
        pitches = tuple((float(t) - since, float(hz)) for t, hz in (point.split(":") for point in points))
        segments.append(("SIL" if name == "pau" else next(left), float(length), pitches))
        since += float(length)
    return segments


Known = frozenset[tuple[str, str]]
Options = Mapping[str, Sequence[tuple[int, tuple[str, ...]]]]


def _link(a: str, b: str, links: Sequence[str], known: Known) -> str | None:
    """What goes between two phones: nothing ("") where the voice has the pair or it is one phone, or a link, or none fits."""
    if not a or (a, b) in known or a == b:
        return ""
    return next((link for link in links if (a, link) in known and (link, b) in known), None)


def fitted(phones: Sequence[str], options: Options, links: Sequence[str], known: Known) -> list[tuple[str, ...]]:
    """One option (cost, phones of the language) for each phone, the cheapest row of them; links and gaps cost most."""

    def cost(a: str, b: str) -> int:
        link = _link(a, b, links, known)
        return 100 if link is None else 5 * bool(link)

    best: dict[str, tuple[int, list[tuple[str, ...]]]] = {"": (0, [])}
    for phone in phones:
        now: dict[str, tuple[int, list[tuple[str, ...]]]] = {}
        for own, option in options[phone]:
            for last, (before, path) in best.items():
                total = before + own + sum(cost(a, b) for a, b in itertools.pairwise((last, *option)))
                end = option[-1] if option else last
                if end not in now or total < now[end][0]:
                    now[end] = (total, [*path, option])
        best = now
    return min(best.values(), key=lambda one: one[0])[1]


def _options(voice: Voice, rng: Random) -> Options:
    """This sentence's accent: at times another way than the likeliest."""
    options: dict[str, list[tuple[int, tuple[str, ...]]]] = {"SIL": [(0, (voice.links[0],))]}
    for phone, text in voice.ways.items():
        first, *makeshifts = text.split(";")
        ways = first.split("|")
        if rng.random() < 0.3:
            ways.insert(0, ways.pop(rng.randrange(len(ways))))
        costs = [*range(len(ways)), *range(3, 3 + len(makeshifts))]
        options[phone] = [(own, tuple(way.split())) for own, way in zip(costs, [*ways, *makeshifts], strict=True)]
    return options


def _rendered(segments: Sequence[Segment], voice: Voice, known: Known, rng: Random) -> str | None:
    """The sentence as festival's list of segments of this voice; none where it is empty or diphones are missing."""
    chosen = fitted([phone for phone, _, _ in segments], _options(voice, rng), voice.links, known)
    middle, spread = voice.pitch_hz * rng.uniform(0.85, 1.15), rng.uniform(0.5, 1.8)
    rows: list[tuple[str, float, str]] = []
    for (_, length_s, pitches), names in zip(segments, chosen, strict=True):
        shares = (0.6, 0.4) if len(names) == 2 else (1.0,) * len(names)
        for turn, (name, share) in enumerate(zip(names, shares, strict=True)):
            length = max(0.025, length_s * share)
            melody = pitches if turn == 0 else ()
            points = " ".join(f"({min(at, length):.3f} {middle * (hz / MELODY_HZ) ** spread:.1f})" for at, hz in melody)
            link = _link(rows[-1][0] if rows else "", name, voice.links, known)
            if link is None:
                return None
            if link:
                rows.append((link, 0.02, ""))
            if rows and rows[-1][0] == name and (name, name) not in known:
                rows[-1] = (name, rows[-1][1] + length, rows[-1][2])
            else:
                rows.append((name, length, points))
    return " ".join(f'("{name}" {length:.3f} {points})' for name, length, points in rows)


def abroad_clips(many: Sequence[Sequence[str] | str], rng: Random, *, voice: str = "") -> list[Clip]:
    """A batch of sentences by one voice, a random one unless named; a sentence it cannot say is left out."""
    name = voice or rng.choice(have())
    chosen = VOICES[name]
    path = min(FOLDER.glob(chosen.group))
    silence = chosen.links[0]
    sentences = []
    for said in many:
        words = said.split() if isinstance(said, str) else list(said)
        ways = [phones_of(w) if isinstance(said, str) else _way(w, rng) for w in words]
        if all(chosen.ways[phone] for way in ways for phone in way):
            sentences.append((ways, words))
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "quiet.group").write_bytes(_quieter(path, chosen.factor))
        where = f'(name "abroad") (index_file "{folder}/quiet.group") (grouped "true")'
        start = f'\'({where} (default_diphone "{silence}-{silence}"))'
        lines = [f"(voice_kal_diphone) (set! UniSyn_module_hooks nil) (us_diphone_init {start}) (us_db_select 'abroad)"]
        for number, segments in enumerate(_told(sentences, rng)):
            if text := _rendered(segments, chosen, diphones(path), rng):
                said = f"(utt.synth (Utterance Segments ({text})))"
                lines.append(f'(utt.save.wave {said} "{folder}/{number}.wav" \'riff)')
        _festival(lines, Path(folder))
        clips = []
        for number, (ways, words) in enumerate(sentences):
            if (wav := Path(folder, f"{number}.wav")).exists():
                sound = _read_wav(wav).astype(np.float32)
                sound *= PEAK / max(1.0, np.abs(sound).max(initial=0))
                phones = tuple(phone for way in ways for phone in way)
                clips.append(Clip(sound.round().astype(np.int16), phones, " ".join(words), f"abroad {name}"))
    return clips
