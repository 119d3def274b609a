"""Reads the neural voice's ONNX graph, undoes its quantisation, folds what is constant and joins small operators.

Activations stay float, weights become (w - zero point) * scale; a rounded activation's scale is 1, its zero point 0.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import onnx
import torch

from speech.training.neural_ops import function, lstm_cell, spectrum_basis


@dataclass
class Node:
    """An operator from values to values by name."""

    op: str
    ins: list[str]
    outs: list[str]
    attrs: dict[str, Any] = field(default_factory=dict)


_NONE = Node("", ["", ""], [])


class Loaded:
    """Nodes in order, and constants on the CPU; weights of LSTMs lie on the device."""

    def __init__(self, path: Path, device: torch.device) -> None:
        graph = onnx.load(str(path)).graph
        self.device = device
        self.consts = {i.name: torch.tensor(onnx.numpy_helper.to_array(i)) for i in graph.initializer}
        self.inputs = [i.name for i in graph.input if i.name not in self.consts]
        self.nodes: list[Node] = []
        self._alias: dict[str, str] = {}
        self._whole: set[str] = set()  # whole numbers in the file, not rounded here
        with torch.inference_mode():
            for raw in graph.node:
                attrs = {a.name: onnx.helper.get_attribute_value(a) for a in raw.attribute}
                self._read(Node(raw.op_type, [self._alias.get(i, i) for i in raw.input], list(raw.output), attrs))
            self.outputs = [self._alias.get(o, o) for o in (o.name for o in graph.output)]
            for simplify in (self._absorb, self._norms, self._addcmul, self._siblings, self._drop_unused):
                simplify()

    def _const(self, name: str, value: torch.Tensor) -> str:
        self.consts[name] = value
        return name

    def _read(self, n: Node) -> None:
        """Adds the node, its results where they are constant, or another name for its input where it does nothing here."""
        while n.ins and not n.ins[-1]:
            n.ins.pop()
        if n.op == "DynamicQuantizeLinear":
            self._alias[n.outs[0]] = n.ins[0]
            self._whole.add(self._const(n.outs[1], torch.tensor(1.0)))
            self._const(n.outs[2], torch.tensor(0.0))
            return
        self._lower(n)
        whole = any(i in self._whole for i in n.ins)
        if whole and (n.op == "Floor" or (n.op == "Cast" and n.attrs["to"] in (1, 6))):
            self._alias[n.outs[0]] = n.ins[0]
            return
        if n.ins and n.op != "LSTM" and all(i in self.consts for i in n.ins if i):
            got = function(n.op, n.attrs)(*(self.consts.get(i) for i in n.ins))
            self.consts |= zip(n.outs, got if n.op == "Split" else (got,), strict=True)
        else:
            self.nodes.append(n)
            whole &= n.op == "Add"
        self._whole |= set(n.outs) if whole else set()

    def _lower(self, n: Node) -> None:
        """Makes a node one of ours, in float."""
        consts, out = self.consts, n.outs[0]
        if n.op in ("MatMulInteger", "ConvInteger"):
            weights = consts[n.ins[1]].float()
            if len(n.ins) > 3:
                weights = weights - consts[n.ins[3]].float()
            n.op, weights = ("Conv", weights) if n.op == "ConvInteger" else ("Linear", weights.T)
            n.ins = [n.ins[0], self._const(out + ".w", weights)]
            self._whole.add(out)
        elif n.op == "DynamicQuantizeLSTM":
            self._lower_lstm(n)
        elif n.op == "FastGelu" and len(n.ins) == 2:
            self.nodes.append(Node("Add", n.ins, [out + ".in"]))
            n.ins = [out + ".in"]
        elif n.op == "Pow" and consts[n.ins[1]].tolist() == 2:
            n.op, n.ins = "Square", n.ins[:1]
        elif n.op == "ConstantOfShape":
            n.attrs["value"] = torch.tensor(onnx.numpy_helper.to_array(n.attrs["value"]))
        elif n.op == "STFT":
            n.ins[2] = self._const(out + ".basis", spectrum_basis(consts[n.ins[2]]))

    def _lower_lstm(self, n: Node) -> None:
        consts, made = self.consts, {m.outs[0]: m for m in self.nodes if m.op == "ConstantOfShape"}
        firsts = [consts[i] if i in consts else made[i].attrs["value"] for i in n.ins[5:7]]
        if n.attrs["direction"] != b"bidirectional" or n.ins[4] or n.ins[7] or any(v.any() for v in firsts):
            raise NotImplementedError("this kind of LSTM")
        w, r = (
            (consts[n.ins[k]].float() - consts[n.ins[zero]].float().view(2, 1, -1))
            * consts[n.ins[scale]].view(2, 1, -1)
            for k, scale, zero in ((1, 8, 9), (2, 10, 11))
        )
        cell = lstm_cell(w, r, consts[n.ins[3]], self.device)
        n.op, n.ins, n.outs, n.attrs = "LSTM", n.ins[:1], n.outs[:1], {"cell": cell}

    def _uses(self) -> dict[str, list[Node]]:
        uses: dict[str, list[Node]] = defaultdict(list)
        for node in (*self.nodes, Node("Output", self.outputs, [])):
            for i in node.ins:
                uses[i].append(node)
        return uses

    def _absorb(self) -> None:
        """Constant scales and offsets of channels after a Conv or Linear node, into its weights."""
        uses, consts, gone = self._uses(), self.consts, set()
        for n in [n for n in self.nodes if n.op in ("Conv", "Linear")]:
            n.ins = [*n.ins, ""][:3]
            axis = -2 if n.op == "Conv" else -1
            while len(after := uses[n.outs[0]]) == 1 and after[0].op in ("Mul", "Add"):
                w, b, then = consts[n.ins[1]], consts.get(n.ins[2]), after[0]
                c = next((consts[i] for i in then.ins if i in consts), None)
                if c is None or (c.numel() != 1 and (c.dim() < -axis or not c.shape[axis] == c.numel() == len(w))):
                    break
                c = c.flatten().expand(len(w))
                if then.op == "Mul":
                    n.ins[1] = self._const(then.outs[0] + ".w", w * c.view(-1, *(1,) * (w.dim() - 1)))
                    b = None if b is None else b * c
                else:
                    b = c if b is None else b + c
                if b is not None:
                    n.ins[2] = self._const(then.outs[0] + ".b", b)
                gone.add(id(then))
                n.outs = then.outs
        self.nodes = [n for n in self.nodes if id(n) not in gone]

    def _norms(self) -> None:
        """Mean and deviation along the last of three axes, in seven nodes, to one."""
        made = {o: m for m in self.nodes for o in m.outs}

        def back(name: str, op: str) -> Node:
            return node if (node := made.get(name, _NONE)).op == op else _NONE

        for n in [n for n in self.nodes if n.op == "Div"]:
            sub, add = back(n.ins[0], "Sub"), back(back(n.ins[1], "Sqrt").ins[0], "Add")
            mean, variance = back(sub.ins[1], "ReduceMean"), back(add.ins[0], "ReduceMean")
            if back(variance.ins[0], "Mul").ins != sub.outs * 2 or mean.ins[0] != sub.ins[0]:
                continue
            last = all(self.consts[m.ins[1]].tolist() in ([2], [-1]) for m in (mean, variance))
            if last and add.ins[1] in self.consts:
                n.op, n.ins, n.attrs = "Norm", [sub.ins[0]], {"epsilon": float(self.consts[add.ins[1]])}

    def _addcmul(self) -> None:
        """A product used only by a sum, into it."""
        uses, made = self._uses(), {o: m for m in self.nodes for o in m.outs}
        for n in [n for n in self.nodes if n.op == "Add"]:
            for i, other in (n.ins, n.ins[::-1]):
                product = made.get(i, _NONE)
                if product.op == "Mul" and len(uses[i]) == 1:
                    n.op, n.ins = "Addcmul", [other, *product.ins]
                    break

    def _siblings(self) -> None:
        """All Linear nodes of one input become one, and a Split."""
        groups: dict[str, list[Node]] = defaultdict(list)
        for n in self.nodes:
            if n.op == "Linear":
                groups[n.ins[0]].append(n)
        for group in [g for g in groups.values() if len(g) > 1]:
            weights = [self.consts[n.ins[1]] for n in group]
            biases = [self.consts.get(n.ins[2], w.new_zeros(len(w))) for n, w in zip(group, weights, strict=True)]
            name, first = group[0].outs[0] + ".all", self.nodes.index(group[0])
            together = [self._const(name + ".w", torch.cat(weights)), self._const(name + ".b", torch.cat(biases))]
            sizes = self._const(name + ".sizes", torch.tensor([len(w) for w in weights]))
            self.nodes[first:first] = [
                Node("Linear", [group[0].ins[0], *together], [name]),
                Node("Split", [name, sizes], [o for n in group for o in n.outs], {"axis": -1}),
            ]
            members = {id(n) for n in group}
            self.nodes = [n for n in self.nodes if id(n) not in members]

    def _drop_unused(self) -> None:
        needed, kept = set(self.outputs), []
        for n in reversed(self.nodes):
            if needed & set(n.outs):
                needed |= set(n.ins)
                kept.append(n)
        self.nodes = kept[::-1]
