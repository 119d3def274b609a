"""Makes training sound on the accelerator: clips joined, bent, put in a room, a workshop and a microphone."""

import math
from dataclasses import dataclass

import torch

from speech.training.features import BINS, HOP, RATE_HZ, WINDOW, cosine, log_mel


@dataclass(frozen=True)
class Plan:
    """What to join for a batch; rows are utterances, columns segments, times in samples at RATE_HZ."""

    start: torch.Tensor  # of the segment in the store
    length: torch.Tensor  # in the store
    ratio: torch.Tensor  # store samples for one heard sample: above 1 is quicker and higher
    at: torch.Tensor  # where it begins in the utterance
    gain: torch.Tensor
    samples: int  # of the whole batch


def quick_size(samples: int) -> int:
    """The next length whose Fourier transform is quick: 2^n times 1, 3, 5, 7 or 9."""
    power = 1 << max(0, samples.bit_length() - 4)
    return min(power * k for k in (8, 9, 10, 12, 14, 16, 18) if power * k >= samples)


def uniform(size: int, low: float, high: float, device: torch.device) -> torch.Tensor:
    return torch.rand(size, device=device) * (high - low) + low


def join(store: torch.Tensor, plan: Plan) -> torch.Tensor:
    """Segments read at their ratio by cubic interpolation, with 5 ms fades (batch, samples)."""
    device = store.device
    time = torch.arange(plan.samples, device=device)[None].expand(len(plan.at), -1).contiguous()
    which = torch.searchsorted(plan.at, time, right=True) - 1
    silent = which < 0
    which = which.clamp(min=0)
    place = (time - plan.at.gather(1, which)) * plan.ratio.gather(1, which)
    length = plan.length.gather(1, which)
    edge = torch.minimum(place, length - 2.0 - place) / 80.0
    loud = edge.clamp(0.0, 1.0) * plan.gain.gather(1, which) * ~silent
    whole = place.floor()
    f = place - whole
    first = plan.start.gather(1, which) + whole.long()
    a, b, c, d = (store[(first + k).clamp(0, len(store) - 1)].float() for k in (-1, 0, 1, 2))
    cubic = b + 0.5 * f * (c - a + f * (2 * a - 5 * b + 4 * c - d + f * (3 * (b - c) + d - a)))
    return torch.where(loud > 0, cubic * loud, 0.0)


def _curve(rows: int, points: int, knots: int, spread_db: float, device: torch.device) -> torch.Tensor:
    """Random smooth gains over frequency, as factors."""
    rough = torch.randn(rows, 1, knots, device=device) * spread_db
    smooth = torch.nn.functional.interpolate(rough, size=points, mode="linear", align_corners=True)[:, 0]
    return 10 ** (smooth / 20)


def colour(sound: torch.Tensor, *, far: bool = False) -> torch.Tensor:
    """Equaliser, band limit and echo, in one filter a row; far: of somebody across the shop, or in a radio."""
    rows, samples = sound.shape
    device = sound.device
    size = quick_size(samples + 8000)
    spectrum = torch.fft.rfft(sound, size)
    hz = torch.linspace(0, RATE_HZ / 2, spectrum.shape[1], device=device)[None]
    gain = _curve(rows, spectrum.shape[1], 9, 5.0, device)
    limited = torch.rand(rows, device=device) < (0.6 if far else 0.5)
    # two limits of three lie where telephones, wireless headsets and recordings at 8 kHz have theirs
    cut = torch.where(
        torch.rand(rows, device=device) < 0.65, uniform(rows, 3200, 4000, device), uniform(rows, 3000, 7000, device)
    )
    top = torch.where(limited, cut, torch.full((rows,), 20000.0, device=device))
    low = torch.where(
        torch.rand(rows, device=device) < 0.4, uniform(rows, 60, 350, device), torch.zeros(rows, device=device)
    )
    gain = gain / (1 + (hz / top[:, None]) ** 16).sqrt() / (1 + (low[:, None] / hz.clamp(min=1.0)) ** 6).sqrt()
    return torch.fft.irfft(spectrum * gain * torch.fft.rfft(_room(rows, 8000, device, far=far), size), size)[
        :, :samples
    ]


def _room(rows: int, taps: int, device: torch.device, *, far: bool) -> torch.Tensor:
    """Impulse responses: a direct hit and a dying tail; half of the rows have none, of those far away a quarter."""
    time = torch.arange(taps, device=device)[None] / RATE_HZ
    decay = uniform(rows, 0.05, 0.45, device)[:, None]
    tail = torch.randn(rows, taps, device=device) * torch.exp(-6.9 * time / decay) * (time > 0.002)
    tail = tail / tail.square().sum(1, keepdim=True).sqrt().clamp(min=1e-6)
    weakest, strongest, often = (-8, 10, 0.75) if far else (-20, 2, 0.5)
    share = 10 ** (uniform(rows, weakest, strongest, device) / 20) * (torch.rand(rows, device=device) < often)
    tail = tail * share[:, None]
    tail[:, 0] = 1.0
    return tail


def _hiss(rows: int, samples: int, device: torch.device) -> torch.Tensor:
    """Coloured noise that swells and fades; a quarter of it nearly white, as fans and leaks of air are."""
    spectrum = torch.fft.rfft(torch.randn(rows, samples, device=device))
    hz = torch.linspace(1, RATE_HZ / 2, spectrum.shape[1], device=device)[None]
    white = torch.rand(rows, device=device) < 0.25
    slope = torch.where(white, uniform(rows, -0.2, 0.2, device), uniform(rows, -0.3, 1.6, device))
    shape = (hz / 500).clamp(min=0.1) ** -slope[:, None]
    bends = _curve(rows, spectrum.shape[1], 24, 7.0, device) ** torch.where(white, 0.2, 1.0)[:, None]
    noise = torch.fft.irfft(spectrum * shape * bends, samples)
    swell = torch.randn(rows, 1, 4 + samples // 8000, device=device) * uniform(rows, 0, 6, device)[:, None, None]
    return noise * 10 ** (torch.nn.functional.interpolate(swell, size=samples, mode="linear")[:, 0] / 20)


def _engine(rows: int, samples: int, device: torch.device) -> torch.Tensor:
    """Harmonics of a firing frequency that hunts, beating roughly."""
    time = torch.arange(samples, device=device)[None] / RATE_HZ
    base = uniform(rows, 10, 130, device)[:, None]
    hunt = 1 + uniform(rows, 0, 0.06, device)[:, None] * torch.sin(
        2 * math.pi * uniform(rows, 0.2, 3, device)[:, None] * time
    )
    phase = torch.cumsum(base * hunt, 1) * (2 * math.pi / RATE_HZ)
    fall = uniform(rows, 0.2, 1.3, device)[:, None]
    out = torch.zeros(rows, samples, device=device)
    for k in range(1, 25):
        size = torch.rand(rows, 1, device=device) * k**-fall
        out += size * torch.sin(k * phase + 6.28 * torch.rand(rows, 1, device=device)) * (k * base < 7500)
    return out * (1 + 0.5 * torch.sin(phase / 2))


def _clanks(rows: int, samples: int, device: torch.device) -> torch.Tensor:
    """Metal hit at random times, now and then as an impact tool's row of blows."""
    hits = (torch.rand(rows, samples, device=device) < 1.5 / RATE_HZ).float()
    rate = uniform(rows, 8, 40, device)[:, None]
    time = torch.arange(samples, device=device)[None] / RATE_HZ
    blows = ((time * rate) % 1.0 < rate / RATE_HZ).float() * (torch.rand(rows, 1, device=device) < 0.35)
    hits = (hits + blows) * torch.rand(rows, samples, device=device)
    taps = 6400
    t = torch.arange(taps, device=device)[None] / RATE_HZ
    ring = torch.zeros(rows, taps, device=device)
    for _ in range(5):
        tone = torch.sin(2 * math.pi * uniform(rows, 250, 6500, device)[:, None] * t)
        ring += torch.rand(rows, 1, device=device) * tone * torch.exp(-t / uniform(rows, 0.004, 0.08, device)[:, None])
    size = samples + taps
    return torch.fft.irfft(torch.fft.rfft(hits, size) * torch.fft.rfft(ring, size), size)[:, :samples]


def _music(rows: int, samples: int, device: torch.device) -> torch.Tensor:
    """A radio's music: notes of a scale with overtones over a beat, in the narrow band of a small loudspeaker."""
    time = torch.arange(samples, device=device)[None] / RATE_HZ
    beat = uniform(rows, 0.12, 0.5, device)[:, None]
    at = (time / beat).long()
    since = time - at * beat
    out = torch.zeros(rows, samples, device=device)
    for _ in range(3):
        notes = 110 * 2 ** (torch.randint(0, 37, (rows, 1 + int(at.max())), device=device) / 12)
        pitch = notes.gather(1, at)
        phase = torch.cumsum(pitch, 1) * (2 * math.pi / RATE_HZ)
        fall = torch.exp(-since / uniform(rows, 0.08, 1.0, device)[:, None])
        for k in range(1, 7):
            out += fall * torch.rand(rows, 1, device=device) / k * torch.sin(k * phase)
    drum = torch.randn(rows, samples, device=device) * torch.exp(-since / 0.03)
    out += drum * uniform(rows, 0, 2, device)[:, None]
    spectrum = torch.fft.rfft(out)
    hz = torch.linspace(1, RATE_HZ / 2, spectrum.shape[1], device=device)[None]
    low, high = uniform(rows, 80, 500, device)[:, None], uniform(rows, 2500, 7000, device)[:, None]
    return torch.fft.irfft(spectrum / (1 + (low / hz) ** 4).sqrt() / (1 + (hz / high) ** 8).sqrt(), samples)


def _others(speech: torch.Tensor) -> torch.Tensor:
    """Other people, a radio, the tool's own voice: one to six other rows of the batch, moved in time, as from afar."""
    rows, samples = speech.shape
    out = torch.zeros_like(speech)
    for k, share in enumerate((1.0, 0.6, 0.6, 0.3, 0.3, 0.3), 1):
        wanted = (torch.rand(rows, 1, device=speech.device) < share).float()
        size = 10 ** (uniform(rows, -6, 0, speech.device)[:, None] / 20)
        turn = int(torch.randint(samples, (1,)))
        out += wanted * size * torch.roll(speech.roll(7 * k, 0), turn, 1)
    return colour(out, far=True)


def _rms(sound: torch.Tensor) -> torch.Tensor:
    return sound.square().mean(1, keepdim=True).sqrt().clamp(min=1e-3)


class NoiseBank:
    """Minutes of each noise of the workshop, cut from at random; a few are made anew with every batch."""

    def __init__(self, device: torch.device, *, rows: int = 512, seconds: float = 16.384) -> None:
        self.samples = int(seconds * RATE_HZ)
        self.kinds = (_hiss, _engine, _clanks, _music)
        self.banks = [torch.zeros(rows, self.samples, dtype=torch.float16, device=device) for _ in self.kinds]
        self.next = 0
        while self.next < rows:
            self.renew(min(16, rows))
        self.next = 0

    def renew(self, rows: int) -> None:
        at = self.next % len(self.banks[0])
        for make, bank in zip(self.kinds, self.banks, strict=True):
            fresh = make(rows, self.samples, bank.device)
            bank[at : at + rows] = (fresh / _rms(fresh)).clamp(-100, 100).half()[: len(bank) - at]
        self.next += rows

    def cut(self, kind: int, rows: int, samples: int) -> torch.Tensor:
        """Noise of one kind at level 1, each row from another place, at times slower or quicker."""
        bank = self.banks[kind]
        device = bank.device
        which = torch.randint(len(bank), (rows, 1), device=device)
        rate = uniform(rows, 0.7, 1.4, device)[:, None] if kind else torch.ones(rows, 1, device=device)
        time = torch.arange(samples, device=device)[None] * rate + uniform(rows, 0, self.samples, device)[:, None]
        found = bank[which, time.long() % self.samples].float()
        return found / _rms(found)

    def mix(self, speech: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """A mixture of noises and other speech at level 1 for each row, and which rows hold much other speech."""
        rows, samples = speech.shape
        device = speech.device
        mixed = torch.zeros_like(speech)
        for kind, share in enumerate((0.7, 0.4, 0.3, 0.2, 0.4)):
            banked = kind < len(self.kinds)
            one = self.cut(kind, rows, samples) if banked else _others(speech)
            weakest, loudest = (-14, 3) if banked else (-10, 6)
            size = 10 ** (uniform(rows, weakest, loudest, device) / 20) * (torch.rand(rows, device=device) < share)
            mixed += (one if banked else one / _rms(one)) * size[:, None]
        level = _rms(mixed)
        return mixed / level, size > 0.5 * level[:, 0]


def spoil(speech: torch.Tensor, bank: NoiseBank, *, worst_db: float = -5.0) -> torch.Tensor:
    """Room, noise, level, clipping and rounding of clean joined speech; int16 scale in and out."""
    rows = len(speech)
    device = speech.device
    active = (speech.abs() > 20).float().mean(1, keepdim=True).clamp(min=0.02)
    treated = torch.where(torch.rand(rows, 1, device=device) < 0.8, colour(speech), speech)
    level = (_rms(treated) / active.sqrt()).clamp(min=300.0)
    easy = torch.rand(rows, device=device)
    snr = torch.where(easy < 0.5, uniform(rows, worst_db, 18, device), uniform(rows, 8, 50, device))
    mixed, chatter = bank.mix(treated)
    # who talks as loud as the caller is the caller: nothing can be learnt from that
    snr = torch.where(chatter, snr.clamp(min=3.0), snr)
    quiet = (torch.rand(rows, 1, device=device) < 0.88).float()
    # rows of noise alone hold the noise, not the hiss below: else white noise is learned to mean that nobody speaks
    nobody = speech.abs().amax(1) == 0
    bare = nobody & (mixed.abs().amax(1) == 0)
    mixed = torch.where(bare[:, None], bank.cut(0, rows, speech.shape[1]), mixed)
    snr = torch.where(nobody, uniform(rows, worst_db, 8, device), snr)
    quiet = torch.where(nobody[:, None], torch.ones_like(quiet), quiet)
    # hiss lies under everything that the recogniser hears, see recogniser.HISS_DB
    floor = 10 ** (-uniform(rows, 18, 34, device)[:, None] / 20) * (torch.rand(rows, 1, device=device) < 0.9)
    heard = treated + level * (mixed * 10 ** (-snr[:, None] / 20) * quiet + torch.randn_like(treated) * floor)
    peak = heard.abs().amax(1, keepdim=True).clamp(min=1.0)
    target = 10 ** (uniform(rows, -34, 0, device)[:, None] / 20)
    over = torch.where(
        torch.rand(rows, 1, device=device) < 0.08, 10 ** (uniform(rows, 3, 14, device)[:, None] / 20), target
    )
    return (heard / peak * over * 32767).clamp(-32768, 32767).round()


def draw_hop(rows: int) -> torch.Tensor:
    """Samples from frame to frame of each row, drawn on the processor: its least is needed there."""
    return HOP * torch.exp(torch.randn(rows) * 0.11).clamp(0.75, 1.35)


def features(sound: torch.Tensor, hop: torch.Tensor, *, masks: int = 2) -> torch.Tensor:
    """Coefficients of bent, masked sound; hop as drawn by draw_hop."""
    rows = len(sound)
    device = sound.device
    warp = torch.exp(torch.randn(rows, device=device) * 0.09).clamp(0.78, 1.26)
    energies = log_mel(sound, hop=hop, warp=warp)
    frames = energies.shape[1]
    middle = energies.mean((1, 2), keepdim=True)
    for _ in range(masks):
        energies = _mask(energies, 2, 6, BINS, middle)
        energies = _mask(energies, 1, 10, frames, middle)
    return energies @ cosine(device)


def _mask(energies: torch.Tensor, axis: int, widest: int, size: int, fill: torch.Tensor) -> torch.Tensor:
    rows, device = len(energies), energies.device
    width = torch.randint(0, widest + 1, (rows, 1), device=device) * (torch.rand(rows, 1, device=device) < 0.5)
    first = (torch.rand(rows, 1, device=device) * (size - width)).long()
    index = torch.arange(size, device=device)[None]
    hidden = (index >= first) & (index < first + width)
    return torch.where(hidden[:, None, :] if axis == 2 else hidden[:, :, None], fill, energies)


def frames_of(samples: torch.Tensor, hop: torch.Tensor) -> torch.Tensor:
    """Frames of a row with so many samples."""
    return (1 + (samples - WINDOW) / hop).floor().clamp(min=1).long()
