"""Play single rounds and matches of simulated teams, and make their rows as the program does: by real timelines, real
results and the fields that ``features/records/rows.py`` fills, on marks as a scribe would make them. No process, no
file."""

import random
from functools import cache
from typing import Any, NamedTuple

from msgspec.structs import replace

from tests.support.people.table_crew import ORIGIN_NS, TABLE_CREW, Deeds, Push, loaded, noted
from tocsin.analysis.rounds.match_rule import match_rule
from tocsin.analysis.rounds.own_limit import OwnLimit, with_own
from tocsin.analysis.rounds.result import PlayedRound, RoundResult, round_result
from tocsin.analysis.rounds.variation import Condition, varied
from tocsin.config.load import Loaded, load
from tocsin.features.records.rows import condition_of, outcome_of, sources_of
from tocsin.model.clock.origins import Origin
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.drill import Drill, Vary
from tocsin.model.game import Game
from tocsin.model.mark import Mark
from tocsin.model.timeline.timeline import MATCH, Timeline
from tocsin.units import NS_PER_S

LEAD = "break_off"
RINGS_OUT_S = 6.0                      # somebody still marks after the end


class Times(NamedTuple):
    """What a round truly takes, in seconds: from the call to the end of the push that it finds (None: it finds none),
    from there to the turn, from there home. ``again_s``: a touch that begins so long after the window did."""

    break_off_s: float | None
    gap_s: float
    way_s: float
    again_s: float | None = None


class Scribe(NamedTuple):
    """Between how many seconds marks are late, and the shares of pushes that are not noted: at all, if they reached
    into the window, and by their end alone."""

    lag_s: tuple[float, float] = (0.3, 0.8)
    lost: float = 0.0
    lost_wrong: float = 0.0
    never_ended: float = 0.0


class Outcome(NamedTuple):
    """A round's result as the program tells it, the row's fields for it, and the truth: whether our robot touched
    somebody in the window."""

    result: RoundResult
    fields: dict[str, Any]
    touched: bool


class Stage(NamedTuple):
    """What a run is played on: its ``timeline`` and ``game``; a round's drill, None for a match."""

    timeline: Timeline
    game: Game
    drill: Drill | None

    @property
    def call_s(self) -> float:
        """When the call home lands, in match seconds."""
        # One that the coach gives by hand has a clock of its own.
        begins = [one.begin for one in self.timeline.firings if one.cue == "home" and one.begin.anchor == MATCH]
        return min(begin.offset_ns for begin in begins) / NS_PER_S

    @property
    def choose_s(self) -> float:
        """When the cue to choose how to go home comes, in match seconds."""
        return next(one.begin.offset_ns for one in self.timeline.firings if one.cue == "choose") / NS_PER_S

    @property
    def window_s(self) -> float:
        """When contact begins to cost points, in match seconds."""
        return next(one.begin.offset_ns for one in self.timeline.windows if one.id == "no_contact") / NS_PER_S

    @property
    def end_s(self) -> float:
        """The end of the match, in match seconds."""
        return self.timeline.match_end().offset_ns / NS_PER_S

    @property
    def leads_s(self) -> dict[str, float]:
        """The leads in force."""
        return {name: ns / NS_PER_S for name, ns in self.timeline.leads.items()}


@cache
def round_stage(drill: str, lead_s: float, shift_ns: int, draw_out: str, coach: str, *, points: bool = True) -> Stage:
    """Return what a round of a bundled drill is played on, its plan with another lead; without ``points`` in a game
    that charges and pays nothing: no time and no contact hangs on it, and it takes a third of a result's time."""
    found = loaded(drill)
    plan = found.files.plans[0]
    lead_ns = round(lead_s * NS_PER_S)
    moved = replace(plan.plan, leads={**plan.plan.leads, LEAD: lead_ns})
    condition = Condition(number=1, half_speed=False, shift_ns=shift_ns, draw_out=draw_out, coach=coach)
    timeline, _ = compile_plan(plan.game, varied(moved, found.drill, condition))
    assert timeline is not None
    game = plan.game if points else replace(plan.game, stakes=(), thresholds=())
    return Stage(timeline, game, found.drill)


@cache
def match_stage(plan: str, lead_s: float) -> Stage:
    """Return what a match is played on, a bundled plan with another lead."""
    found = _loaded(plan).plans[0]
    leads = {**found.plan.leads, LEAD: round(lead_s * NS_PER_S)}
    timeline, _ = compile_plan(found.game, replace(found.plan, leads=leads))
    assert timeline is not None
    return Stage(timeline, found.game, None)


@cache
def _loaded(plan: str) -> Loaded:
    return load(None, [plan], "nothing")


def deeds_of(stage: Stage, times: Times, rng: random.Random) -> Deeds:
    """Return what the robot does: breaks off a push that the call finds, turns, and goes home; half in, or not at all,
    if the time is over before. A drill that asks for no turn is about the way from the cue to choose on."""
    labels = stage.drill.marks if stage.drill else ("contact", "turned", "home")
    free_s, pushes = stage.call_s + 0.9, []
    if "turned" not in labels:
        return _return(stage, times, rng)
    if times.break_off_s is not None and "contact" in labels:
        free_s = stage.call_s + times.break_off_s
        pushes.append(Push(stage.call_s - rng.uniform(1, 6), free_s))
    if times.again_s is not None and "contact" in labels:
        begin_s = max(stage.window_s, free_s) + times.again_s
        pushes.append(Push(begin_s, begin_s + rng.uniform(0.4, 1.5)))
    turned_s = free_s + times.gap_s
    home_s, home = turned_s + times.way_s, "home"
    if home_s >= stage.end_s:
        home, home_s = ("home_half", stage.end_s - 0.9) if home_s < stage.end_s + 1 else ("home_none", stage.end_s + 1)
    return Deeds(tuple(pushes), turned_s if "turned" in labels else None, (home, home_s))


def _return(stage: Stage, times: Times, rng: random.Random) -> Deeds:
    home_s = stage.choose_s + times.way_s / 2
    sure = home_s > stage.end_s - 0.3
    begin_s = stage.choose_s + rng.uniform(0, 8)
    touches = () if times.again_s is None else (Push(begin_s, begin_s + 0.5),)
    return Deeds(touches, None, ("home_half", stage.end_s - rng.uniform(0.5, 2)) if sure else ("home", home_s))


def outcome(
    stage: Stage, condition: Condition, deeds: Deeds, scribe: Scribe, rng: random.Random, *,
    own: OwnLimit | None = None, other_marks: tuple[Mark, ...] = (), clock_s: float = 0.0, error_ms: int | None = None,
) -> Outcome:  # fmt: skip
    """Return what a run came to. ``clock_s``: so late is our clock, by which everything was noted."""
    did_touch = touched(stage, deeds, clock_s)
    marks = (*_noted(stage, deeds, scribe, rng, touched=did_touch), *other_marks)
    rule = with_own(stage.drill.clean, own) if stage.drill else match_rule(stage.game).rule
    played = PlayedRound(
        marks=marks, origins=(Origin(anchor=MATCH, origin_ns=ORIGIN_NS),), watched=bool(marks), error_ms=error_ms,
        ended_ns=ORIGIN_NS + round((stage.end_s + RINGS_OUT_S) * NS_PER_S),
        home_call_ns=ORIGIN_NS + round(stage.call_s * NS_PER_S), half_speed=condition.half_speed,
    )  # fmt: skip
    result = round_result(
        stage.game, stage.timeline, played, rule, counting=stage.drill.marks if stage.drill else (),
        half_home=stage.drill is None,
    )  # fmt: skip
    vary = stage.drill.vary if stage.drill else Vary()
    fields = {
        **outcome_of(result, known=played.watched), **condition_of(condition, vary), **sources_of(played, result),
        "marks": len(marks), "marks_noted": len(marks),
        "watched": played.watched, "counted": result.counted, "half_speed": condition.half_speed,
        "leads_s": stage.leads_s, "game": stage.timeline.game, "plan": stage.timeline.plan,
    }  # fmt: skip
    return Outcome(result, fields, did_touch)


def touched(stage: Stage, deeds: Deeds, clock_s: float = 0.0) -> bool:
    """Return whether our robot touched somebody in the window; by our clock, which is so late."""
    return any(push.end_s > stage.window_s - clock_s for push in deeds.pushes)


def _noted(
    stage: Stage, deeds: Deeds, scribe: Scribe, rng: random.Random, *, touched: bool
) -> tuple[Mark, ...]:
    labels = (*(stage.drill.marks if stage.drill else ("contact", "turned", "home")), "home_none")
    found = []
    for mark in noted(deeds, TABLE_CREW._replace(lag=scribe.lag_s, unnoted=0.0), rng, labels):
        if mark.label == "contact":
            if rng.random() < scribe.lost or (touched and rng.random() < scribe.lost_wrong):
                continue
            if rng.random() < scribe.never_ended:
                mark = replace(mark, end_ns=None, open=True)
        found.append(mark)
    return tuple(found)
