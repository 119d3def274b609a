"""Trains the network: `python -m speech.training.train --clips DIR --people DIR --out DIR`.

The learning rate falls to zero when the time given is over, and what is written is the running average of
the weights. Checkpoints are written every minute, so that a lost machine loses a minute. With `--tune` a finished model
learns on: `--tune speech/model --rate 1e-3`.
"""

import argparse
import json
import multiprocessing
import queue
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from random import Random

import torch

from speech.fitting.network import INSIDE, STEP
from speech.lexicon import PHONES
from speech.training import export, shipped, sound
from speech.training.batches import SPEAKERS, Batches, Drawn, human_clips
from speech.training.network import Net
from speech.training.voices import Clip, load

EARLY = 0.3
"""Share of the loss half way through the net, which makes the lower half learn by itself."""


WARM = 400
"""Steps until the full rate."""
FALLS = 0.25
"""Share of the time at which the rate begins to fall."""
DECAY = 1e-2
EVERY, KEPT = 4, 0.995
"""Every how many steps how much of the running average is kept."""


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--clips", type=Path, required=True, help="folder of synthetic clips, from speech.training.make"
    )
    parser.add_argument("--people", type=Path, required=True, help="digits folder of the Free Spoken Digit Dataset")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--leave-out", default="", help="a person never to train on")
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--seconds", type=float, default=400.0, help="sound in a batch")
    parser.add_argument("--rate", type=float, default=2e-3, help="highest learning rate")
    parser.add_argument("--dropout", type=float, default=0.1)
    parser.add_argument("--inside", type=int, default=INSIDE, help="width of a block")
    parser.add_argument("--reload", default="", help="seconds at which to look for new clips, such as 120,400")
    parser.add_argument("--go-on", type=Path, help="net.pt to start from")
    parser.add_argument("--tune", type=Path, help="model folder whose finished net learns on")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    return parser.parse_args()


_loaded: dict[Path, list[Clip]] = {}


def batches_of(options: argparse.Namespace, seed: int) -> Batches:
    """All clips on the disk now, and the people but the one left out."""
    for path in sorted(options.clips.glob("*.npy")):
        stem = path.with_suffix("")
        if stem not in _loaded and not path.stem.endswith(".part"):
            _loaded[stem] = load(stem)
    clips = [clip for found in _loaded.values() for clip in found]
    people = human_clips(options.people, [name for name in SPEAKERS if name != options.leave_out])
    made = Batches([*clips, *people], seed=seed)
    hours = len(made.store) / sound.RATE_HZ / 3600
    print(f"{hours:.1f} h:", {kind: len(found) for kind, found in made.kinds.items()}, flush=True)
    return made


class Ahead:
    """Draws batches in processes of their own, a few ahead, from one set of clips."""

    def __init__(self, batches: Batches, options: argparse.Namespace) -> None:
        self.store = batches.store.to(options.device)
        context = multiprocessing.get_context("spawn")
        small = batches.without_sound()
        self.ready: multiprocessing.Queue[Drawn] = context.Queue(12)
        self.workers = [
            context.Process(target=_draw, args=(small, self.ready, options.seconds, options.seed + k), daemon=True)
            for k in range(3)
        ]
        for worker in self.workers:
            worker.start()

    def close(self) -> None:
        for worker in self.workers:
            worker.kill()


def _draw(batches: Batches, ready: "multiprocessing.Queue[Drawn]", seconds: float, seed: int) -> None:
    batches.rng = Random(seed)
    for drawn in batches.draws(seconds):
        ready.put(drawn)


@dataclass(frozen=True)
class Heard:
    """A batch as the net gets it: features (rows, frames, 40) and labels on the device, sizes on the processor."""

    features: torch.Tensor
    frames: torch.Tensor
    labels: torch.Tensor
    label_sizes: torch.Tensor
    weight: torch.Tensor
    done: torch.cuda.Event | None


class Hearing:
    """Makes batches into features in a thread and a stream of its own, while the net learns from those before.

    One processor core cannot hand work to the accelerator as quickly as that does it, two can.
    """

    def __init__(self, ahead: Ahead, device: torch.device) -> None:
        self.ahead = ahead
        self.newer: list[Ahead] = []
        self.device = device
        self.bank = sound.NoiseBank(device, rows=512 if device.type == "cuda" else 8)
        self.stream = torch.cuda.Stream(device) if device.type == "cuda" else None
        if self.stream is not None:
            self.stream.wait_stream(torch.cuda.current_stream(device))
        self.ready: queue.Queue[Heard | Exception] = queue.Queue(3)
        self.made = 0
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        try:
            while True:
                if self.newer:
                    if self.stream is not None:
                        self.stream.synchronize()  # what it still does reads the old sounds
                    self.ahead.close()
                    self.ahead = self.newer.pop(0)
                with torch.no_grad(), torch.cuda.stream(self.stream):
                    self.ready.put(self._hear(self.ahead.ready.get(timeout=120)))
                    self.made += 1
                    if self.made % 4 == 0:
                        self.bank.renew(1)
        except Exception as error:
            self.ready.put(error)

    def _hear(self, drawn: Drawn) -> Heard:
        samples = torch.from_numpy(drawn.samples)
        hop = sound.draw_hop(len(samples))
        store = self.ahead.store
        features = sound.features(sound.spoil(sound.join(store, drawn.plan(self.device)), self.bank), hop)
        sizes = torch.from_numpy(drawn.label_sizes)
        labels = torch.from_numpy(drawn.labels).to(self.device, non_blocking=True)
        weight = 1 / sizes.clamp(min=3).to(self.device, non_blocking=True)
        done = None
        if self.stream is not None:
            done = torch.cuda.Event()
            done.record(self.stream)
        return Heard(features, -(-sound.frames_of(samples, hop) // STEP), labels, sizes, weight, done)

    def next(self) -> Heard:
        heard = self.ready.get(timeout=180)
        if isinstance(heard, Exception):
            raise heard
        if heard.done is not None:
            now = torch.cuda.current_stream(self.device)
            now.wait_event(heard.done)
            for one in (heard.features, heard.labels, heard.weight):
                one.record_stream(now)
        return heard


def loss_of(net: Net, heard: Heard) -> torch.Tensor:
    """Of a batch, the output half way in it."""
    with torch.autocast(heard.features.device.type, torch.bfloat16, enabled=heard.features.is_cuda):
        out, early = net.both(heard.features)

    def missed(probabilities: torch.Tensor) -> torch.Tensor:
        turned = probabilities.transpose(0, 1)
        ends = heard.frames.clamp(max=len(turned))
        loss = torch.nn.functional.ctc_loss(
            turned, heard.labels, ends, heard.label_sizes, reduction="none", zero_infinity=True
        )
        return (loss * heard.weight).mean()

    return missed(out) + EARLY * missed(early)


def settle(net: Net, hearing: Hearing) -> None:
    """Mean and spread of the features, from a few batches."""
    with torch.no_grad():
        every = torch.cat([hearing.next().features.reshape(-1, 40) for _ in range(4)])
        net.mean.copy_(every.mean(0))
        net.scale.copy_(1 / every.std(0).clamp(min=1e-3))


def save(net: torch.nn.Module, out: Path, notes: dict[str, object]) -> None:
    """Writes net.pt, to go on from, and am/ and conf/, to listen with."""
    out.mkdir(parents=True, exist_ok=True)
    part = out / "net.part"
    small = {name: value.half() if value.is_floating_point() else value for name, value in net.state_dict().items()}
    torch.save({"net": small, "notes": notes}, part)
    part.rename(out / "net.pt")
    assert isinstance(net, Net)
    export.write(net, out)


def begin(options: argparse.Namespace, hearing: Hearing, device: torch.device) -> Net:
    """The net that is to learn: a new one, one that was cut off, or a finished one."""
    if options.tune and not options.go_on:
        net = shipped.net_of(options.tune, dropout=options.dropout).to(device)
        shipped.renew_norms(net, hearing.next().features)
        return net.train()
    net = Net(len(PHONES), inside=options.inside, dropout=options.dropout).to(device)
    if options.go_on:
        net.load_state_dict(torch.load(options.go_on, map_location=device)["net"])
    else:
        settle(net, hearing)
    return net


def train(options: argparse.Namespace) -> None:
    began = saved = time.monotonic()  # loading the clips counts: who gave the minutes has no more
    torch.manual_seed(options.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    device = torch.device(options.device)
    hearing = Hearing(Ahead(batches_of(options, options.seed), options), device)
    net = begin(options, hearing, device)
    average = torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(KEPT), use_buffers=True
    )
    fused = device.type == "cuda"
    descent = torch.optim.AdamW(net.parameters(), lr=options.rate, weight_decay=DECAY, betas=(0.9, 0.98), fused=fused)
    reloads = [float(at) for at in options.reload.split(",") if at]
    step, notes = 0, {}
    recent = torch.zeros((), device=device)
    total = options.minutes * 60
    while (done := (time.monotonic() - began) / total) < 1:
        for group in descent.param_groups:
            group["lr"] = options.rate * min(1.0, (step + 1) / WARM, (1 - done) / (1 - FALLS))
        descent.zero_grad(set_to_none=True)
        loss = loss_of(net, hearing.next())
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 4.0)
        descent.step()
        step += 1
        recent += 0.01 * (loss.detach() - recent)
        if step % EVERY == 0:
            average.update_parameters(net)
        if step % 500 == 0:
            seconds = round(time.monotonic() - began)
            notes = {"step": step, "loss": round(float(recent), 4), "seconds": seconds, "options": str(vars(options))}
            print(json.dumps({key: notes[key] for key in ("step", "loss", "seconds")}), flush=True)
            if time.monotonic() - saved > 60:
                saved = time.monotonic()
                save(average.module, options.out, notes)
        if reloads and time.monotonic() - began > reloads[0]:
            reloads.pop(0)
            threading.Thread(target=_reload, args=(hearing, options, step), daemon=True).start()
    save(average.module, options.out, {**notes, "finished": True})
    print("finished", json.dumps(notes), flush=True)
    hearing.ahead.close()


def _reload(hearing: Hearing, options: argparse.Namespace, seed: int) -> None:
    """Clips that have been made since, from here on."""
    hearing.newer.append(Ahead(batches_of(options, options.seed + seed), options))


if __name__ == "__main__":
    train(arguments())
