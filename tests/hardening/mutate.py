"""Damage to frames and texts, drawn by number so that each can be made again."""

from __future__ import annotations

import struct
from collections.abc import Sequence

import numpy as np

# fmt: off
ODD_WORDS = (
    *("", " ", "0", "-0", "-1", "1e400", "nan", "inf", "-inf", "1e-400", "99999999999999999999"),
    *("1/0", "0/0", "f/0", "f/", "1/", "ISO", "EV", "½", "f/8₅", "１２", "٣", "\0"),
    *("\x1b[2J", "\u202e", "dark", "*", "a" * 5000),
    *("=1+1", "+1", "-A1", "@x", '"', "'", ",", ";", "\t", "\r", "\n", "\ufeff"),
    *("true", "null", "[]", "{}", "../../etc", "a\ud7ffb", "9" * 400, "1_000", "0x10", "1e5"),
)
# fmt: on


def mutated_text(
    text: str, rng: np.random.Generator, splits: Sequence[str] = (",", "\n"), most: int = 3
) -> str:
    """Return a text with a few cells, characters or lines changed, doubled, moved or lost."""
    for _ in range(int(rng.integers(1, most + 1))):
        kind = int(rng.integers(0, 7))
        at = int(rng.integers(0, len(text) + 1))
        word = ODD_WORDS[int(rng.integers(len(ODD_WORDS)))]
        if kind == 0:
            text = text[:at] + word + text[at:]
        elif kind == 1:
            text = text[:at] + text[at + int(rng.integers(1, 40)) :]
        elif kind == 2:
            text = text[:at] + chr(int(rng.integers(1, 0x2FFF))) + text[at + 1 :]
        elif kind == 3 and at < len(text):
            text = text[:at]
        else:  # one cell, between two separators
            split = splits[int(rng.integers(len(splits)))]
            cells = text.split(split)
            place = int(rng.integers(len(cells)))
            if kind == 4:
                cells[place] = word
            elif kind == 5:
                cells.insert(place, cells[int(rng.integers(len(cells)))])
            else:
                del cells[place]
            text = split.join(cells)
    return text


def mutated_frame(data: bytes, rng: np.random.Generator) -> bytes:
    """Return a TIFF-like file with entries of its directories, its pixels or its length damaged."""
    out = bytearray(data)
    for _ in range(int(rng.integers(1, 4))):
        kind = int(rng.integers(0, 6))
        entries = _entries(out)
        if kind <= 2 and entries:
            _damage_entry(out, entries[int(rng.integers(len(entries)))], rng)
        elif kind == 3 and len(out) > 100:
            del out[int(rng.integers(8, len(out))) :]
        elif kind == 4:
            at = int(rng.integers(0, len(out)))
            noise = rng.integers(0, 256, int(rng.integers(1, 2000)), dtype=np.uint8).tobytes()
            out[at : at + len(noise)] = noise
        else:
            at = int(rng.integers(0, len(out)))
            length = int(rng.integers(1, 5000))
            out[at : at + length] = bytes([int(rng.integers(0, 256))]) * length
    return bytes(out)


def _entries(data: bytearray) -> list[int]:
    """Offsets of the directory entries that can be reached."""
    if data[:4] != b"II*\0":
        return []
    found: list[int] = []
    waiting, seen = [struct.unpack_from("<I", data, 4)[0]], set()
    while waiting and len(found) < 2000:
        at = waiting.pop()
        if at in seen or at == 0 or at + 2 > len(data):
            continue
        seen.add(at)
        (count,) = struct.unpack_from("<H", data, at)
        for k in range(min(count, 200)):
            entry = at + 2 + 12 * k
            if entry + 12 > len(data):
                break
            found.append(entry)
            tag, _, _, value = struct.unpack_from("<HHII", data, entry)
            if tag in (330, 34665):
                waiting.append(value)
    return found


def _damage_entry(out: bytearray, at: int, rng: np.random.Generator) -> None:
    odd = (0, 1, 2, 255, 65535, 1 << 20, len(out), len(out) // 2, (1 << 31) - 1, (1 << 32) - 1)
    some = odd[int(rng.integers(len(odd)))]
    place = int(rng.integers(0, 4))
    if place == 0:
        struct.pack_into("<H", out, at, int(rng.integers(0, 65536)))
    elif place == 1:
        struct.pack_into("<H", out, at + 2, int(rng.integers(0, 20)))
    else:
        struct.pack_into("<I", out, at + 4 * (place - 1), some)
