"""Mutations of a good file, as editors, bad disks and ill will make them; the same for the same dice.

``mutated`` takes TOML, CSV and lines of JSON alike. A value is replaced where a line shows which one it is: below any
key of a JSON line, behind the ``=`` of another one.
"""

import argparse
import json
import random
from collections.abc import Callable, Iterable
from typing import Any

ODD = [
    "\0", "\ufeff", "\u202e", "\u2066", "\u200b", "\x1b]0;x\x07", "\x85", "\u2028", "é", "ﬀ", "😀", "\udcff",
    "\\u0000", "\\ud800", '"\\ud800"', "\\UFFFFFFFF", '"\\UFFFFFFFF" = 1\n', "\n", "\r", "\t", "“", "–", "−", "#",
    "'''", '"""', "$x$", "{{", "%s", "../", "//x/y", *"[]{}\"'=,.\\-",
]  # fmt: skip
NUMBERS = [
    "0", "-0", "-1", "1e400", "-1e400", "nan", "inf", "-inf", "9" * 30, "9" * 400, "9" * 5000, "0x" + "f" * 40,
    "1e-400", "99999999999999999999h", "0.0000000001s", "1_000", "0b11", "1979-05-27", "07:32:00",
    "1979-05-27T07:32:00Z",
]  # fmt: skip
TOML = ["true", "false", '""', '"x"', "[]", "{}", "[[]]", "[{}]", '["a", 1, true]', "{ a = 1 }", *NUMBERS]
JSON: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**63, -(2**63), 10**30, 0.0, -0.5, 1e308, -1e308, 1e-320, "", "x", "match",
    "home", "x" * 20_000, "\x1b]0;own\x07", "\u202e\u0000\u2066", [], {}, [[]], [None], {"": None}, {"kind": "end"},
    ["driver"] * 99,
)  # fmt: skip

Change = Callable[[random.Random, str], str]


def mutated(good: bytes, dice: random.Random) -> bytes:
    """Return a file's bytes, changed one to four times."""
    text = good.decode("utf-8", "surrogateescape")
    # A record that is no JSON any more is only a torn line: most changes keep it whole.
    weights = [len(CHANGES) if change is swap and text.startswith("{") else 1 for change in CHANGES]
    for _ in range(dice.choice([1, 1, 1, 2, 3, 4])):
        (change,) = dice.choices(CHANGES, weights)
        text = change(dice, text)
    return text.encode("utf-8", "surrogateescape")


def flip(dice: random.Random, text: str) -> str:
    """Change a bit of a byte."""
    data = bytearray(text.encode("utf-8", "surrogateescape"))
    if data:
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    return data.decode("utf-8", "surrogateescape")


def scramble(dice: random.Random, text: str) -> str:
    """Put random bytes in the place of some characters."""
    at, length = _at(dice, text), dice.choice([1, 5, 60])
    return text[:at] + dice.randbytes(length).decode("utf-8", "surrogateescape") + text[at + length :]


def delete(dice: random.Random, text: str) -> str:
    """Take some characters out."""
    begin = _at(dice, text)
    return text[:begin] + text[begin + dice.choice([1, 2, 7, 40, 4000]) :]


def drop(dice: random.Random, text: str) -> str:
    """Take a line out, or leave it empty."""
    lines = text.split("\n")
    begin = dice.randrange(len(lines))
    lines[begin : begin + 1] = dice.choice([[], [""]])
    return "\n".join(lines)


def double(dice: random.Random, text: str) -> str:
    """Let some lines stand several times."""
    lines = text.split("\n")
    begin = dice.randrange(len(lines))
    some = lines[begin : begin + dice.choice([1, 1, 3, 9])]
    times = dice.choice([2, 2, 3, 60, 300])
    # A little more than a file may have; what is larger only takes longer to be refused.
    some = some * min(times, 1 + 500_000 // (1 + sum(map(len, some))))
    return "\n".join([*lines[:begin], *some, *lines[begin:]])


def reorder(dice: random.Random, text: str) -> str:
    """Exchange two lines."""
    lines = text.split("\n")
    one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return "\n".join(lines)


def swap(dice: random.Random, text: str) -> str:
    """Put a value of another type, size or sign in a value's place, or take it out."""
    lines = text.split("\n")
    # The first of several records, a journal's header, is the one that says most.
    place = 0 if lines[0].startswith("{") and dice.random() < 0.4 else dice.randrange(len(lines))
    line = lines[place]
    key, equals, _ = line.partition("=")
    if line.startswith("{"):
        lines[place] = _in_json(dice, line)
    else:
        lines[place] = f"{key}= {dice.choice(TOML)}" if equals else dice.choice(TOML)
    return "\n".join(lines)


def insert(dice: random.Random, text: str) -> str:
    """Put something odd in."""
    at = _at(dice, text)
    return text[:at] + dice.choice([*ODD, *NUMBERS]) * dice.choice([1, 1, 1, 3, 50]) + text[at:]


def nest(dice: random.Random, text: str) -> str:
    """Nest brackets or keys deeply."""
    depth = dice.choice([5, 20, 3000])
    whole = [("[", "", "]"), ("{a=", "1", "}"), ('{"a":', "1", "}")]
    pairs = [begin * depth + middle + end * depth for begin, middle, end in whole]
    inner = dice.choice([*pairs, "[" * depth, "a." * depth + "a = 1"])
    lines = text.split("\n")
    place = dice.randrange(len(lines))
    key, sign, _ = lines[place].partition(":" if lines[place].startswith("{") else "=")
    lines[place] = f"{key}{sign} {inner}" + "}" * (sign == ":") if sign else inner
    return "\n".join(lines)


def truncate(dice: random.Random, text: str) -> str:
    """End in the middle."""
    return text[: _at(dice, text)]


def lengthen(dice: random.Random, text: str) -> str:
    """Make a text or a word long."""
    at = _at(dice, text)
    return text[:at] + dice.choice("ax \\\"é1") * dice.choice([90, 300, 4000, 60_000]) + text[at:]


CHANGES: tuple[Change, ...] = (
    flip, scramble, delete, drop, double, reorder, swap, insert, nest, truncate, lengthen,
)  # fmt: skip


def _at(dice: random.Random, text: str) -> int:
    return dice.randrange(len(text) + 1)


def _in_json(dice: random.Random, line: str) -> str:
    """Return a line of JSON with another value somewhere; one that is none any more stays as it is."""
    try:
        value = json.loads(line)
        holder, key = _place(dice, value)
        if holder is None:
            return line
        _replace(dice, holder, key)
        return json.dumps(value)
    except (ValueError, RecursionError):
        return line


def _replace(dice: random.Random, holder: Any, key: Any) -> None:
    match dice.randrange(6):
        case 0:
            del holder[key]
        case 1 if isinstance(holder[key], int):
            holder[key] += dice.choice((-1, 1, -(10**9), 10**9, 10**15))
        case 2 if isinstance(holder, list) and len(holder) < 500:
            holder.insert(key, holder[key])
        case _:
            holder[key] = dice.choice(JSON)


def _place(dice: random.Random, value: Any) -> tuple[Any, Any]:
    """Return a container below a value and a key of it, deep ones as likely as flat ones."""
    holder, key = None, None
    while isinstance(value, (dict, list)) and value:
        keys = list(value) if isinstance(value, dict) else range(len(value))
        holder, key = value, dice.choice(list(keys))
        value = value[key]
        if dice.random() < 0.15:
            break
    return holder, key


def arguments(doc: str, readers: Iterable[str], count: int) -> argparse.Namespace:
    """Return what the command line of a script asks for; ``count`` mutations a reader unless it says otherwise."""
    parser = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    names = [*readers]
    parser.add_argument("--count", type=int, default=count, help=f"mutations a reader ({count})")
    parser.add_argument("--seed", type=int, default=1, help="of the first mutation (1)")
    parser.add_argument("--reader", nargs="+", choices=names, default=names, help="some of the readers")
    parser.add_argument("--processes", type=int, default=2, help="side by side (2)")
    return parser.parse_args()
