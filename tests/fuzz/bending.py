"""Clips bent where their containers say what is in them: boxes of MP4, chunks of AVI, elements of WebM.

Random damage to a clip mostly hits pictures, which decoders expect to be damaged. What is changed here are sizes,
counts, offsets and names, and the order and number of boxes, with the rest left sound.
"""

from __future__ import annotations

import random
import struct

MP4_HOLDERS = frozenset({b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"udta", b"dinf", b"stsd"})
AVI_HOLDERS = frozenset({b"RIFF", b"LIST"})
ODD_NUMBERS = (0, 1, 2, 3, 7, 8, 0x7F, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
LONGEST_BYTES = 65_536

Part = tuple[int, int, bytes]
"""Where a box begins and ends, and what it is called."""


def parts_of(data: bytes) -> list[Part]:
    """Return every box, chunk or element of a clip, those inside others too."""
    if data[:4] == b"RIFF":
        return list(_chunks(data, 0, len(data)))
    if data[:4] == b"\x1a\x45\xdf\xa3":
        return list(_elements(data))
    return list(_boxes(data, 0, len(data)))


def _boxes(data: bytes, at: int, end: int) -> list[Part]:
    found: list[Part] = []
    while at + 8 <= end:
        size, name = struct.unpack_from(">I4s", data, at)
        last = min(at + max(size, 8), end)
        found.append((at, last, name))
        if name in MP4_HOLDERS:
            found += _boxes(data, at + (16 if name == b"stsd" else 8), last)
        at = last
    return found


def _chunks(data: bytes, at: int, end: int) -> list[Part]:
    found: list[Part] = []
    while at + 8 <= end:
        name, size = struct.unpack_from("<4sI", data, at)
        last = min(at + 8 + size + size % 2, end)
        found.append((at, last, name))
        if name in AVI_HOLDERS:
            found += _chunks(data, at + 12, last)
        at = last
    return found


def _elements(data: bytes) -> list[Part]:
    """Return places at which an element of Matroska begins as often as not: after a known name of two to four bytes."""
    names = (b"\x1a\x45\xdf\xa3", b"\x18\x53\x80\x67", b"\x15\x49\xa9\x66", b"\x16\x54\xae\x6b", b"\x1f\x43\xb6\x75")
    names += (b"\x2a\xd7\xb1", b"\x23\xe3\x83", b"\x63\xa2", b"\x53\xab", b"\xae", b"\xe0", b"\xb0", b"\xba", b"\xa3")
    found = []
    for name in names:
        at = data.find(name)
        while at >= 0 and len(found) < 400:
            found.append((at, min(at + len(name) + 16, len(data)), name))
            at = data.find(name, at + 1)
    return found or [(0, len(data), b"")]


def bent(data: bytes, others: list[bytes], dice: random.Random) -> bytes:
    """Return a clip with one to four of its parts changed, taken out, doubled, exchanged or put into another."""
    made = data
    for _ in range(dice.choice((1, 1, 2, 4))):
        made = _bent_once(made, dice.choice(others), dice)[:LONGEST_BYTES]
    return made


def _bent_once(data: bytes, other: bytes, dice: random.Random) -> bytes:
    begin, end, name = dice.choice(parts_of(data) or [(0, len(data), b"")])
    part, made = data[begin:end], bytearray(data)
    order = "little" if data[:4] == b"RIFF" else "big"
    match dice.randrange(8):
        case 0 | 1 | 2:  # a number in it: a size, a width, a count, an offset
            width = dice.choice((1, 2, 4, 4, 8))
            at = begin + dice.randrange(max(min(len(part), 200) - width, 1))
            number = dice.choice(ODD_NUMBERS) % (1 << (8 * width))
            made[at : at + width] = number.to_bytes(width, order)  # type: ignore[arg-type]
        case 3:  # its size, by a little or by half
            at = begin + (4 if order == "little" else 0)
            size = int.from_bytes(made[at : at + 4], order)  # type: ignore[arg-type]
            size = dice.choice((size + 1, size - 1, size // 2, 2 * size, size + 8)) % (1 << 32)
            made[at : at + 4] = size.to_bytes(4, order)  # type: ignore[arg-type]
        case 4:
            del made[begin:end]
        case 5:
            made[end:end] = part * dice.choice((1, 2, 200))
        case 6:  # another part of any clip in its place
            first, last, _ = dice.choice(parts_of(other) or [(0, len(other), b"")])
            made[begin:end] = other[first:last]
        case _:  # it inside itself, or under another's name
            names = [found for _, _, found in parts_of(other)] or [name]
            at = begin + (0 if order == "little" else 4)
            made[at : at + 4] = dice.choice(names)[:4].ljust(4, b"\x00")
    return bytes(made)
