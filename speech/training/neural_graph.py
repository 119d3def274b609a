"""Runs the neural voice's ONNX graph op by op in PyTorch, in float, on an accelerator where there is one.

Values have a side: "host" for shapes, durations and what follows from them alone, always on the CPU; all others on the
device. Steps whose results depend only on the shapes of the inputs run once for each set of shapes and are remembered.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch

from speech.training.neural_loading import Loaded, Node
from speech.training.neural_ops import NUMBERS, Fn, function


@dataclass
class Step:
    """One call: slots in, slots out; `fixed` where the result depends on the inputs' shapes alone."""

    op: str
    fn: Fn
    ins: tuple[int, ...]
    outs: tuple[int, ...]
    fixed: bool


class Graph:
    """The model as steps between slots; a value has one for each side on which it is needed, or for its plain numbers."""

    def __init__(self, path: Path, device: str | None = None) -> None:
        self.device = torch.device(device or ("cuda" if torch.cuda.is_available() else "cpu"))
        loaded = Loaded(path, self.device)
        self._consts = loaded.consts
        self._slots: dict[tuple[str, bool | None], int] = {}  # by name and whether on the host; None: plain numbers
        self._base: list[Any] = []  # what slots hold at the start
        self._steps: list[Step] = []
        self._host: dict[str, bool] = {}  # on which side a value is made
        self._fixed = dict.fromkeys(loaded.consts, True)  # depends on the inputs' shapes alone
        self._early = dict.fromkeys(loaded.consts, True)  # its shape does
        with torch.inference_mode():
            for name in loaded.inputs:
                self._value(name, host=False, fixed=False, early=True)
            for node in loaded.nodes:
                self._place(node)
            self._results = [self._slot(o, host=True) for o in loaded.outputs]
        self._inputs = [self._slots[name, False] for name in loaded.inputs]
        wanted = {i for s in self._steps if not s.fixed for i in s.ins} | set(self._results)
        self._kept = [o for s in self._steps if s.fixed for o in s.outs if o in wanted]
        self._first = self._freed(self._steps)
        self._again = self._freed([s for s in self._steps if not s.fixed])
        self._known: dict[tuple[tuple[int, ...], ...], list[Any]] = {}  # kept values by the inputs' shapes
        self._consts = {}

    def up(self, value: torch.Tensor) -> torch.Tensor:
        return value.to(self.device, non_blocking=True)

    def down(self, value: torch.Tensor) -> torch.Tensor:
        return value.cpu()

    def _value(self, name: str, *, host: bool, fixed: bool, early: bool) -> int:
        self._host[name], self._fixed[name], self._early[name] = host, fixed, early
        return self._new((name, host), None)

    def _new(self, key: tuple[str, bool | None], value: Any) -> int:
        self._slots[key] = len(self._base)
        self._base.append(value)
        return self._slots[key]

    def _slot(self, name: str, *, host: bool) -> int:
        """Where a value lies on this side; a step is added to bring it where it does not."""
        if (name, host) in self._slots:
            return self._slots[name, host]
        if name in self._consts or not name:
            value = self._consts.get(name)
            return self._new((name, host), value if host or value is None else self.up(value.contiguous()))
        source = self._slots[name, not host]
        self._early[name] &= not host or self._fixed[name]
        slot = self._new((name, host), None)
        op, fn = ("Down", self.down) if host else ("Up", self.up)
        self._steps.append(Step(op, fn, (source,), (slot,), self._fixed[name]))
        return slot

    def _numbers(self, name: str) -> int:
        """A slot with a constant as plain numbers, or the value on the host."""
        if name not in self._consts:
            return self._slot(name, host=True)
        found = self._slots.get((name, None))
        return self._new((name, None), self._consts[name].tolist()) if found is None else found

    def _place(self, n: Node) -> None:
        """Adds the node's step, on the host where all it works on lies there."""
        asked, given = NUMBERS.get(n.op, ()), [i for i in n.ins if i]
        moving = [i for k, i in enumerate(n.ins) if k not in asked and i and i not in self._consts]
        if n.op == "Shape":
            host, ins = True, [self._slots[n.ins[0], self._host[n.ins[0]]]]
        else:
            host, ins = all(self._host[i] for i in moving) or (n.op == "Cast" and n.attrs["to"] == 7), []
            for k, i in enumerate(n.ins):
                one = n.op == "Gather" and k == 1 and i in self._consts and self._consts[i].dim() == 0
                ins.append(self._numbers(i) if one or (k in asked and i) else self._slot(i, host=host))
        early = all(self._early[i] for i in given)
        fixed = early if n.op == "Shape" else all(self._fixed[i] for i in given)
        early = fixed or (early and n.op != "NonZero")
        outs = tuple(self._value(o, host=host, fixed=fixed, early=early) for o in n.outs if o)
        self._steps.append(Step(n.op, function(n.op, n.attrs), tuple(ins), outs, fixed))

    def _freed(self, steps: Iterable[Step]) -> list[tuple[Step, list[int]]]:
        """Each step with the slots that nothing reads after it."""
        seen, out = {*self._results, *self._kept, *(i for i, v in enumerate(self._base) if v is not None)}, []
        for step in reversed(list(steps)):
            dead = [i for i in {*step.ins, *step.outs} if i not in seen]
            seen |= set(dead)
            out.append((step, dead))
        return out[::-1]

    def run(self, *inputs: np.ndarray) -> list[np.ndarray]:
        """All outputs for the inputs, in the graph's order."""
        key = tuple(a.shape for a in inputs)
        known = self._known.get(key)
        values = self._base.copy()
        with torch.inference_mode():
            for slot, array in zip(self._inputs, inputs, strict=True):
                values[slot] = self.up(torch.tensor(array))
            for slot, value in zip(self._kept, known or (), strict=known is not None):
                values[slot] = value
            for step, dead in self._first if known is None else self._again:
                got = step.fn(*[values[i] for i in step.ins])
                for slot, value in zip(step.outs, got if step.op == "Split" else (got,), strict=True):
                    values[slot] = value
                for i in dead:
                    values[i] = None
            if known is None:
                self._known[key] = [values[i] for i in self._kept]
            return [values[i].numpy() for i in self._results]

    def __call__(self, tokens: np.ndarray, style: np.ndarray, speed: np.ndarray) -> np.ndarray:
        """Samples at 24 kHz (n,) from letters (1, n), a style (1, 256) and a pace (1,)."""
        return self.run(tokens, style, speed)[0].astype(np.float32).ravel()
