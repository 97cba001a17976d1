"""Check whether hands can feel, count and tell apart a pad's patterns, and whether anybody holds the pad."""

from collections.abc import Iterator, Mapping
from functools import cache

import msgspec

from tocsin.lint import limits as limit
from tocsin.lint.finding import TELL, WARN, Finding, Kind
from tocsin.lint.limits import (
    LAST_NS,
    LONG_PULSE_NS,
    LONGEST_EFFECT_NS,
    MOST_FORMS,
    MOST_VIBRATION_NS,
    SHORTEST_GAP_NS,
    SHORTEST_PULSE_NS,
    WEAKEST,
)
from tocsin.lint.spoken_words import PRESS
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import PlacedFiring, Track, played
from tocsin.model.game import PeriodKind
from tocsin.model.pattern import RumblePattern
from tocsin.model.plan import Role
from tocsin.translation import tr
from tocsin.units import NS_PER_S, format_clock

DRIVING: tuple[Role, ...] = ("driver", "operator")     # whose hands the robot is in

KINDS_OF_HANDS: dict[str, Kind] = {
    "short_pulse": Kind(
        WARN,
        "A pulse of the rumble pattern '{pattern}' lasts {lasts}.",
        "A motor takes 60 to 150 ms to spin up: so short a pulse is hardly felt, and not counted.",
        "Let each pulse last 200 ms or longer.",
        (limit.SHORTEST_PULSE_NS,),
    ),
    "short_gap": Kind(
        WARN,
        "Only {gap} between two pulses of the rumble pattern '{pattern}'.",
        "A motor takes 100 to 200 ms to stop: both pulses are felt as one buzz.",
        "Let each pause last 150 ms or longer.",
        (limit.SHORTEST_GAP_NS,),
    ),
    "weak_pulse": Kind(
        WARN,
        "A pulse of the rumble pattern '{pattern}' has a strength of {strength}.",
        "Hands that steer a robot do not feel it.",
        "Take 0.8 or more on one of the two motors.",
        (limit.WEAKEST,),
    ),
    "weak_pad": Kind(
        WARN,
        "The rumble pattern '{pattern}' has only strength {strength} on the {role}'s pad.",
        "The rig's strength times the pattern's is too weak: hands that steer do not feel it.",
        "Raise this strength, or that of the pattern.",
        (limit.WEAKEST,),
    ),
    "long_effect": Kind(
        WARN,
        "A pulse of the rumble pattern '{pattern}' lasts {lasts}.",
        "The hand stops feeling it, and others that play the plan, such as the page, cut it.",
        "Take several shorter pulses.",
        (limit.LONGEST_EFFECT_NS,),
    ),
    "much_vibration": Kind(
        TELL,
        "{whose} pad vibrates for {lasts} of the match in all.",
        "Hands stop feeling it, and what comes often is not noticed.",
        "Take shorter patterns, or fewer cues that rumble.",
        (limit.MOST_VIBRATION_NS,),
    ),
    "many_forms": Kind(
        WARN,
        "{whose} pad has {count} different shakes: too many from '{cue}' on.",
        "Busy hands cannot tell them apart, and mistake the main call too.",
        "Use one of the other patterns again: triple, long, short.",
        (limit.MOST_FORMS, limit.LONG_PULSE_NS),
    ),
    "hands_away": Kind(
        WARN,
        "The cue '{cue}' shakes a pad in {where}, {when}.",
        "The pads are on a shelf then: nobody feels it, and a pad may fall.",
        "Take rumble away, and call by screen or sound there.",
        (limit.HANDS_AWAY,),
    ),
    "press_too_early": Kind(
        WARN,
        "The cue '{cue}' says '{word}' in {where}, {when}.",
        "In most games it breaks a rule to touch a pad in the autonomous period.",
        "Let it come when the drivers' period begins.",
        (limit.HANDS_AWAY,),
    ),
    "ticking_pad": Kind(
        WARN,
        "{whose} pad rumbles {count} times in the last seconds; the second is '{cue}'.",
        "Hands have work to do then, and a pad that ticks disturbs them.",
        "Count down for the coach, on screen or by sound.",
        (limit.LAST_NS,),
    ),
}


class Pulse(msgspec.Struct, frozen=True):
    """A time in which motors turn, with its first step's place in the pattern; ``gap_ns`` of silence lie before it
    (None before the first), in the step ``gap_step``."""

    step: int
    begin_ns: int
    lasts_ns: int
    strength: float
    gap_ns: int | None
    gap_step: int


@cache
def pulses_of(pattern: RumblePattern) -> tuple[Pulse, ...]:
    """Return the pulses of a pattern: neighbouring steps with a turning motor are one."""
    found: list[Pulse] = []
    at_ns, open_pulse = 0, False
    steps = [(place, step) for _ in range(pattern.times) for place, step in enumerate(pattern.steps)]
    for count, (place, step) in enumerate(steps):
        strength = max(step.strong, step.weak)
        if strength and open_pulse:
            last = found.pop()
            longer_ns, most = last.lasts_ns + step.lasts_ns, max(last.strength, strength)
            found.append(msgspec.structs.replace(last, lasts_ns=longer_ns, strength=most))
        elif strength:
            gap_ns = at_ns - found[-1].begin_ns - found[-1].lasts_ns if found else None
            found.append(Pulse(place, at_ns, step.lasts_ns, strength, gap_ns, steps[count - 1][0]))
        open_pulse = bool(strength)
        at_ns += step.lasts_ns
    return tuple(found)


def form_of(pattern: RumblePattern) -> str:
    """Return the form that hands feel: a letter a pulse, short or long; pulses too close together are one."""
    lengths: list[int] = []
    for pulse in pulses_of(pattern):
        if pulse.gap_ns is not None and pulse.gap_ns < SHORTEST_GAP_NS.value:
            lengths[-1] += pulse.gap_ns + pulse.lasts_ns
        else:
            lengths.append(pulse.lasts_ns)
    return "".join("L" if lasts_ns >= LONG_PULSE_NS.value else "S" for lasts_ns in lengths)


def hands(subject: Subject) -> Iterator[Finding]:
    """Yield patterns that hands would miss or mistake."""
    for channel, name in subject.used:
        if channel == "rumble":
            for cue in subject.owners("rumble", name):
                yield from _pattern(subject, name, cue)
    yield from _forms(subject)
    for track in subject.tracks:
        if track.in_match:
            yield from _by_period(subject, track)
            yield from _ticking(subject, track)
    yield from _in_all(subject)


def _pattern(subject: Subject, name: str, cue: str) -> Iterator[Finding]:
    pattern = subject.plan.patterns.rumble[name]
    for pulse in pulses_of(pattern):
        path = subject.pattern("rumble", name, cue, "steps", pulse.step)
        facts = {"pattern": name, "lasts": format_clock(pulse.lasts_ns), "strength": f"{pulse.strength:g}"}
        if pulse.lasts_ns < SHORTEST_PULSE_NS.value:
            yield Finding(code="short_pulse", level="warning", path=path, facts=facts)
        if pulse.strength < WEAKEST.value:
            yield Finding(code="weak_pulse", level="warning", path=path, facts=facts)
        if pulse.lasts_ns > LONGEST_EFFECT_NS.value:
            yield Finding(code="long_effect", level="warning", path=path, facts=facts)
        if pulse.gap_ns is not None and pulse.gap_ns < SHORTEST_GAP_NS.value:
            facts = {"pattern": name, "gap": format_clock(pulse.gap_ns)}
            path = subject.pattern("rumble", name, cue, "steps", pulse.gap_step)
            yield Finding(code="short_gap", level="warning", path=path, facts=facts)
    yield from _weak_pads(subject, name, pattern, cue)


def _weak_pads(subject: Subject, name: str, pattern: RumblePattern, cue: str) -> Iterator[Finding]:
    """Yield pads of the rig that take so much off that a pattern that would be felt no longer is."""
    strength = min(pulse.strength for pulse in pulses_of(pattern))
    if strength < WEAKEST.value:
        return
    for role in subject.cue(cue).roles:
        for place in subject.pads(role):
            assert subject.rig is not None  # else it had no pads
            left = strength * subject.rig.pads[place].strength
            if left < WEAKEST.value:
                facts = {"pattern": name, "role": role, "strength": f"{left:.2g}"}
                yield Finding(
                    code="weak_pad", level="warning", file="rig", path=("pad", place, "strength"), facts=facts
                )


def _forms(subject: Subject) -> Iterator[Finding]:
    """Yield for each role the cue that brings one form too many."""
    forms: dict[Role, dict[str, str]] = {}
    for cue in subject.plan.cues:
        if name := cue.patterns.get("rumble"):
            for role in cue.roles:
                forms.setdefault(role, {}).setdefault(form_of(subject.plan.patterns.rumble[name]), cue.id)
    many: dict[tuple[str, int], list[Role]] = {}
    for role, cues in forms.items():
        if len(cues) > MOST_FORMS.value:
            cue_id = list(cues.values())[int(MOST_FORMS.value)]
            many.setdefault((cue_id, len(cues)), []).append(role)
    for (cue_id, count), roles in many.items():
        facts = {"whose": _whose(roles), "count": str(count), "cue": cue_id}
        yield Finding(code="many_forms", level="warning", path=subject.at(cue_id, "rumble"), facts=facts)


def _by_period(subject: Subject, track: Track) -> Iterator[Finding]:
    """Yield what shakes pads, or asks for a press, while nobody holds them."""
    for placed in track.placed:
        kind = _period(subject, track, placed)
        if kind not in ("autonomous", "pause"):
            continue
        firing, where = placed.firing, tr("the autonomous period") if kind == "autonomous" else "a pause"
        facts = {"cue": firing.cue, "where": where, "when": track.when(placed.begin_ns)}
        if firing.role in DRIVING:
            path = subject.at(firing.cue, "rumble")
            yield Finding(code="hands_away", level="warning", path=path, facts=facts)
        elif kind == "autonomous" and (found := PRESS.search(firing.word.lower())):
            path = subject.word(firing.cue)
            yield Finding(code="press_too_early", level="warning", path=path, facts={**facts, "word": found[0]})


def _period(subject: Subject, track: Track, placed: PlacedFiring) -> PeriodKind | None:
    for slot in subject.timeline.periods:
        inside = slot.begin_ns <= placed.begin_ns and (slot.end_ns is None or placed.begin_ns < slot.end_ns)
        if slot.anchor == track.anchor and inside:
            return slot.kind
    return None


def _ticking(subject: Subject, track: Track) -> Iterator[Finding]:
    end = subject.timeline.match_end()
    ticking: dict[tuple[str, int], list[Role]] = {}
    for role in track.roles():
        if end.anchor != track.anchor or role not in DRIVING:
            continue
        late = [p for p in track.pad(role) if end.offset_ns - LAST_NS.value <= p.begin_ns < end.offset_ns]
        if len(late) > 1:
            ticking.setdefault((late[1].firing.cue, len(late)), []).append(role)
    for (cue, count), roles in ticking.items():
        facts = {"whose": _whose(roles), "count": str(count), "cue": cue}
        yield Finding(code="ticking_pad", level="warning", path=subject.rhythm(cue), facts=facts)


def _in_all(subject: Subject) -> Iterator[Finding]:
    """Yield roles whose pads vibrate for long in a match; calls by hand are left out."""
    patterns: Mapping[str, RumblePattern] = subject.plan.patterns.rumble
    for variant in subject.timeline.variants or ("",):
        total: dict[Role, int] = {}
        for track in subject.tracks:
            if track.in_match and track.variant in ("", variant):
                for role in track.roles():
                    on_ns = (_turning(patterns[p.placed.firing.pattern], p.end_ns - p.placed.begin_ns)
                             for p in played(track.pad(role)))  # fmt: skip
                    total[role] = total.get(role, 0) + sum(on_ns)
        long: dict[int, list[Role]] = {}
        for role, lasts_ns in total.items():
            if lasts_ns > MOST_VIBRATION_NS.value:
                long.setdefault(lasts_ns, []).append(role)
        for lasts_ns, roles in long.items():
            facts = {"whose": _whose(roles), "lasts": f"{lasts_ns / NS_PER_S:.1f} s"}
            yield Finding(code="much_vibration", level="advice", path=("name",), facts=facts)


def _whose(roles: list[Role]) -> str:
    """Return whose pads are meant, to begin a sentence with."""
    return " and ".join(tr("the {role}'s", role=role) for role in roles).capitalize()


@cache
def _turning(pattern: RumblePattern, lasts_ns: int) -> int:
    """Return how long motors turn when a pattern is cut after ``lasts_ns``."""
    cut = (min(pulse.begin_ns + pulse.lasts_ns, lasts_ns) - pulse.begin_ns for pulse in pulses_of(pattern))
    return sum(on_ns for on_ns in cut if on_ns > 0)


def shaken_until_ns(pattern: RumblePattern) -> int:
    """Return when the last pulse of a pattern ends, in nanoseconds; the silence behind it may be cut unnoticed."""
    last = pulses_of(pattern)[-1]
    return last.begin_ns + last.lasts_ns
