"""Call-outs as sound: served by the hash of their content, and drawn as a waveform."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from runner.web.records import Records
from runner.web.sections import Page
from speech.sound import Sound

DIGEST = re.compile(r"[0-9a-f]{64}")
COLUMNS = 96
HEIGHT = 28.0
MOST_BYTES = 1_000_000  # a call-out of seconds is a tenth of it; anything larger is served and not drawn


@dataclass(frozen=True)
class Wave:
    """A waveform as an SVG path in a box COLUMNS wide and HEIGHT high."""

    path: str
    seconds: float


def waves_of(records: Records, digests: Iterable[str]) -> Mapping[str, Wave]:
    """Waveforms by hash, of the sounds that are still kept."""
    found = {}
    for digest in dict.fromkeys(digests):
        data = records.sound(digest) if DIGEST.fullmatch(digest) else None
        sound = records.samples(digest) if data and len(data) <= MOST_BYTES else None
        if sound is not None and len(sound.samples):
            found[digest] = wave_of(sound)
    return found


def wave_of(sound: Sound) -> Wave:
    """The waveform of a sound, as high as its loudest part."""
    parts = np.array_split(np.abs(sound.samples.astype(np.float64)), COLUMNS)
    peaks = [float(part.max()) if part.size else 0.0 for part in parts]
    loudest, middle = max(*peaks, 1.0), HEIGHT / 2
    reach = [max(0.6, peak / loudest * (middle - 1)) for peak in peaks]
    path = "".join(f"M{x + 0.5} {middle - r:.1f}v{2 * r:.1f}" for x, r in enumerate(reach))
    return Wave(path, sound.duration_s)


def sound(request: Request) -> Response:
    """One FLAC. Its name is its content's hash, so the browser may keep it."""
    digest = request.path_params["digest"]
    records: Records = request.app.state.records
    data = records.sound(digest) if DIGEST.fullmatch(digest) else None
    if data is None:
        raise HTTPException(404)
    return Response(data, media_type="audio/flac", headers={"cache-control": "private, max-age=86400, immutable"})


PAGES = (Page("/sound/{digest}", sound),)
