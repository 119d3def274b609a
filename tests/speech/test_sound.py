"""Sound files: every form that is read, every one that is refused with a sentence, and noise of the stated strength."""

import struct
from contextlib import suppress
from math import inf
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.earcons import EARCONS
from speech.levels import LevelMeter, callers_part, clipped_share, speech_levels
from speech.resampling import StreamResampler
from speech.sound import (
    Sound,
    SoundError,
    add_noise,
    from_floats,
    join,
    level_dbfs,
    make_noise,
    read_wav,
    read_wav_bytes,
    resample,
    scaled,
    shorten_pauses,
    silence,
    trim_silence,
    wav_bytes,
    write_wav,
)


def tone(frequency_hz: float = 440.0, *, rate_hz: int = 16000, duration_s: float = 0.5, level: float = 0.5) -> Sound:
    return from_floats(
        level * np.sin(2 * np.pi * frequency_hz * np.arange(round(duration_s * rate_hz)) / rate_hz), rate_hz
    )


def wav(
    data: bytes, *, tag: int = 1, channels: int = 1, rate_hz: int = 8000, bits: int = 16, extra: bytes = b""
) -> bytes:
    frame = channels * bits // 8
    form = struct.pack("<HHIIHH", tag, channels, rate_hz, rate_hz * frame, frame, bits) + extra
    body = b"WAVEfmt " + struct.pack("<I", len(form)) + form + b"LIST\x03\x00\x00\x00abc\x00"
    return b"RIFF" + struct.pack("<I", 0) + body + b"data" + struct.pack("<I", len(data)) + data


def test_a_file_comes_back_as_it_was_written(tmp_path: Path) -> None:
    sound = tone()
    write_wav(tmp_path / "a.wav", sound)
    back = read_wav(tmp_path / "a.wav")
    assert back.rate_hz == sound.rate_hz
    assert np.array_equal(back.samples, sound.samples)


@pytest.mark.parametrize(
    ("data", "form"),
    [
        (struct.pack("<2h", 16384, -16384), {}),
        (struct.pack("<2i", 2**30, -(2**30)), {"bits": 32}),
        (b"\x00\x00\x40\x00\x00\xc0", {"bits": 24}),
        (bytes([192, 64]), {"bits": 8}),
        (struct.pack("<2f", 0.5, -0.5), {"bits": 32, "tag": 3}),
        (struct.pack("<2d", 0.5, -0.5), {"bits": 64, "tag": 3}),
        (struct.pack("<4h", 32767, 1, -32768, 0), {"channels": 2}),
        (struct.pack("<2h", 16384, -16384), {"tag": 0xFFFE, "extra": struct.pack("<HHIHH", 22, 16, 0, 1, 0) + b"\0" * 12}),
    ],
)  # fmt: skip
def test_every_form_gives_the_same_samples(data: bytes, form: dict[str, object]) -> None:
    sound = read_wav_bytes(wav(data, **form))  # type: ignore[arg-type]
    assert sound.samples.tolist() == [16384, -16384]
    assert sound.rate_hz == 8000


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "the file is empty"),
        (b"hello, this is no sound at all", "not a WAV file"),
        (b"RIFF\0\0\0\0WAVE", "no sound found"),
        (wav(b""), "no samples"),
        (wav(b"\0\0", bits=12), "12 bits is not known"),
        (wav(b"\0\0", tag=85), "WAV coding 85"),
        (wav(b"\0\0", channels=0), "0 channels"),
        (wav(b"\0\0", rate_hz=3), "3 Hz cannot be right"),
        (wav(b"\0" * 2 * 8000 * 301), "5.0 minutes long, at most 5"),
    ],
)
def test_what_is_no_sound_is_refused_with_a_sentence(data: bytes, says: str, tmp_path: Path) -> None:
    file = tmp_path / "x.wav"
    file.write_bytes(data)
    with pytest.raises(SoundError, match=says) as problem:
        read_wav(file)
    assert str(file) in str(problem.value)


def test_one_hour_is_refused_without_reading_it(tmp_path: Path) -> None:
    file = tmp_path / "hour.wav"
    head = wav(b"")[:-4] + struct.pack("<I", 2 * 8000 * 3600)
    with file.open("wb") as out:
        out.write(head)
        out.truncate(len(head) + 2 * 8000 * 3600)
    with pytest.raises(SoundError, match=r"60\.0 minutes long"):
        read_wav(file)


def test_a_file_that_is_not_there_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.wav", tmp_path):
        with pytest.raises(SoundError, match=r"check the path|not a WAV"):
            read_wav(path)
    with pytest.raises(SoundError, match="cannot be written"):
        write_wav(tmp_path / "no" / "x.wav", tone())


@given(st.binary(max_size=200))
def test_random_bytes_never_crash(data: bytes) -> None:
    for whole in (data, b"RIFF\0\0\0\0WAVE" + data, b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0" + data):
        try:
            assert len(read_wav_bytes(whole).samples) > 0
        except SoundError as problem:
            assert "sound" in str(problem)


@given(st.integers(0, 60), st.binary(min_size=1, max_size=4))
def test_damaged_headers_never_crash(at: int, damage: bytes) -> None:
    whole = bytearray(wav(struct.pack("<200h", *range(200))))
    whole[at : at + len(damage)] = damage
    with suppress(SoundError):
        read_wav_bytes(bytes(whole))


def test_cut_short_files_give_what_is_there() -> None:
    whole = wav_bytes(tone(duration_s=0.1))
    assert len(read_wav_bytes(whole[:-301]).samples) == 1600 - 151


@pytest.mark.parametrize("rate_hz", [8000, 11025, 22050, 44100, 48000])
def test_resampling_keeps_the_tone(rate_hz: int) -> None:
    made = resample(tone(rate_hz=rate_hz), 16000)
    wanted = tone()
    assert abs(len(made.samples) - len(wanted.samples)) <= 1
    middle = slice(400, 7000)
    assert np.abs(made.floats()[middle] - wanted.floats()[middle]).max() < 2e-3


def test_resampling_takes_away_what_the_lower_rate_cannot_hold() -> None:
    made = resample(tone(7000, rate_hz=48000), 8000)
    assert level_dbfs(Sound(made.samples[400:-400], 8000)) < -60


@pytest.mark.parametrize(("rate_hz", "block"), [(48000, 480), (44100, 441), (8000, 77), (16000, 100), (22050, 1)])
def test_resampling_by_blocks_leaves_no_seam(rate_hz: int, block: int) -> None:
    source, stream = tone(rate_hz=rate_hz, duration_s=0.2), StreamResampler(rate_hz, 16000)
    parts = [stream.feed(source.samples[at : at + block]) for at in range(0, len(source.samples), block)]
    made = np.concatenate(parts)
    wanted = tone(duration_s=0.2).samples[: len(made)]
    assert len(made) > 3100
    assert np.abs(made.astype(int) - wanted)[100:].max() < 30


def test_level_of_a_square_and_of_nothing() -> None:
    assert level_dbfs(Sound(np.full(100, 16384, np.int16), 16000)) == pytest.approx(-6.02, abs=0.01)
    assert level_dbfs(silence(0.1, rate_hz=16000)) == -inf
    assert level_dbfs(tone(level=1.0)) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize("kind", ["engine", "white", "pink", "compressor"])
@pytest.mark.parametrize("snr_db", [20.0, 5.0, 0.0])
def test_noise_is_as_strong_as_asked_for(kind: str, snr_db: float) -> None:
    sound = join([silence(0.5, rate_hz=16000), tone(level=0.1), silence(0.5, rate_hz=16000)])
    noisy = add_noise(sound, snr_db=snr_db, kind=kind, seed=1)  # type: ignore[arg-type]
    noise_dbfs = level_dbfs(Sound((noisy.samples.astype(int) - sound.samples).astype(np.int16), 16000))
    assert level_dbfs(tone(level=0.1)) - noise_dbfs == pytest.approx(snr_db, abs=0.6)


def test_noise_repeats_with_its_seed() -> None:
    first, again, other = (add_noise(tone(), snr_db=10, seed=seed).samples for seed in (3, 3, 4))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    assert len(make_noise(10, 16000)) == 10


def test_silence_at_the_ends_goes() -> None:
    padded = join([silence(0.3, rate_hz=16000), tone(), silence(0.4, rate_hz=16000)])
    assert trim_silence(padded).duration_s == pytest.approx(0.54, abs=0.03)
    assert trim_silence(silence(0.2, rate_hz=16000)).duration_s == 0.2


def test_joining() -> None:
    assert join([tone(), tone(rate_hz=8000)], gap_s=0.1).duration_s == pytest.approx(1.1, abs=0.01)
    with pytest.raises(SoundError, match="no sounds"):
        join([])


def test_levels_of_speech_noise_and_clipping() -> None:
    quiet = from_floats(make_noise(8000, 16000, kind="white") * 0.001, 16000)
    level, noise = speech_levels(join([quiet, tone(), quiet]))
    assert level == pytest.approx(-9.0, abs=0.5)
    assert noise == pytest.approx(-60, abs=2)
    assert clipped_share(scaled(tone(), 20)) > 0.5
    assert clipped_share(tone()) == 0


def test_the_meter_tells_speech_from_the_noise_before_it() -> None:
    meter = LevelMeter(16000)
    noise = from_floats(make_noise(16000, 16000, kind="white") * 0.01, 16000)
    assert sum(meter.add(noise.samples)) <= 12  # what it takes to know the noise
    assert not any(meter.add(noise.samples))
    assert all(meter.add(tone(level=0.3).samples)[1:])
    meter.fresh()
    assert meter.noise_dbfs == pytest.approx(-40, abs=2)


def test_earcons_differ_in_rhythm() -> None:
    assert len({(sound.duration_s, sound.samples.tobytes()) for sound in EARCONS.values()}) == len(EARCONS)
    assert all(level_dbfs(sound) < -10 for sound in EARCONS.values())


def test_samples_must_be_mono_16_bit() -> None:
    with pytest.raises(SoundError, match="want int16 mono"):
        Sound(np.zeros((2, 2), np.int16), 16000)
    with pytest.raises(SoundError, match="is not sound"):
        Sound(np.zeros(2, np.int16), 3)


def test_the_callers_part_leaves_out_what_is_fainter_around_it() -> None:
    talk, call = np.full(100, -40.0), np.full(80, -20.0)
    part = callers_part(np.concatenate((talk, call, talk)))
    assert (part.start, part.stop) == (100 - 25 - 1, 180 + 30 + 1)  # smoothed over three frames


def test_the_callers_part_keeps_a_low_first_word_and_a_dying_last_one() -> None:
    call = np.concatenate((np.full(20, -27.0), np.full(60, -20.0), np.full(30, -31.0)))
    part = callers_part(np.concatenate((np.full(60, -45.0), call, np.full(60, -45.0))))
    assert part.start <= 60
    assert part.stop >= 60 + len(call)


def test_all_is_the_callers_when_it_is_quiet_around() -> None:
    for levels in (np.full(100, -30.0), np.concatenate((np.full(90, -70.0), np.full(50, -20.0))), np.zeros(0)):
        assert callers_part(levels) == slice(0, len(levels))


@given(st.lists(st.integers(2, 80), min_size=1, max_size=5), st.sampled_from([8000, 16000, 22050]))
def test_pauses_are_cut_to_the_longest_and_the_rest_is_as_it_was(pauses: list[int], rate_hz: int) -> None:
    """Pauses in hundredths of a second between tones of 0.2 s; the longest that stays is 0.26 s."""
    time = np.arange(round(0.2 * rate_hz)) / rate_hz
    tone = Sound(np.round(9000 * np.sin(2 * np.pi * 200 * time + 0.5)).astype(np.int16), rate_hz)
    gaps = [silence(pause / 100, rate_hz=rate_hz) for pause in pauses]
    sound = join([tone, *(one for gap in gaps for one in (gap, tone))])
    short = shorten_pauses(sound, longest_s=0.26)
    wanted_s = 0.2 * (1 + len(pauses)) + sum(min(pause / 100, 0.26) for pause in pauses)
    assert short.duration_s == pytest.approx(wanted_s, abs=0.021 * len(pauses))  # frames of 10 ms
    loud = np.abs(sound.samples) > 0
    assert np.array_equal(short.samples[np.abs(short.samples) > 0], sound.samples[loud])


def test_silence_has_no_pauses() -> None:
    still = silence(2.0, rate_hz=16000)
    assert shorten_pauses(still, longest_s=0.26) == still
    assert shorten_pauses(silence(0.0, rate_hz=16000), longest_s=0.26).duration_s == 0
