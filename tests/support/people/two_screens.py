"""What stands on a phone beside what stands on the laptop's window: the words of both at moments that nobody chose."""

import json
import re
from pathlib import Path
from typing import NamedTuple

# When a word comes is shown elsewhere; here either screen may be so much behind on a busy machine.
APART_NS = 3_000_000_000
# What the laptop asks, and only there is an answer to, stands on the phone so.
_ELSEWHERE = "At the laptop: "
# A phone names its own button where the window names a key,
_PRESS = re.compile(r"^Press [^:]+: ")
# or, where it has none, no key at all: "Glasses on? y: yes, n: no" is a question there.
_KEYS = re.compile(r"^Press: | Press [^.]+\.$| \S+: yes, \S+: no$|, key \S+$")
# Looks at the plate at random times, a few a second, and keeps what stands there.
WATCH = """() => {
  window.seen = [];
  const look = () => {
    const rows = [...document.querySelectorAll("#plate > *")].filter((row) => !row.hidden && row.textContent);
    if (!document.querySelector("#plate").hidden && board.clock.known) {
      const words = Object.fromEntries(rows.map((row) => [row.id, row.textContent]));
      window.seen.push({ at_ns: Math.round(nowNanos()), phase: board.mirror.phase, words });
    }
    setTimeout(look, 40 + 160 * Math.random());
  };
  look();
}"""


class Shown(NamedTuple):
    """Words that stand somewhere from a time on, by the names of their rows."""

    at_ns: int
    rows: dict[str, str]


def window_log(path: Path) -> list[Shown]:
    """Return what stood on the window, the oldest first; digits are left out."""
    return [Shown(**json.loads(line)) for line in path.read_text("utf-8").splitlines()]


def strangers(seen: dict[str, str], at_ns: int, log: list[Shown]) -> tuple[int, dict[str, str]]:
    """Return how many of a phone's rows stood on the window about then, and those that did not, though the
    window has such a row."""
    ends_ns = [one.at_ns for one in log[1:]] + [None]
    stood = [
        one for one, end_ns in zip(log, ends_ns, strict=True)
        if one.at_ns <= at_ns + APART_NS and (end_ns is None or end_ns >= at_ns - APART_NS)
    ]  # fmt: skip
    found, unknown = 0, {}
    for name, text in seen.items():
        theirs = [plain(one.rows[_row_of(name)]) for one in stood if _row_of(name) in one.rows]
        if any(_says(each, plain(text)) for each in theirs):
            found += 1
        elif theirs:
            unknown[name] = text
    return found, unknown


def plain(text: str) -> str:
    """Return a text as people read it: how wide a gap is tells nothing, and both screens have their own bullets."""
    return re.sub(r"\s+", " ", text.replace("●", "•").replace("○", "o")).strip()


def _says(window: str, phone: str) -> bool:
    """Return whether a row of the window says what one of the phone does; facts of the laptop may stand behind."""
    phone = _PRESS.sub("Press: ", phone.removeprefix(_ELSEWHERE))
    window = _PRESS.sub("Press: ", window)
    return phone in (window, _KEYS.sub("", window)) or window.startswith(f"{phone} ·")


def _row_of(name: str) -> str:
    """Return the window's name of a row: ``ahead 0`` for ``ahead0``."""
    return re.sub(r"(?<=[a-z])(\d)$", r" \1", name)
