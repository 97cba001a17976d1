"""The plan that advice is about: what its leads move, what they may come to, and the line that changes one."""

from pathlib import Path
from typing import NamedTuple

import msgspec

from tocsin.analysis.decisions.choice import STEPS_S
from tocsin.config import bundle
from tocsin.config.file_cache import FileCache, Shared
from tocsin.config.files import shown_name
from tocsin.config.load import LoadedPlan, load
from tocsin.config.reading import PLAN
from tocsin.config.toml.document import Document
from tocsin.config.toml.positions import line_and_column, line_starts
from tocsin.features.advice.answer import PlanLine
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.rig import Rig
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import NS_PER_S, format_clock

MAIN = "home"                          # the id of the call that people turn for
_MS_PER_S = 1000


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

    @property
    def clock_s(self) -> tuple[float, float]:
        """How late the clock of the match to come starts, and its standard deviation, in seconds."""
        late_ms, spread_ms = self.rig.start.error_ms
        return late_ms / _MS_PER_S, spread_ms / _MS_PER_S

    def lead_s(self, lead: str) -> float | None:
        """Return a lead in seconds, None if the plan has none of that name."""
        lasts_ns = self.loaded.plan.leads.get(lead)
        return None if lasts_ns is None else lasts_ns / NS_PER_S

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

    def most_s(self, lead: str, now_s: float) -> float:
        """Return the longest of a lead's possible changes for which the game has room, in seconds, else today's."""
        longer = (now_s + step for step in reversed(STEPS_S) if step > 0)
        return next((one for one in longer if self.with_lead(lead, round(one * NS_PER_S)) is not None), now_s)

    def line(self, lead: str, lasts_ns: int) -> PlanLine | None:
        """Return the line that makes a lead so long, without the blanks before it, and without a remark behind it,
        which may tell of the value that was; None where the plan does not have the lead as one value in one line."""
        text = self.document.text
        place = self.document.places.values.get(("lead", lead))
        if place is None or "\n" in text[place.begin : place.end]:
            return None
        begin = text.rfind("\n", 0, place.begin) + 1
        behind = text[place.end :].partition("\n")[0]
        behind = "" if behind.lstrip().startswith("#") else behind
        line = text[begin : place.begin] + f'"{format_clock(lasts_ns)}"' + behind
        number, _ = line_and_column(line_starts(text), place.begin)
        return PlanLine(file=self.file, line=number, text=line.strip())


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
