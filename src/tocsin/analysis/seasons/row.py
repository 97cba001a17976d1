"""Define the row of a run: what it was, under what condition, what it came to; and count how often what was dealt."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

Value = str | float
# A round of a drill; a match that Tocsin clocked, or that was taken from a video, a robot's log or an exported page's
# record; a reaction test.
Kind = Literal["drill", "match", "video", "robot", "page", "reaction"]
# What a drill deals by lot, by the row's fields, in the order in which it is told.
FACTORS = ("setup", "coach", "draw_out", "shift_s", "late_start_s", "plan_dealt")
NONE_DRAWN = "none"                    # where the lot took no channel away from a round, though it may


class Row(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One run in figures; people by their keys. Seconds are real ones, to the millisecond; None and "" are unknown, or
    do not apply.

    ``wall`` is its begin, RFC 3339 in UTC; ``local`` the same in the time of day where it was played, ``evening`` the
    name of its evening: both are empty if nobody can tell. ``drill`` and ``round`` are empty and 0 for a match.
    ``session`` tells apart drills that were begun separately. ``at`` is ``practice`` or ``event``, empty for a match of
    a version that did not ask; ``match`` is the number that an event gave it. ``people_unknown``: its journal names
    people, but not whether they are of this crew.

    ``marks`` are those that count, of a push that several noted one; ``marks_noted`` are all that stand.
    ``watched``: somebody marked what happened, or said that there was nothing. ``clean`` is the verdict by the rule of
    the drill, or of a match in this game, None if unknown; ``counted`` says whether it may be compared with others,
    ``uncounted`` why not, ``taken_out`` why people took it out. ``call`` is how the time of the call home is known:
    ``landed`` by a device, ``marked`` by a person, or only ``planned``; ``push_at_call`` whether a push of ours was on.

    ``break_off_s`` (only within bounds: (``at_least``, ``at_most``], equal where it was noted, no ``at_most`` where it
    was only longer) is from the call to the end of that push; ``break_off_margin_s`` how long before the window the
    last push before it ended, below 0 how far it reached in. ``turn_s`` is from the call home to the turn, ``way_s``
    from there home, ``home_margin_s`` from home to the end of the match. ``contacts`` are those in the windows of the
    rule, ``contacts_unclear`` those that only a video can tell, ``contact_s`` how long they lasted there; None where
    the rule has no such windows. Points
    ``at_most`` count each of the ``unclear_marks`` too. ``error_ms`` is the ± of its clock, ``clock_spread_ms`` its
    standard deviation, ``calls_failed`` how many signals a device failed to give, ``leads_s`` the leads in force,
    shifted or not, ``seed`` that of the drill's lots.

    ``break_off_by``, ``turn_by`` and ``home_by`` say who noted the upper bound of that time: ``key`` a scribe as it
    happened, so some tenths of a second late, ``later`` somebody afterwards, ``video``, or nobody. ``scribe_lags_s``
    are the lags of pushes that both a key and a video noted: the key's end minus the video's.

    The condition: what was dealt by lot, empty or None where the drill does not vary it. ``draw_out`` is the silent
    channel, or ``none``; ``shift_s`` above 0 calls earlier; ``late_start_s`` is how long after the count the match
    began, ``earlier_s`` how long before the drill's moment; ``plan_dealt`` is a plan as the drill names it.
    ``dealt_of`` is how many values of each factor the drill deals, in blocks that hold each of them once.
    ``battery_rounds`` are the rounds that the battery had before.
    """

    folder: str
    wall: str
    game: str
    plan: str
    source: str
    outcome: str
    local: str = ""
    evening: str = ""
    at: str = ""
    match: int | None = None
    kind: Kind = "match"
    drill: str = ""
    session: str = ""
    round: int = 0
    crew: str = ""
    people: dict[str, str] = {}            # key by role
    people_unknown: bool = False
    marks: int = 0
    marks_noted: int = 0
    score_us: int | None = None            # as the officials counted it
    score_them: int | None = None
    watched: bool | None = None
    clean: bool | None = None
    counted: bool = False
    taken_out: str = ""
    uncounted: tuple[str, ...] = ()
    call: str = ""
    push_at_call: bool | None = None
    break_off_at_least_s: float | None = None
    break_off_at_most_s: float | None = None
    break_off_margin_s: float | None = None
    break_off_margin_at_least_s: float | None = None
    break_off_margin_at_most_s: float | None = None
    turn_s: float | None = None
    turn_at_least_s: float | None = None
    turn_at_most_s: float | None = None
    way_s: float | None = None
    way_at_least_s: float | None = None
    way_at_most_s: float | None = None
    home: str = ""
    home_margin_s: float | None = None
    break_off_by: str = ""
    turn_by: str = ""
    home_by: str = ""
    scribe_lags_s: tuple[float, ...] = ()
    contacts: int | None = None
    contacts_unclear: int | None = None
    contact_s: float | None = None
    cost_points: int | None = None
    gain_points: int | None = None
    net_points: int | None = None
    cost_at_most_points: int | None = None
    gain_at_most_points: int | None = None
    thresholds: dict[str, bool | None] = {}            # whether each was met, by id
    unclear_marks: int = 0
    open_marks: int = 0
    error_ms: int | None = None
    clock_spread_ms: float | None = None
    calls_failed: int = 0
    leads_s: dict[str, float] = {}
    seed: int | None = None
    half_speed: bool = False
    setup: str = ""
    coach: str = ""
    draw_out: str = ""
    shift_s: float | None = None
    late_start_s: float | None = None
    earlier_s: float | None = None
    plan_dealt: str = ""
    battery_rounds: int | None = None
    dealt_of: dict[str, int] = {}          # how many values its drill deals, by factor

    @property
    def is_as_planned(self) -> bool:
        """Whether a round was called and began as its plan says, as a match is: the lot moved nothing and took no
        channel away."""
        return not self.shift_s and not self.late_start_s and self.draw_out in ("", NONE_DRAWN)

    @property
    def dealt(self) -> dict[str, Value]:
        """What was dealt to this round, by ``FACTORS``, without what its drill does not vary."""
        values = {factor: getattr(self, factor) for factor in FACTORS}
        return {factor: value for factor, value in values.items() if value not in ("", None)}

    def block(self, factor: str) -> tuple[str, str, int] | None:
        """Return the block in which a factor was dealt to this round: session, crew and number; None if it was not."""
        values = self.dealt_of.get(factor, 0)
        return (self.session, self.crew, (self.round - 1) // values) if values and self.round else None


class Dealt(msgspec.Struct, frozen=True, kw_only=True):
    """How often a ``value`` of a factor came: in how many rounds it was ``dealt``, how often those were ``played`` (a
    round that was cancelled or repeated is played again), how many of these ``counted``, and how many of the counted
    were ``clean`` or not (the rest cannot be told)."""

    factor: str
    value: Value
    dealt: int
    played: int
    counted: int
    clean: int
    not_clean: int


def dealt_in(rows: Iterable[Row], values: Mapping[str, Sequence[Value]]) -> tuple[Dealt, ...]:
    """Return how often each of these ``values`` of a factor was dealt in rounds of one session, and each other that
    was."""
    rows = tuple(rows)
    found = []
    for factor in FACTORS:
        known = [*values.get(factor, ()), *(row.dealt[factor] for row in rows if factor in row.dealt)]
        for value in dict.fromkeys(known):
            played = [row for row in rows if row.dealt.get(factor) == value]
            counted = [row for row in played if row.counted]
            found.append(
                Dealt(
                    factor=factor, value=value, dealt=len({(row.crew, row.round) for row in played}),
                    played=len(played), counted=len(counted), clean=sum(row.clean is True for row in counted),
                    not_clean=sum(row.clean is False for row in counted),
                )
            )  # fmt: skip
    return tuple(found)
