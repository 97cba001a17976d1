"""Plans as text with marks in them: where a finding must stand, and nowhere else.

A line ends in ``#! code`` where a warning must stand, in ``#! code:error`` or ``#! code:advice`` for the other levels;
several are parted by commas. The files are read, compiled and inspected as ``tocsin check`` does it.
"""

import re
from pathlib import Path
from typing import NamedTuple

from tocsin.config.checking import examine
from tocsin.features.check.findings import LocatedFinding, found_in

GAME = """\
format = "tocsin-game/1"
name = "Bell Push"                        # invented
[[period]]
id = "auto"
kind = "autonomous"
lasts = "10s"
[[period]]
id = "pause"
kind = "pause"
lasts = "5s"
[[period]]
id = "driver"
kind = "driver"
lasts = "60s"
"""
# Contact in the last 20 s costs; what it brings is the opponents'.
COSTS = GAME + """\
[[window]]
id = "crane"
title = "Crane down"
begin = "driver.end-20s"
end = "driver.end"
[[stake]]
id = "contact"
title = "Contact"
during = "crane"
points = 5
to = "opponents"
"""
GAINS = COSTS.replace('"opponents"', '"us"')
UNKNOWN = COSTS.split("[[stake]]")[0]
BY_NAME = UNKNOWN.replace('"crane"', '"no_touch"')
ORDERS = GAME + """\
[[variant]]
id = "first"
[[variant]]
id = "second"
"""
# Drivers begin by a key after a pause whose length nobody knows.
BY_HAND = GAME.replace('lasts = "5s"', 'lasts = "open"')

HEAD = 'format = "tocsin-plan/1"\nname = "Bells"\ngame = "game.toml"\n'
DRILL_HEAD = (
    'format = "tocsin-drill/1"\nname = "Push"\ntrains = "breaking off"\nplace = "field"\nplan = "plan.toml"\n'
    'questions = ["Who holds the stop?"]\n'
)
RIG_HEAD = 'format = "tocsin-rig/1"\nname = "Bells"\ndrives_robot = false\n'

_MARK = re.compile(r"#! (.*)$")


class Case(NamedTuple):
    """A plan without its first lines, unless it begins with a format; the game, perhaps a rig that it is for, and a
    drill without its first lines that plays it."""

    name: str
    plan: str
    game: str = GAME
    rig: str = ""
    drill: str = ""


Found = set[tuple[str, str, int, str]]     # code, level, line, file


def look(case: Case, folder: Path) -> list[LocatedFinding]:
    """Return all findings of a case, whose files must be without mistakes."""
    files = texts_of(case)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    checked = examine([str(folder / name) for name in files if name != "game.toml"])
    assert [problem.message for problem in checked.problems] == []
    return found_in(checked)


def texts_of(case: Case) -> dict[str, str]:
    """Return the files of a case by their names."""
    plan = case.plan if case.plan.startswith("format") else HEAD + case.plan
    rig = case.rig if not case.rig or case.rig.startswith("format") else RIG_HEAD + case.rig
    drill = {"drill.toml": DRILL_HEAD + case.drill} if case.drill else {}
    return {"game.toml": case.game, "plan.toml": plan} | ({"rig.toml": rig} if rig else {}) | drill


def wanted(case: Case) -> Found:
    """Return what the marks in a case's files ask for."""
    return {
        (code, level or "warning", number, name)
        for name, text in texts_of(case).items()
        for number, line in enumerate(text.splitlines(), 1)
        if (mark := _MARK.search(line))
        for code, _, level in (part.strip().partition(":") for part in mark[1].split(","))
    }


def got(told: list[LocatedFinding]) -> Found:
    """Return findings in the same form."""
    return {(one.finding.code, one.finding.level, one.spot.line, Path(one.file).name) for one in told}
