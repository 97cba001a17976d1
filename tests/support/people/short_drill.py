"""A short drill that counts: a game whose window opens soon, a plan of one's own in it, and a scribe's keys."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import msgspec

from tests.support.config.bundled_copies import copied
from tests.support.stands.stand import wait_for

ROUNDS = 2
#: The scribe's three keys, by the label of the mark.
MARK_KEYS = {"contact": "7", "turned": "8", "home": "9"}
RIG = """
format = "tocsin-rig/1"
name = "Ours"
drives_robot = false
[start]
by = "count_in"
count_in = "1s"
[screen]
fullscreen = true
"""
PAD = """
[[pad]]
role = "driver"
order = 1
"""
# A round takes eleven seconds: the call home two seconds after its begin, the window four seconds later.
DRILL = """
format = "tocsin-drill/1"
name = "Hot"
trains = "breaking off in time"
place = "field"
plan = "ours.toml"
from = "driver.end-10s"
rounds = {rounds}
marks = ["contact", "turned", "home"]
safely = ["Soft things only."]
questions = ["Glasses on?"]
[clean]
keep_off = ["no_contact"]
home = "500ms"
"""


def short_drill(folder: Path, rounds: int = ROUNDS, *, pads: bool = False) -> Path:
    """Write the drill with its game, plan and rig (rig.toml, perhaps with a driver's pad) into a folder; return its
    file."""
    copied(
        folder / "game.toml", "games/casting_day.toml", ('name = "Casting Day"', 'name = "Short Day"'),
        ('begin = "driver.end-18s"', 'begin = "driver.end-4s"'), ('lasts = "4s"', 'lasts = "1s"'),
    )  # fmt: skip
    copied(
        folder / "ours.toml", "plans/full.toml", ('name = "Full"', 'name = "Ours"'),
        ('game = "casting_day"', 'game = "game.toml"'),
    )  # fmt: skip
    (folder / "rig.toml").write_text(RIG + (PAD if pads else ""), "utf-8")
    drill = folder / "hot.toml"
    drill.write_text(DRILL.format(rounds=rounds), "utf-8")
    return drill


def records_of(runs: Path, number: int) -> list[dict[str, Any]]:
    """Return the whole records so far of the round with this number, from 1; none before it begins."""
    found = sorted(runs.glob("*/journal.jsonl"))
    data = found[number - 1].read_bytes() if len(found) >= number else b""
    return [msgspec.json.decode(line) for line in data[: data.rfind(b"\n") + 1].splitlines()]


def await_record(runs: Path, number: int, **wanted: object) -> dict[str, Any]:
    """Wait until a round has a record with these keys and values; return it."""

    def found() -> dict[str, Any] | None:
        rows = records_of(runs, number)
        return next((row for row in rows if all(row.get(key) == value for key, value in wanted.items())), None)

    record: dict[str, Any] = wait_for(found, 240)
    return record


def labels(rows: Iterable[dict[str, Any]]) -> list[str]:
    """Return what was marked, in its order."""
    return [row["label"] for row in rows if row["kind"] == "mark"]
