"""The crew of the table: drivers, coach and scribe as figures with their spread, and evenings of drills that they play.

All figures stand in ``Crew``, once. Means are those of the bundled plan where it has one (notice 1.0, brake 0.5, gap
0.5, a scribe 0.3 to 0.8 s late); all else, each spread among it, is common practice, no source. An evening is played
without processes: real rounds by lot, real timelines, real results and goals, on marks as a scribe would make them.
What truly happened stands beside each round, so that a verdict can be held against it. Equal seeds give equal evenings.
"""

import random
from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

from msgspec.structs import replace

from tocsin.analysis.rounds.own_limit import OwnLimit, own_limit, with_own
from tocsin.analysis.rounds.result import PlayedRound, RoundResult, round_result
from tocsin.analysis.rounds.tally import GoalState, goal_state
from tocsin.analysis.rounds.variation import Condition, conditions, varied
from tocsin.config.drills import LoadedDrill, load_drill
from tocsin.model.clock.origins import Origin
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.drill import Clean
from tocsin.model.game import Game
from tocsin.model.mark import Mark
from tocsin.model.timeline.timeline import MATCH, Timeline
from tocsin.units import NS_PER_S

ORIGIN_NS = 1000 * NS_PER_S            # where match time is zero
RINGS_OUT_S = 4.0                      # a round goes on a while behind the last window: a scribe is late


class Time(NamedTuple):
    """Seconds that something takes people: normal around ``mean`` with a deviation of ``spread``, and never less than a
    third of the mean (nobody answers before a call)."""

    mean: float
    spread: float

    def draw(self, rng: random.Random) -> float:
        """Return one of them."""
        return max(self.mean / 3, rng.gauss(self.mean, self.spread))


class Crew(NamedTuple):
    """Times in seconds, shares from 0 to 1."""

    notice: Time = Time(1.0, 0.25)             # from the call on until hands move
    brake: Time = Time(0.5, 0.1)
    gap: Time = Time(0.5, 0.1)                 # until all see light between the robots; then it turns
    way: Time = Time(7.0, 1.0)                 # from the turn on, loaded or not
    decide: Time = Time(0.5, 0.15)             # all the way in, or the sure edge
    way_near: Time = Time(5.2, 0.8)            # to the own belfry, by where the robot is and what stands in its way
    way_blocked: float = 1.2                   # so much longer
    way_far: float = 1.2
    half_saves: float = 1.8                    # to be half in, for which one turns less
    without: float = 0.15                      # so much later noticed without one of the channels
    deaf: float = 0.02                         # of rounds: not noticed at all, the coach taps a shoulder
    deaf_for: Time = Time(2.5, 0.5)            # later than usual, then
    again: float = 0.03                        # of rounds: a touch in the window, having broken off
    moves_after: float = 0.03                  # of rounds: sticks not free at the end
    word_wrong: float = 0.025                  # of words on the bench: a wrong one
    word: Time = Time(1.0, 0.45)               # until word and thumb come
    word_late_s: float = 2.0                   # later than that the scribe notes it as late
    lag: tuple[float, float] = (0.3, 0.8)      # of the scribe, each key by itself, evenly spread
    unnoted: float = 0.02                      # of turns: the scribe was busy with something else

    def slower(self, by_s: float) -> "Crew":
        """Return a crew that notices everything so much later, and is like this one in all else."""
        return self._replace(
            notice=self.notice._replace(mean=self.notice.mean + by_s),
            word=self.word._replace(mean=self.word.mean + by_s),
        )


TABLE_CREW = Crew()


class Push(NamedTuple):
    """A contact in match seconds, as it was."""

    begin_s: float
    end_s: float


class Deeds(NamedTuple):
    """What a round's robot truly did, in match seconds; None: it did not. ``moved`` is after the end, ``wrong`` on the
    bench."""

    pushes: tuple[Push, ...] = ()
    turned_s: float | None = None
    home: tuple[str, float] | None = None
    moved_s: float | None = None
    wrong_s: tuple[float, ...] = ()


class Round(NamedTuple):
    """A round that was played: what was dealt, what truly happened, what was noted, the limit as it began, what it
    came to."""

    condition: Condition
    deeds: Deeds
    marks: tuple[Mark, ...]
    own: OwnLimit
    result: RoundResult


class PlayedEvening(NamedTuple):
    """A drill from its first round to its last, and where its goal stands then (open where it has none)."""

    rounds: tuple[Round, ...]
    goal: GoalState


@cache
def loaded(name: str) -> LoadedDrill:
    """Return a bundled drill."""
    return load_drill(name, "nothing")


def play(name: str, crew: Crew, seed: int, *, video: bool = False, rule: Clean | None = None) -> PlayedEvening:
    """Return an evening of a bundled drill, or by another ``rule`` than its own. With ``video`` marks are as a video
    tells them, within 0.2 s."""
    drill = loaded(name).drill
    rounds: list[Round] = []
    for condition in conditions(drill, seed):
        deeds, marks = round_of(name, condition, crew, seed, video=video)
        timeline = _timeline(name, condition)
        played = _played(timeline, condition, marks)
        own = own_limit(one.result for one in rounds)
        result = round_result(
            _game(name), timeline, played, with_own(rule or drill.clean, own), counting=drill.marks
        )
        rounds.append(Round(condition, deeds, marks, own, result))
    goal = goal_state([one.result for one in rounds], drill.goal, 0) if drill.goal else "open"
    return PlayedEvening(tuple(rounds), goal)


def round_of(
    name: str, condition: Condition, crew: Crew, seed: int, *, video: bool = False
) -> tuple[Deeds, tuple[Mark, ...]]:
    """Return what a crew does in a round, and what its scribe notes of it, match time being zero at ``ORIGIN_NS``."""
    rng = random.Random(f"{seed} {condition.number} {name}")
    deeds = _deeds(loaded(name), _timeline(name, condition), condition, crew, rng)
    return deeds, noted(deeds, crew, rng, loaded(name).drill.marks, video=video)


def noted(
    deeds: Deeds, crew: Crew, rng: random.Random, labels: Sequence[str], *, video: bool = False
) -> tuple[Mark, ...]:
    """Return the marks that a scribe makes of what was done, in the order of their begins."""

    def late_ns(at_s: float) -> int:
        off_s = rng.uniform(-0.2, 0.2) if video else rng.uniform(*crew.lag)
        return ORIGIN_NS + round((at_s + off_s) * NS_PER_S)

    def marks() -> Iterator[Mark]:
        error_ns = NS_PER_S // 5 if video else None
        for push in deeds.pushes:
            begin_ns, end_ns = late_ns(push.begin_s), late_ns(push.end_s)
            # A key that is hardly held is a point, as it is at the pad.
            held = end_ns - begin_ns >= 3 * NS_PER_S // 10
            yield Mark(label="contact", begin_ns=begin_ns, end_ns=end_ns if held else None, error_ns=error_ns)
        if deeds.turned_s is not None and rng.random() >= crew.unnoted:
            yield Mark(label="turned", begin_ns=late_ns(deeds.turned_s), error_ns=error_ns)
        if deeds.home is not None:
            yield Mark(label=deeds.home[0], begin_ns=late_ns(deeds.home[1]), error_ns=error_ns)
        if deeds.moved_s is not None:
            yield Mark(label="moved", begin_ns=late_ns(deeds.moved_s), error_ns=error_ns)
        for at_s in deeds.wrong_s:
            yield Mark(label="wrong", begin_ns=late_ns(at_s), error_ns=error_ns)

    known = {*labels, *(["home_half"] if "home" in labels else [])}
    return tuple(sorted((mark for mark in marks() if mark.label in known), key=lambda mark: mark.begin_ns))


def breaks_in(name: str, played: Round) -> bool:
    """Return whether a contact truly lay in a window in which the drill's rule allows none."""
    kept_off = loaded(name).drill.clean.keep_off
    windows = [span for span in _timeline(name, played.condition).windows if span.id in kept_off]
    return any(
        push.begin_s < span.end.offset_ns / NS_PER_S and push.end_s > span.begin.offset_ns / NS_PER_S
        for push in played.deeds.pushes
        for span in windows
    )


@cache
def _game(name: str) -> Game:
    """Return a drill's game without what is in points: no verdict hangs on it, and it takes most of a result's time."""
    return replace(loaded(name).files.game, stakes=(), thresholds=())


@cache
def _compiled(name: str, shift_ns: int, draw_out: str) -> Timeline:
    found = loaded(name)
    condition = Condition(number=1, half_speed=False, shift_ns=shift_ns, draw_out=draw_out)
    plan = found.files.plans[0]
    timeline, _ = compile_plan(plan.game, varied(plan.plan, found.drill, condition))
    assert timeline is not None
    return timeline


def _timeline(name: str, condition: Condition) -> Timeline:
    """Return a round's timeline; the order of its cues is left as it is, since no result hangs on it."""
    return _compiled(name, condition.shift_ns, condition.draw_out)


def _played(timeline: Timeline, condition: Condition, marks: tuple[Mark, ...]) -> PlayedRound:
    origin = Origin(anchor="match", origin_ns=ORIGIN_NS)
    call_s = _cue_s(timeline, "home")
    return PlayedRound(
        marks=marks, origins=(origin,), ended_ns=ORIGIN_NS + round((_ends_s(timeline) + RINGS_OUT_S) * NS_PER_S),
        home_call_ns=None if call_s is None else ORIGIN_NS + round(call_s * NS_PER_S), half_speed=condition.half_speed,
    )  # fmt: skip


def _cue_s(timeline: Timeline, cue: str) -> float | None:
    begins_ns = [one.begin.offset_ns for one in timeline.firings if one.cue == cue and one.begin.anchor == MATCH]
    return min(begins_ns) / NS_PER_S if begins_ns else None


def _ends_s(timeline: Timeline) -> float:
    return max([timeline.last_end().offset_ns, *(span.end.offset_ns for span in timeline.windows)]) / NS_PER_S


def _deeds(found: LoadedDrill, timeline: Timeline, condition: Condition, crew: Crew, rng: random.Random) -> Deeds:
    drill = found.drill
    if drill.place == "bench":
        return _words(timeline, crew, rng)
    if "turned" not in drill.marks:
        return _return(timeline, condition, crew, rng)
    return _break_off(timeline, condition, crew, rng)


def _break_off(timeline: Timeline, condition: Condition, crew: Crew, rng: random.Random) -> Deeds:
    """A push that the call home finds."""
    call_s, end_s = _cue_s(timeline, "home"), timeline.match_end().offset_ns / NS_PER_S
    assert call_s is not None
    hears_s = call_s + crew.notice.draw(rng)
    if condition.draw_out and condition.coach != "calling":
        hears_s += crew.without
    if rng.random() < crew.deaf:
        hears_s += crew.deaf_for.draw(rng)
    free_s = hears_s + crew.brake.draw(rng) + crew.gap.draw(rng)
    pushes = [Push(call_s - rng.uniform(1, 6), free_s)]
    if rng.random() < crew.again:
        begin_s = rng.uniform(free_s + 2, end_s)
        pushes.append(Push(begin_s, begin_s + rng.uniform(0.1, 2)))
    home_s = free_s + crew.way.draw(rng)
    return Deeds(tuple(pushes), free_s, ("home", home_s) if home_s < end_s else None)


def _return(timeline: Timeline, condition: Condition, crew: Crew, rng: random.Random) -> Deeds:
    """All the way in or the sure edge, as soon as it is to be chosen: the edge if it is far and the way is not free."""
    call_s, end_s = _cue_s(timeline, "choose"), timeline.match_end().offset_ns / NS_PER_S
    assert call_s is not None
    is_far, is_blocked = condition.setup.startswith("far"), condition.setup.endswith("blocked")
    way_s = crew.way_near.draw(rng) + crew.way_far * is_far + crew.way_blocked * is_blocked
    label = "home_half" if is_far and is_blocked else "home"
    way_s -= crew.half_saves if label == "home_half" else 0
    home_s = call_s + crew.notice.draw(rng) + crew.decide.draw(rng) + way_s
    touches = [Push(begin_s := rng.uniform(call_s, end_s), begin_s + 0.4)] if rng.random() < crew.again else []
    moved_s = end_s + rng.uniform(0.9, 2) if rng.random() < crew.moves_after else None
    return Deeds(tuple(touches), None, (label, home_s), moved_s)


def _words(timeline: Timeline, crew: Crew, rng: random.Random) -> Deeds:
    """The bench: each cue answered in time with its word and thumb, or not."""
    cues = {one.cue: one.begin.offset_ns / NS_PER_S for one in timeline.firings if one.begin.anchor == MATCH}
    wrong = (
        at_s for at_s in cues.values() if crew.word.draw(rng) > crew.word_late_s or rng.random() < crew.word_wrong
    )
    return Deeds(wrong_s=tuple(wrong))
