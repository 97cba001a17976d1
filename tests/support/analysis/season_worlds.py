"""Define what a simulated team's season is like: who drives, what was played, and everything that moves their times."""

from typing import NamedTuple

from tests.support.analysis.seasons import SPREAD


class Driver(NamedTuple):
    """A driver by key: the median of break-off times in seconds once 64 pushes are behind, and the spread of their
    logarithm."""

    key: str
    median_s: float = 2.7
    spread: float = SPREAD


class Crew(NamedTuple):
    """Who shares a pad's two sides in a round; ``operator`` by key."""

    driver: Driver
    operator: str


class Matches(NamedTuple):
    """So many matches on an evening, which is counted from 0, ``at`` practice or an event."""

    evening: int
    count: int
    at: str = "event"


class Slow(NamedTuple):
    """One push that took ``times`` as long: in the round of this number that the first crew drove on an evening, which
    is counted from 0."""

    evening: int
    round: int
    times: float


class World(NamedTuple):
    """A season, and the truth behind it; seconds are those of break-off times unless said otherwise.

    ``crews`` take turns in an evening's drill; with ``at_once`` so many of them come to an evening, the next ones to
    the next. Evenings are on ``days`` of each week, from its Tuesday on.
    ``drills`` are bundled ones by name, an evening each, in turn; ``plan`` is that of matches; ``lead_s`` the lead of
    *Break off*, ``lead_changes`` from which evening on (from 0) it is another one. ``times`` and ``correlation`` are as
    in ``seasons.evening_times``.

    ``calling_s``: so much quicker while the coach calls. ``setups_s``: slower by set-up, in the drill's order;
    ``ways_s`` the medians of ways home likewise. ``follows``: by how much a push ends earlier if the call comes a
    second earlier. ``doubling``: times become shorter by this share with each doubling of a driver's pushes so far.
    ``fatigue_s`` and ``battery_s``: slower with each round of the evening, and of the battery; ``uneven``: batteries
    are not changed each so many rounds. ``match_s``: slower in matches; ``pushes`` the share of matches in which a push
    is on at the call.

    ``lag_s`` between which a scribe is late; ``own_scribe``: each evening's scribe has a lag of its own between these.
    ``lost`` is the share of pushes that nobody notes, ``lost_wrong`` of those that reached into the window,
    ``never_ended`` of those whose end nobody notes. ``swapped``: crews change places after each four rounds, in
    mid-block; ``repeated``: the share of rounds that went wrong (a push reached into the window) which are played
    again; ``dropped`` of all rounds. ``clock_s``: so late is the clock of matches, and nobody knows. ``again``: of
    rounds, a touch in the window after having broken off. ``slow`` are single odd pushes. ``points``: whether
    rounds of drills are reckoned in points, which no time hangs on.
    """

    crews: tuple[Crew, ...] = (Crew(Driver("d1"), "o1"),)
    at_once: int | None = None
    days: tuple[int, ...] = (0, 2)
    evenings: int = 16
    drills: tuple[str, ...] = ("break_off",)
    plan: str = "quiet"
    lead_s: float = 4.0
    lead_changes: tuple[tuple[int, float], ...] = ()
    matches: tuple[Matches, ...] = ()
    times: str = "log-normal"
    correlation: float = 0.0
    calling_s: float = 0.0
    setups_s: tuple[float, ...] = ()
    ways_s: tuple[float, ...] = (7.0,)
    follows: float = 1.0
    doubling: float = 0.0
    fatigue_s: float = 0.0
    battery_s: float = 0.0
    uneven: bool = False
    match_s: float = 0.0
    pushes: float = 0.5
    lag_s: tuple[float, float] = (0.3, 0.8)
    own_scribe: bool = False
    lost: float = 0.0
    lost_wrong: float = 0.0
    never_ended: float = 0.0
    swapped: bool = False
    repeated: float = 0.0
    dropped: float = 0.0
    clock_s: float = 0.0
    again: float = 0.03
    slow: tuple[Slow, ...] = ()
    points: bool = True

    def crews_on(self, evening: int) -> tuple[Crew, ...]:
        """Return the crews that come to an evening, counted from 0."""
        count = self.at_once or len(self.crews)
        return tuple(self.crews[(evening * count + place) % len(self.crews)] for place in range(count))

    def lead_on(self, evening: int) -> float:
        """Return the lead in force on an evening, in seconds."""
        changes = [lead for since, lead in self.lead_changes if since <= evening]
        return changes[-1] if changes else self.lead_s


PLAIN = World()
TWO_CREWS = (Crew(Driver("d1"), "o1"), Crew(Driver("d2", 3.0), "o2"))
# Worlds that a season's review must stand, by their letters.
WORLDS = {
    "a plain": World(),
    "b evenings r .05": World(correlation=0.05),
    "b evenings r .15": World(correlation=0.15),
    "c ex-Gaussian": World(times="ex-Gaussian"),
    "c t4": World(times="t4"),
    "c lapses": World(times="lapses"),
    "d learning, fatigue": World(doubling=0.1, fatigue_s=0.02),
    "e scribes, marks lost": World(own_scribe=True, lost=0.1),
    "e lost when wrong": World(own_scribe=True, lost_wrong=0.5),
    "f never ended": World(never_ended=0.1),
    "g swapped, repeated": World(crews=TWO_CREWS, swapped=True, repeated=0.5, dropped=0.03),
    "h clock late 0.3 s": World(clock_s=0.3, matches=tuple(Matches(evening, 3) for evening in range(16))),
    "i earlier call used up": World(follows=0.0),
    "j nothing differs": World(crews=TWO_CREWS),
    "k lead changed": World(lead_changes=((8, 4.5),)),
    "l matches slower": World(match_s=0.6, matches=tuple(Matches(evening, 3) for evening in range(16))),
    "m one evening": World(evenings=1),
    "m no contact": World(crews=(Crew(Driver("d1", 1.2, 0.1), "o1"),), again=0.0),
    "m only contact": World(crews=(Crew(Driver("d1", 9.0, 0.1), "o1"),)),
}
