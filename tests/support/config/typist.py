"""Somebody who types exactly the fixes that are printed, and what is played afterwards."""

import re
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from tocsin.config import bundle
from tocsin.config.checking import examine
from tocsin.config.drills import load_drill
from tocsin.config.toml.diagnostic import FileDiagnostic

_USED_WITH = {"game": ("game", "plan"), "plan": ("game", "plan", "rig"), "rig": ("game", "plan", "rig"),
              "drill": ("drill",)}  # fmt: skip


class File(NamedTuple):
    """A file of a scenario: its name beside the others, its good text."""

    name: str
    text: str


def _bundled(kind: str, name: str) -> File:
    return File(f"{name}.toml", (bundle.root() / kind / f"{name}.toml").read_text(encoding="utf-8"))


def _own_game(plan: File, game: str) -> File:
    return File(plan.name, plan.text.replace(f'game = "{game}"', f'game = "{game}.toml"'))


_MINUTES = (
    _bundled("games", "casting_day").text.replace('lasts = "01:37"', 'lasts = "3min"')
    .replace('lasts = "28s"', 'lasts = "24s"').replace("                         # one minute and 37 seconds", "")
)  # fmt: skip

SCENARIOS: dict[str, dict[str, File]] = {
    "bells": {
        "game": _bundled("games", "casting_day"),
        "plan": _own_game(_bundled("plans", "full"), "casting_day"),
        "rig": _bundled("rigs", "practice_bench"),
        "drill": _bundled("drills", "turn"),
    },
    # The same with a period in minutes, which none of the bundled games has.
    "minutes": {
        "game": File("casting_day.toml", _MINUTES),
        "plan": _own_game(_bundled("plans", "full"), "casting_day"),
    },
    "doors": {
        "game": _bundled("games", "two_doors"),
        "plan": _own_game(_bundled("plans", "doors"), "two_doors"),
    },
}


class Typed(NamedTuple):
    """What came of typing every printed fix of a bad file once."""

    told: tuple[FileDiagnostic, ...]
    is_fixed: bool                     # whether any fix was printed
    left: tuple[FileDiagnostic, ...]
    played: Any


class Typist:
    """Writes the files of a scenario into a folder, breaks one, and types the fixes."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._good: dict[tuple[str, str], Any] = {}

    def good(self, scenario: str, kind: str) -> Any:
        """Return what the good files of a scenario play, those that a file of this kind is used with."""
        key = (scenario, kind)
        if key not in self._good:
            told, played = self._played(scenario, kind, SCENARIOS[scenario][kind].text)
            assert told == ()
            self._good[key] = played
        return self._good[key]

    def type_fixes(self, scenario: str, kind: str, bad: str) -> Typed:
        """Return what is told of a bad text in place of the good one, and what is left and played after the fixes."""
        told, played = self._played(scenario, kind, bad)
        name = SCENARIOS[scenario][kind].name
        texts = {name: bad}
        for other in _USED_WITH[kind]:
            if other in SCENARIOS[scenario]:
                texts.setdefault(SCENARIOS[scenario][other].name, SCENARIOS[scenario][other].text)
        is_fixed = False
        for file, text in texts.items():
            fixes = {p.fix for p in told if p.fix is not None and Path(p.file).name == file}
            assert len({fix.line for fix in fixes}) == len(fixes), "two fixes of one line differ"
            is_fixed |= bool(fixes)
            lines = text.split("\n")
            for fix in fixes:
                line = lines[fix.line - 1]
                lines[fix.line - 1] = line[: fix.column - 1] + fix.text + line[fix.end - 1 :]
            texts[file] = "\n".join(lines)
        if not is_fixed:
            return Typed(told, False, told, played)
        left, played = self._played(scenario, kind, texts.pop(name), texts)
        return Typed(told, True, left, played)

    def _played(
        self, scenario: str, kind: str, text: str, others: dict[str, str] | None = None
    ) -> tuple[tuple[FileDiagnostic, ...], Any]:
        files = SCENARIOS[scenario]
        used = [other for other in _USED_WITH[kind] if other in files]
        paths = []
        for other in used:
            path = self._folder / files[other].name
            good = (others or {}).get(files[other].name, files[other].text)
            path.write_text(text if other == kind else good, encoding="utf-8")
            paths.append(str(path))
        checked = examine(paths)
        if checked.problems:
            return checked.problems, None
        if kind == "drill":
            return (), msgspec.to_builtins(load_drill(paths[0], "nothing").drill)
        plans = [_without_names_of_leads(plan.loaded) for plan in checked.plans]
        return (), [*plans, *(msgspec.to_builtins(rig) for rig, _ in checked.rigs)]


def _without_names_of_leads(loaded: Any) -> Any:
    """Return all that is played and counted of a plan. How a lead is called plays no part in it."""
    timeline = msgspec.to_builtins(loaded.timeline)
    timeline["leads"] = sorted(timeline["leads"].values())
    game = {**msgspec.to_builtins(loaded.game), "windows": None}        # their moments as written: see the timeline
    cues = [(cue.id, cue.roles, cue.say, cue.why, cue.callable) for cue in loaded.plan.cues]
    return timeline, game, cues, msgspec.to_builtins(loaded.plan.patterns), loaded.plan.language


_FREE = ("title", "name", "why", "say", "trains", "safely", "questions", "setup", "format")
_TOKEN = re.compile(r"[A-Za-z_][A-Za-z0-9_]*|[0-9]+(?:\.[0-9]+)?")
_TIME = re.compile(r"(?<=[0-9])(?:ms|min|s)\b")


def tokens(text: str) -> list[tuple[int, int]]:
    """Return where every key, id and number of a file stands that is not part of a free text or a comment."""
    found: list[tuple[int, int]] = []
    at = 0
    for line in text.split("\n"):
        code = re.match(r"""(?:[^#"]|"[^"]*")*""", line)
        assert code is not None
        key, equals, value = code[0].partition("=")
        if equals:
            found += [(at + one.start(), at + one.end()) for one in _TOKEN.finditer(key)]
            if key.strip() not in _FREE:
                begin = at + len(key) + 1
                blanked = _TIME.sub(lambda unit: "." * len(unit[0]), value)
                found += [(begin + one.start(), begin + one.end()) for one in _TOKEN.finditer(blanked)]
        elif line.startswith("["):
            found += [(at + one.start(), at + one.end()) for one in _TOKEN.finditer(line)]
        at += len(line) + 1
    return found
