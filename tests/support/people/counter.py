"""Somebody who wants to press ahead of a call and takes everything for it that stands on window and terminal.

It is told nothing of Tocsin: it has seen rounds, and knows of each sight how long after it the call came. What always
came at one distance from the call it counts from.
"""

import random
from collections import defaultdict
from collections.abc import Mapping, Sequence
from statistics import median
from typing import NamedTuple

import msgspec

from tests.support.runner.stage_stand import NOW_NS, Desk, stage_for
from tocsin.channels.screen.composer import Composer
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Schedule
from tocsin.model.display.view_model import ViewModelMaker, foremost
from tocsin.model.safety import FlashGuard
from tocsin.model.timeline.timeline import MATCH
from tocsin.runner.options import ROUND, RunOptions
from tocsin.runner.status import status_of
from tocsin.runner.terminal.screen import news, picture
from tocsin.units import NS_PER_S

PROMPT = "coach_call"
COUNT_NS = 5 * NS_PER_S                # the rigs' own count-in
OPTIONS = RunOptions(plans=("full",), rig="nothing", start="key")
SIZE = (1366, 768)
AHEAD_S = 0.5                          # a press within so long before the call was "ahead of it"
LOOK_S = 0.25                          # how often they look


class SeenRound(NamedTuple):
    """One round, in seconds since its start key: when the call came, and when each sight was first seen.

    A sight is a line on window or terminal, or how a cue's frame lies. ``prompted_s`` is when a coach who calls aloud
    was told to.
    """

    call_s: float
    sights: dict[str, float]
    prompted_s: float | None

    def before(self, until_s: float) -> dict[str, float]:
        """Return what was seen before a time."""
        return {sight: at_s for sight, at_s in self.sights.items() if at_s < until_s}


class Counter:
    """Learns from rounds and presses in others. A person needs to have seen a sight in three rounds to trust it."""

    def __init__(self, seen: Sequence[SeenRound]) -> None:
        delays: dict[str, list[float]] = defaultdict(list)
        for one in seen:
            for sight, at_s in _known(one).items():
                delays[sight].append(one.call_s - at_s)
        self._delays: Mapping[str, list[float]] = {sight: found for sight, found in delays.items() if len(found) >= 3}

    def presses_s(self, one: SeenRound) -> float:
        """Return when they press: counted from the sight that has been the surest."""
        known = {sight: at_s for sight, at_s in _known(one).items() if sight in self._delays}
        surest = min(known, key=lambda sight: (_scatter(self._delays[sight]), known[sight]))
        return known[surest] + median(self._delays[surest]) - AHEAD_S / 2

    def ahead(self, one: SeenRound) -> bool:
        """Return whether they press just ahead of the call."""
        return is_ahead(self.presses_s(one), one)


def is_ahead(press_s: float, one: SeenRound) -> bool:
    """Return whether a press lies just ahead of the call."""
    return one.call_s - AHEAD_S <= press_s < one.call_s


def by_chance(rounds: Sequence[SeenRound]) -> float:
    """Return the largest share of rounds that anybody gets who presses at one time after the start, and looks at
    nothing."""
    times = [one.call_s - AHEAD_S * part / 10 for one in rounds for part in range(1, 11)]
    return max(sum(is_ahead(press_s, one) for one in rounds) for press_s in times) / len(rounds)


def _known(one: SeenRound) -> dict[str, float]:
    """Return what they may count from: what stood there before the call, and before a coach who calls was told."""
    return one.before(one.call_s if one.prompted_s is None else one.prompted_s)


def _scatter(delays: Sequence[float]) -> float:
    """Return the middle half of them, so that one odd round hides no sure sight."""
    ordered = sorted(delays)
    quarter = len(ordered) // 4
    return ordered[-1 - quarter] - ordered[quarter]


# -- how rounds are seen ----------------------------------------------------------------------------------------------


def seen_rounds(drill, tmp_path, seed, shows=None, call="home"):
    """Return each round of a bundled drill as somebody saw it who looked all the time, from standby to the call.

    ``shows`` is what may be seen instead of what the drill says. No match is started: what people see of one hangs on
    its origin alone.
    """
    found = load_drill(drill, "nothing")
    if shows is not None:
        found = found._replace(drill=msgspec.structs.replace(found.drill, shows=shows))
    programme = Rounds(found, OPTIONS, Session(name=drill, key="k", seed=seed))
    stage = stage_for(programme, OPTIONS, tmp_path)
    Desk(programme, stage).press(*"y" * len(found.drill.questions), "f")     # the questions come first
    seen = []
    for place in range(found.drill.rounds):
        programme.session.places["A"] = place
        stage.reload(programme.piece(0), NOW_NS)
        seen.append(_seen(stage, programme, call, random.Random(f"{seed} {place}")))
    return seen


def _seen(stage, programme, call, rng):
    """Look at a round until the call comes; they look at no fixed moments."""
    piece, timeline = stage.piece, stage.piece.timeline
    begins_ns = NOW_NS + COUNT_NS
    origin = Origin(anchor=MATCH, origin_ns=begins_ns - piece.at.offset_ns, starts_ns=begins_ns)
    calls_ns = [firing.begin.offset_ns for firing in timeline.firings if firing.cue == call]
    call_ns = origin.origin_ns + next(ns for ns in calls_ns if ns > piece.at.offset_ns)
    look_at, schedule = _window(piece), _schedule(timeline, origin)
    maker = ViewModelMaker(timeline)
    standby = status_of(stage, programme, (), NOW_NS)
    told, prompted_s, sights = None, None, {}
    now_ns = NOW_NS
    while now_ns < call_ns:
        begun = now_ns > NOW_NS
        phase = "standby" if not begun else "waiting" if now_ns < begins_ns else "running"
        status = msgspec.structs.replace(standby, phase=phase, origins=(origin,) if begun else ())
        schedule.due(now_ns)
        shot = foremost(schedule.live) if phase == "running" else None
        look, view = look_at(status, shot, now_ns), maker.at(status, now_ns)
        lines = [text.text for text in look.texts]
        lines += [text.plain for text in picture(view, shot.firing.word if shot else "")]
        lines += news(told, view)
        lines.append(f"frame {look.outline}" if shot and look.outline else "")
        told = view
        at_s = (now_ns - NOW_NS) / NS_PER_S
        for line in filter(None, lines):
            sights.setdefault(line, at_s)
        if prompted_s is None and any(live.firing.cue == PROMPT for live in schedule.live):
            prompted_s = at_s
        now_ns += round(LOOK_S * NS_PER_S * (0.5 + rng.random()))
    coach = piece.facts[ROUND]["condition"]["coach"]
    return SeenRound((call_ns - NOW_NS) / NS_PER_S, sights, None if coach == "silent" else prompted_s)


def _window(piece):
    """Return what looks at the window."""
    composer, guard = Composer(lambda text: 0.5 * len(text)), FlashGuard(8)
    composer.load(piece.timeline, piece.patterns.screen, {})
    return lambda status, shot, now_ns: composer.look(status, shot, guard, SIZE, now_ns, 0, focused=True)


def _schedule(timeline, origin):
    seen = [firing for firing in timeline.firings if firing.channel == "screen"]
    schedule = Schedule(seen, [segment.anchor for segment in timeline.segments])
    schedule.set_origin(origin)
    return schedule
