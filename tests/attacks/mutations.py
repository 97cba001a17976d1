"""Mutations of files: bytes that flip, lines that go, values of another type, size or depth."""

import json
import random
from typing import Any

NASTY: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**63, -(2**63), 10**30, 0.0, -0.5, 1e308, -1e308, 1e-320, "", "x", "match",
    "home", "x" * 20_000, "\x1b]0;own\x07", "\u202e\u0000\u2066", [], {}, [[]], [None], {"": None}, {"kind": "end"},
    ["driver"] * 99,
)  # fmt: skip
BYTES = (
    b"\0", b"\xff", b"\n", b"\r", b'"', b"\\", b"{", b"]", b"[" * 3000, b'"\\ud800"', b"\xef\xbb\xbf", b"9" * 400, b"-",
    b"1e999",
)  # fmt: skip


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Return a file's bytes with one to three mutations."""
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        data = rng.choice((_bytes, _bytes, _lines, _value, _value, _value, _value))(data, rng)
    return data


def _bytes(data: bytes, rng: random.Random) -> bytes:
    at, length = rng.randrange(len(data) + 1), rng.choice((0, 0, 1, 1, 5, 60, 4000))
    match rng.randrange(4):
        case 0:
            return data[:at] + rng.choice(BYTES) + data[at + length :]
        case 1:
            return data[:at] + data[at + length :]
        case 2:
            return data[:at] + bytes(rng.randrange(256) for _ in range(length % 64)) + data[at + length :]
        case _:
            return data[:at]


def _lines(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(5):
        case 0:
            del lines[at]
        case 1:
            lines[at], lines[other] = lines[other], lines[at]
        case 2:
            lines.insert(other, lines[at])
        case 3:
            lines[at:at] = [lines[at][:2000]] * 300
        case _:
            lines[at] = b""
    return b"\n".join(lines)


def _value(data: bytes, rng: random.Random) -> bytes:
    """Put another value in some place of a line's JSON; a line that is none stays as it is."""
    lines = data.split(b"\n")
    at = 0 if rng.random() < 0.4 else rng.randrange(len(lines))
    try:
        value = json.loads(lines[at])
    except (ValueError, RecursionError):
        return data
    holder, key = _place(value, rng)
    if holder is None:
        return data
    match rng.randrange(6):
        case 0:
            del holder[key]
        case 1 if isinstance(holder[key], int):
            holder[key] += rng.choice((-1, 1, -(10**9), 10**9, 10**15))
        case 2 if isinstance(holder, list) and len(holder) < 500:
            holder.insert(key, holder[key])
        case _:
            holder[key] = rng.choice(NASTY)
    lines[at] = json.dumps(value).encode()
    return b"\n".join(lines)


def _place(value: Any, rng: random.Random) -> tuple[Any, Any]:
    """Return a container below a value and a key of it, deep ones as likely as flat ones."""
    holder, key = None, None
    while isinstance(value, (dict, list)) and value:
        keys = list(value) if isinstance(value, dict) else range(len(value))
        holder, key = value, rng.choice(list(keys))
        value = value[key]
        if rng.random() < 0.15:
            break
    return holder, key
