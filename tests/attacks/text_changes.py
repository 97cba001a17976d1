"""Changes that make a good text a bad one, as editors, bad disks and ill will do; by a seed."""

import random
from collections.abc import Callable

ODD = [
    "\0", "\ufeff", "\u202e", "\u2066", "\u200b", "\x1b]0;x\x07", "\x85", "\u2028", "é", "ﬀ", "😀",
    "\\u0000", "\\ud800",
    "\\UFFFFFFFF", '"\\UFFFFFFFF" = 1\n', "\r", "\t", "“", "–", "−", "#", "'''", '"""', "$x$",
    "{{", "%s", "../", "//x/y",
]  # fmt: skip
NUMBERS = [
    "0", "-0", "-1", "1e400", "-1e400", "nan", "inf", "-inf", "9" * 30, "9" * 5000, "0x" + "f" * 40, "1e-400",
    "99999999999999999999h", "0.0000000001s", "1_000", "0b11", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z",
]  # fmt: skip
VALUES = ["true", "false", '""', '"x"', "[]", "{}", "[[]]", "[{}]", '["a", 1, true]', "{ a = 1 }", *NUMBERS]

Change = Callable[[random.Random, str], str]


def _at(dice: random.Random, text: str) -> int:
    return dice.randrange(len(text) + 1)


def _line(dice: random.Random, text: str, change: Callable[[str], str]) -> str:
    lines = text.split("\n")
    place = dice.randrange(len(lines))
    lines[place] = change(lines[place])
    return "\n".join(lines)


def flip(dice: random.Random, text: str) -> str:
    """Change a bit of a byte; what is no UTF-8 any more stays so."""
    data = bytearray(text.encode("utf-8", "surrogateescape"))
    if data:
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    return data.decode("utf-8", "surrogateescape")


def delete(dice: random.Random, text: str) -> str:
    """Take some characters out."""
    begin = _at(dice, text)
    return text[:begin] + text[begin + dice.choice([1, 2, 7, 40]) :]


def double(dice: random.Random, text: str) -> str:
    """Let some lines stand several times."""
    lines = text.split("\n")
    begin = dice.randrange(len(lines))
    some = lines[begin : begin + dice.choice([1, 1, 3, 9])]
    return "\n".join([*lines[:begin], *some * dice.choice([2, 2, 3, 60]), *lines[begin:]])


def swap(dice: random.Random, text: str) -> str:
    """Put a value of another type in a value's place."""

    def change(line: str) -> str:
        key, equals, _ = line.partition("=")
        return f"{key}= {dice.choice(VALUES)}" if equals else dice.choice(VALUES)

    return _line(dice, text, change)


def reorder(dice: random.Random, text: str) -> str:
    """Exchange two lines."""
    lines = text.split("\n")
    one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return "\n".join(lines)


def insert(dice: random.Random, text: str) -> str:
    """Put something odd in."""
    at = _at(dice, text)
    return text[:at] + dice.choice([*ODD, *NUMBERS, *"[]{}\"'=,.\\"]) * dice.choice([1, 1, 1, 3, 50]) + text[at:]


def nest(dice: random.Random, text: str) -> str:
    """Nest brackets or keys deeply."""
    depth = dice.choice([5, 20, 2000])
    pairs = ["[" * depth + "]" * depth, "{a=" * depth + "1" + "}" * depth]
    inner = dice.choice([*pairs, "[" * depth, "a." * depth + "a = 1"])
    return _line(dice, text, lambda line: f"{line.partition('=')[0]}= {inner}" if "=" in line else inner)


def truncate(dice: random.Random, text: str) -> str:
    """End in the middle."""
    return text[: _at(dice, text)]


def lengthen(dice: random.Random, text: str) -> str:
    """Make a text or a word long."""
    at = _at(dice, text)
    return text[:at] + dice.choice("ax \\\"é1") * dice.choice([90, 300, 4000, 60_000]) + text[at:]


CHANGES: tuple[Change, ...] = (flip, delete, double, swap, reorder, insert, nest, truncate, lengthen)


def mutated(seed: int, texts: list[str]) -> str:
    """Return one of the texts, changed one to four times; the same for the same seed."""
    dice = random.Random(seed)
    text = dice.choice(texts)
    for _ in range(dice.choice([1, 1, 2, 4])):
        text = dice.choice(CHANGES)(dice, text)
    return text


def as_bytes(text: str) -> bytes:
    """Return a mutated text as the bytes that it stands for."""
    return text.encode("utf-8", "surrogateescape")
