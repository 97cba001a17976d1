"""What pads and loudspeaker must be told for a run's firings, by its timetable and the bundled patterns."""

from itertools import zip_longest
from typing import NamedTuple

from tests.support.people.observed import LATENCY_MS
from tests.support.stands.timetable import Due, Timetable
from tocsin.config.load import load
from tocsin.model.pattern import SoundStep
from tocsin.units import NS_PER_MS

PATTERNS = load(None, ["full"], "nothing").plans[0].plan.patterns


class Strengths(NamedTuple):
    """From a time on a pad's motors turn so strongly, 0 to 1; 0 and 0 is a stop."""

    at_ns: int
    strong: float
    weak: float


class Sounding(NamedTuple):
    """A step of a sound that is no silence; how long after the sound's begin it comes; how long its soft edges are."""

    due: Due
    after_ns: int
    step: SoundStep
    edges_ns: int

    @property
    def pitches_hz(self) -> tuple[float, float]:
        """What a glide has come to in the middle of its first and of its last fifth; a plain tone's pitch twice."""
        ends_hz = self.step.to_hz or self.step.hz
        rise_hz = (ends_hz - self.step.hz) / 10
        return self.step.hz + rise_hz, ends_hz - rise_hz


def call_ns(due: Due) -> int:
    """Return when the device call of a firing is due: its landing less the device's delay."""
    return due.lands_ns - LATENCY_MS[due.role or due.channel] * NS_PER_MS


def strengths(timetable: Timetable, role: str) -> list[Strengths]:
    """Return all changes on the pad of a role; a pattern is cut where the next one begins."""
    wanted: list[Strengths] = []
    played = timetable.played("rumble", role)
    for due, later in zip_longest(played, played[1:]):
        at_ns, pattern = call_ns(due), PATTERNS.rumble[due.pattern]
        steps = [(step.strong, step.weak, step.lasts_ns) for step in pattern.steps * pattern.times]
        for strong, weak, lasts_ns in [*steps, (0.0, 0.0, 0)]:
            if later is None or at_ns < call_ns(later):
                wanted.append(Strengths(at_ns, strong, weak))
            at_ns += lasts_ns
    before = [Strengths(0, 0.0, 0.0), *wanted]
    return [new for old, new in zip(before, wanted, strict=False) if old[1:] != new[1:]]


def soundings(timetable: Timetable) -> list[Sounding]:
    """Return all that the loudspeaker sounds, in order."""
    found = []
    for due in timetable.played("sound"):
        after_ns, pattern = 0, PATTERNS.sound[due.pattern]
        for step in pattern.steps * pattern.times:
            if step.hz:
                found.append(Sounding(due, after_ns, step, pattern.attack_ns + pattern.release_ns))
            after_ns += step.lasts_ns
    return found
