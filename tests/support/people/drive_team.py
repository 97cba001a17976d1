"""A driver who hears the call home, and a scribe who notes what the robot does. Both live in match seconds.

Whatever takes people time is drawn in seconds of the match: at a rate of 20 they hear, brake, drive and press twenty
times as fast as people do. What Tocsin measures in real time stays as it is there, since it is about hands and not
about robots: a mark may be off by 0.8 s (then 16 s of the match), a key held for less than 0.3 s is a point (then 6 s
of the match), and a second tap within 1.5 s says "less than that" (30 s of the match). So at that rate most pushes that
end near the window's begin not known without a video, and only those are charged that hold on for long.
"""

import random
from typing import Literal, NamedTuple

Habit = Literal["breaks off", "never comes near", "does not hear", "comes again"]
HABITS: tuple[Habit, ...] = (
    *5 * ("breaks off",), *3 * ("never comes near",), *2 * ("does not hear",), *2 * ("comes again",),
)  # fmt: skip


class Deed(NamedTuple):
    """What the robot did, in seconds of the match: ``end_s`` None is an instant."""

    label: str
    begin_s: float
    end_s: float | None = None


class Driver:
    """Pushes, and breaks off once the call home is heard. Times are estimates from practice, no source."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng

    def drive(self, habit: Habit, from_s: float, call_s: float, end_s: float) -> list[Deed]:
        """Return what the robot does from a moment on, with the call home and the end of the match at theirs."""
        rng = self._rng
        hears_s = call_s + rng.uniform(0.6, 1.6)
        turns_s = hears_s + rng.uniform(0.2, 0.8)
        free_s = hears_s + rng.uniform(0.8, 2.0)                 # brakes, and opens a gap
        home_s = free_s + rng.uniform(5.0, 9.0)
        match habit:
            case "breaks off":
                deeds = [Deed("contact", rng.uniform(from_s + 0.5, call_s), free_s)]
            case "never comes near":
                deeds = []
            case "does not hear":                                # pushes on until somebody shouts
                hold_s = rng.uniform(end_s - 1.5, end_s - 0.7)
                return [Deed("contact", rng.uniform(from_s + 0.2, call_s), hold_s), Deed("turned", hold_s + 0.6)]
            case "comes again":
                once, twice = rng.uniform(from_s + 0.2, from_s + 0.6), free_s + 2
                deeds = [
                    Deed("contact", once, once + rng.uniform(0.3, 0.6)),
                    Deed("contact", twice, twice + rng.uniform(0.5, 9.0)),
                ]
        return sorted([*deeds, Deed("turned", turns_s), Deed("home", home_s)], key=lambda deed: deed.begin_s)


class Scribe:
    """Notes each begin and each end 0.3 to 0.5 s late, by itself (common practice, no source: 0.3 to 0.8 s)."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng

    def note(self, deeds: list[Deed]) -> list[Deed]:
        """Return when the keys of what was seen go down and up."""
        return [
            Deed(deed.label, self._late(deed.begin_s), None if deed.end_s is None else self._late(deed.end_s))
            for deed in deeds
        ]

    def _late(self, at_s: float) -> float:
        return at_s + self._rng.uniform(0.3, 0.5)
