"""Find pitches that small loudspeakers cannot play, and sounds that nobody may play.

Clipping cannot occur and is not checked: a level is at most 1, and a new sound ends the one before it.
"""

import re
from collections.abc import Iterator
from itertools import pairwise

import msgspec

from tocsin.lint import limits as limit
from tocsin.lint.finding import BAD, WARN, Finding, Kind
from tocsin.lint.limits import EVACUATION, EVACUATION_PAUSE_NS, HIGHEST_HZ, LOWEST_HZ
from tocsin.lint.subject import Subject
from tocsin.lint.tracks import PlacedFiring, Track, played
from tocsin.model.diagnostics import Path
from tocsin.model.pattern import SoundPattern

_TOLERANCE = 0.1                       # ISO 8201: each time within 10 %
_JOINED_NS = 20_000_000                # a gap below this is no silence to the ear (own estimate)
_PULSES = 3
_QUIET = re.compile(r"\b(quiet|events?)\b")

KINDS_OF_SOUNDS: dict[str, Kind] = {
    "evacuation_alarm": Kind(
        BAD,
        "'{cue}' makes the signal that means 'leave the building' {when}.",
        "That signal is reserved: people would leave, or learn not to.",
        "Take two pulses, other lengths, or a rise.",
        (limit.EVACUATION, limit.EVACUATION_PAUSE_NS),
    ),
    "pitch_out": Kind(
        WARN,
        "A tone of the sound pattern '{pattern}' is too {way}, at {hz} Hz.",
        "Small loudspeakers and ears in noise lose it.",
        "Take a pitch from 500 to 2500 Hz, such as 750.",
        (limit.LOWEST_HZ, limit.HIGHEST_HZ),
    ),
    "speech_over_tone": Kind(
        WARN,
        "The word of '{cue}' ('{word}', about {takes}) still sounds when the tone of '{other}' begins {when}.",
        "A tone cuts a word that is still spoken: people hear half, just before a call.",
        "Take a shorter word, leave more time between the two, or let the rig say: speech = false",
        (limit.SAID_BEFORE, limit.SYLLABLE_NS),
    ),
    "quiet_sounds": Kind(
        WARN,
        "The plan is called '{plan}', but its cue '{cue}' makes a sound.",
        "At events sound is off: people pick a plan with quiet in its name for that.",
        "Take the sound away, or call the plan something else.",
        (limit.QUIET,),
    ),
}


class _Tone(msgspec.Struct, frozen=True):
    """A stretch of sound of one firing."""

    begin_ns: int
    end_ns: int
    placed: PlacedFiring


def sounds(subject: Subject) -> Iterator[Finding]:
    """Yield tones out of the range, the evacuation alarm, sound in a plan that promises quiet."""
    for channel, name in subject.used:
        if channel == "sound":
            for cue in subject.owners("sound", name):
                yield from _pitches(subject, name, cue)
    for track in subject.tracks:
        yield from _alarms(subject, track)
    if _QUIET.search(subject.plan.name.lower()):
        for cue_ in subject.plan.cues:
            if "sound" in cue_.patterns:
                facts = {"plan": subject.plan.name, "cue": cue_.id}
                yield Finding(code="quiet_sounds", level="warning", path=subject.at(cue_.id, "sound"), facts=facts)


def _pitches(subject: Subject, name: str, cue: str) -> Iterator[Finding]:
    for place, step in enumerate(subject.plan.patterns.sound[name].steps):
        if not (step.hz and step.level):
            continue
        pitches = (step.hz, step.to_hz or step.hz)
        out = [hz for hz in pitches if not LOWEST_HZ.value <= hz <= HIGHEST_HZ.value]
        if out:
            path = subject.pattern("sound", name, cue, "steps", place)
            facts = {"pattern": name, "hz": f"{out[0]:g}", "way": "low" if out[0] < LOWEST_HZ.value else "high"}
            yield Finding(code="pitch_out", level="warning", path=path, facts=facts)


def _alarms(subject: Subject, track: Track) -> Iterator[Finding]:
    """Yield groups of three pulses that cannot be told from the alarm for evacuation."""
    group: list[_Tone] = []
    for tone in [*_tones(subject, track), None]:
        if tone is not None and (not group or tone.begin_ns - group[-1].end_ns < _least(EVACUATION_PAUSE_NS.value)):
            group.append(tone)
            continue
        if _is_evacuation(group):
            facts = {"cue": group[-1].placed.firing.cue, "when": track.when(group[0].begin_ns)}
            yield Finding(code="evacuation_alarm", level="error", path=_path(subject, group), facts=facts)
        group = [tone] if tone is not None else []


def _path(subject: Subject, group: list[_Tone]) -> Path:
    last = group[-1].placed.firing
    if len({tone.placed.firing.no for tone in group}) == 1:
        return subject.pattern("sound", last.pattern, last.cue)
    return subject.rhythm(last.cue)


def _is_evacuation(group: list[_Tone]) -> bool:
    if len(group) != _PULSES:
        return False
    times = [tone.end_ns - tone.begin_ns for tone in group]
    times += [after.begin_ns - before.end_ns for before, after in pairwise(group)]
    half_ns = EVACUATION.value
    return all(_least(half_ns) <= time_ns <= half_ns * (1 + _TOLERANCE) for time_ns in times)


def _least(ns: float) -> float:
    return ns * (1 - _TOLERANCE)


def _tones(subject: Subject, track: Track) -> list[_Tone]:
    """Return what is heard on a track: tones that touch are one."""
    tones: list[_Tone] = []
    for one in played(track.of("sound")):
        for begin_ns, end_ns in _sounding(subject.plan.patterns.sound[one.placed.firing.pattern]):
            begin_ns += one.placed.begin_ns
            end_ns = min(end_ns + one.placed.begin_ns, one.end_ns)
            if begin_ns >= end_ns:
                continue
            if tones and begin_ns - tones[-1].end_ns < _JOINED_NS:
                tones[-1] = _Tone(tones[-1].begin_ns, end_ns, one.placed)
            else:
                tones.append(_Tone(begin_ns, end_ns, one.placed))
    return tones


def _sounding(pattern: SoundPattern) -> Iterator[tuple[int, int]]:
    at_ns = 0
    for step in pattern.steps * pattern.times:
        if step.hz and step.level:
            yield at_ns, at_ns + step.lasts_ns
        at_ns += step.lasts_ns
