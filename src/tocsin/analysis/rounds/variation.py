"""Vary the rounds of a drill: balanced, in random order, the same for the same seed."""

import random
from collections.abc import Sequence
from typing import TypeVar

import msgspec

from tocsin.model.announcing import without_orphans
from tocsin.model.drill import Coach, Drill
from tocsin.model.plan import ChannelName, Cue, Plan
from tocsin.model.timeline.timeline import MATCH, Point, Timeline

T = TypeVar("T")

_STEP_NS = 100_000_000                 # a round's begin varies in tenths of a second


class Condition(msgspec.Struct, frozen=True, kw_only=True):
    """One round of a drill, ``number`` from 1. A field that does not vary is empty or 0; ``plan`` is as the drill
    names it; ``order`` seeds a shuffle of the cues. ``earlier_ns`` is how long before the drill's moment the round
    begins, in nanoseconds."""

    number: int
    half_speed: bool
    plan: str = ""
    setup: str = ""
    draw_out: ChannelName | str = ""
    coach: Coach | str = ""
    shift_ns: int = 0
    late_start_ns: int = 0
    earlier_ns: int = 0
    order: int = 0


def conditions(drill: Drill, seed: int | str) -> tuple[Condition, ...]:
    """Return the conditions of a drill's rounds, the same for the same seed.

    Each varied field is balanced by itself: its values occur equally often, or differ by one. They come in blocks that
    hold each value once, in random order, so that a value follows itself no more often than by chance.
    """
    vary, rounds = drill.vary, drill.rounds

    def of(name: str, values: Sequence[T], nothing: T) -> list[T]:
        # A generator of its own for each: a drill that gets another value keeps the order of all the rest.
        return _balanced(values or (nothing,), rounds, random.Random(f"{seed} {name}"))

    plans = of("plan", vary.plans, "")
    setups = of("setup", vary.setups, "")
    drawn: list[str] = of("draw_out", vary.draw_out, "")
    coaches: list[str] = of("coach", vary.coach, "")
    shifts = of("shift", vary.shift_ns, 0)
    late = of("late_start", vary.late_start_ns, 0)
    spread = random.Random(f"{seed} from")
    order = random.Random(f"{seed} order")
    return tuple(
        Condition(
            number=place + 1,
            half_speed=place < drill.half_speed,
            plan=plans[place],
            setup=setups[place],
            draw_out=drawn[place],
            coach=coaches[place],
            shift_ns=shifts[place],
            late_start_ns=late[place],
            earlier_ns=spread.randrange(vary.from_spread_ns // _STEP_NS + 1) * _STEP_NS,
            order=order.randrange(1, 1 << 31) if vary.shuffle else 0,
        )
        for place in range(rounds)
    )


def varied(plan: Plan, drill: Drill, condition: Condition) -> Plan:
    """Return the plan for one round: without the drawn channel, with a moved lead, cues in another order.

    A lead is never below zero. A cue whose only channel was drawn out is left out.
    """
    cues = plan.cues
    if condition.draw_out:
        cues = tuple(cue for cue in (_without(cue, condition.draw_out) for cue in cues) if cue.patterns)
    if condition.coach == "silent":
        cues = tuple(cue for cue in cues if not (cue.announces and cue.roles == ("coach",)))
    cues = without_orphans(cues)
    if condition.order:
        cues = _shuffled(cues, random.Random(condition.order))
    return msgspec.structs.replace(drill.vary.moved(plan, condition.shift_ns), cues=cues)


def begin_of(drill: Drill, timeline: Timeline, condition: Condition) -> Point:
    """Return the point of the match from which a round runs."""
    if drill.begin is None:
        return Point(MATCH, 0)
    point = timeline.locate(drill.begin)
    return Point(point.anchor, point.offset_ns - condition.earlier_ns)


def _balanced(values: Sequence[T], count: int, rng: random.Random) -> list[T]:
    found: list[T] = []
    while len(found) < count:
        block = list(values)
        rng.shuffle(block)
        found += block
    return found[:count]


def _without(cue: Cue, channel: str) -> Cue:
    return msgspec.structs.replace(cue, patterns={name: p for name, p in cue.patterns.items() if name != channel})


def _shuffled(cues: Sequence[Cue], rng: random.Random) -> tuple[Cue, ...]:
    """Return the cues with their moments dealt out anew. What is held or repeated keeps its own."""
    free = [place for place, cue in enumerate(cues) if len(cue.at) == 1 and not cue.until and cue.every_ns is None]
    dealt = [cues[place].at for place in free]
    rng.shuffle(dealt)
    result = list(cues)
    for place, at in zip(free, dealt, strict=True):
        result[place] = msgspec.structs.replace(cues[place], at=at)
    return tuple(result)
