"""The plan that advice is about: what its leads move, what they may come to, and the line that changes one."""

from pathlib import Path
from typing import NamedTuple

import msgspec

from tocsin.config import bundle
from tocsin.config.file_cache import FileCache, Shared
from tocsin.config.files import shown_name
from tocsin.config.load import LoadedPlan, load
from tocsin.config.reading import PLAN
from tocsin.config.toml.document import Document
from tocsin.config.toml.positions import line_and_column, line_starts
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import format_clock

MAIN = "home"                          # the id of the call that people turn for


class Line(NamedTuple):
    """A line of a plan's file, from 1, and what it shall be: ``text``, without the blanks before it. ``whole`` is the
    file with it. What stood behind a # is left out: it may tell of the value that was."""

    file: str
    number: int
    text: str
    whole: str
    is_bundled: bool


class AdvisedPlan(NamedTuple):
    """A plan with its file, and the rig of the matches to come."""

    path: Path
    loaded: LoadedPlan
    document: Document
    rig: Rig

    @property
    def file(self) -> str:
        """The plan's file, as people name it."""
        return shown_name(self.path)

    def with_lead(self, lead: str, lasts_ns: int) -> Timeline | None:
        """Return the timeline that the plan would have with another lead, None where the game has no room for it."""
        plan = self.loaded.plan
        timeline, _ = compile_plan(
            self.loaded.game, msgspec.structs.replace(plan, leads={**plan.leads, lead: lasts_ns})
        )
        return timeline

    def moves_the_call(self, lead: str, by_ns: int = 250_000_000) -> bool:
        """Return whether the call home comes that much earlier if a lead is so much longer."""
        before, now_ns = _call_ns(self.loaded.timeline), self.loaded.plan.leads.get(lead)
        changed = None if now_ns is None else self.with_lead(lead, now_ns + by_ns)
        after = None if changed is None else _call_ns(changed)
        return before is not None and after is not None and before - after == by_ns

    def line(self, lead: str, lasts_ns: int) -> Line | None:
        """Return the line that makes a lead so long; None where the plan does not have it as one value in one line."""
        text = self.document.text
        place = self.document.places.values.get(("lead", lead))
        if place is None or "\n" in text[place.begin : place.end]:
            return None
        begin = text.rfind("\n", 0, place.begin) + 1
        end = text.find("\n", place.end)
        end = len(text) if end < 0 else end
        behind = text[place.end : end]
        behind = "" if behind.lstrip().startswith("#") else behind
        line = text[begin : place.begin] + f'"{format_clock(lasts_ns)}"' + behind.rstrip()
        number, _ = line_and_column(line_starts(text), place.begin)
        whole = text[:begin] + line + text[end:]
        return Line(self.file, number, line.strip(), whole, bundle.holds(self.path))


def load_advised(plan: str, game: str | None, rig: str, shared: Shared) -> AdvisedPlan:
    """Return a plan with its rig, from files or by bundled names. Raises the errors of ``load``."""
    shelf = FileCache(shared)
    loaded = load(game, [plan], rig, shelf)
    path = bundle.find("plans", plan)
    return AdvisedPlan(path, loaded.plans[0], shelf.parsed(PLAN, path).document, loaded.rig)


def _call_ns(timeline: Timeline) -> int | None:
    """Return when the call home first comes in a match, None if it has no time of its own."""
    found = [one.match_ns for one in timeline.firings if one.cue == MAIN and one.match_ns is not None]
    return min(found, default=None)
