"""Unpacks RNC, method 1: blocks of literal bytes and of copies from before, their numbers in three Huffman codes a block.

Bits come from words of 16, lowest first; literal bytes lie between the words, where the next word would be.
"""

import struct

MARK = b"RNC\1"
HEAD = 18
"""Bytes before the first word: mark, sizes unpacked and packed, two checks, and the number of blocks at 17."""
MOST_BITS = 16


class _Bits:
    def __init__(self, data: bytes) -> None:
        self.data, self.at, self.held, self.count = data + bytes(4), HEAD, 0, 0

    def seen(self, count: int) -> int:
        """The next so many bits, at most MOST_BITS, without taking them."""
        ahead = self.held | int.from_bytes(self.data[self.at : self.at + 2], "little") << self.count
        return ahead & ((1 << count) - 1)

    def take(self, count: int) -> int:
        if self.at > len(self.data):
            raise ValueError("ends in the middle of a block")
        if count > self.count:
            self.held |= int.from_bytes(self.data[self.at : self.at + 2], "little") << self.count
            self.at, self.count = self.at + 2, self.count + 16
        value = self.held & ((1 << count) - 1)
        self.held, self.count = self.held >> count, self.count - count
        return value

    def literal(self, size: int) -> bytes:
        self.at += size
        return self.data[self.at - size : self.at]


class _Code:
    """A Huffman code of numbers by their count of bits, itself sent as the lengths of its words."""

    def __init__(self, bits: _Bits) -> None:
        lengths = [bits.take(4) for _ in range(bits.take(5))]
        self.longest = max(lengths, default=0)
        self.words: list[tuple[int, int] | None] = [None] * (1 << self.longest)
        code = 0
        for length in range(1, MOST_BITS):
            for number in (n for n, one in enumerate(lengths) if one == length):
                turned = int(f"{code >> (MOST_BITS - length):0{length}b}"[::-1], 2) & ((1 << length) - 1)
                for place in range(turned, len(self.words), 1 << length):
                    self.words[place] = (length, number)
                code += 1 << (MOST_BITS - length)

    def next(self, bits: _Bits) -> int:
        word = self.words[bits.seen(self.longest)]
        if word is None:
            raise ValueError("a word that is not in its code")
        length, number = word
        bits.take(length)
        return number if number < 2 else bits.take(number - 1) | 1 << (number - 1)


def unpack(data: bytes) -> bytes:
    """What was packed. Raises ValueError for anything else, or for a file cut short."""
    if len(data) < HEAD or not data.startswith(MARK):
        raise ValueError(f"begins with {data[:4]!r}, not {MARK!r}")
    (whole,), bits, out = struct.unpack_from(">I", data, 4), _Bits(data), bytearray()
    bits.take(2)
    for _block in range(data[17]):
        literals, distances, sizes = _Code(bits), _Code(bits), _Code(bits)
        for left in range(bits.take(16), 0, -1):
            out += bits.literal(literals.next(bits))
            if left > 1:
                first = len(out) - distances.next(bits) - 1
                if first < 0:
                    raise ValueError("a copy from before the beginning")
                size, known = sizes.next(bits) + 2, bytes(out[first:])
                out += (known * (size // len(known) + 1))[:size]
    if len(out) != whole:
        raise ValueError(f"{len(out)} bytes came out, {whole} were packed")
    return bytes(out)
