"""Define what a review says: an answer to each question, in figures with their limits, or what is still missing.

Words, pictures, tables and JSON are all made of these, so that none of them says more than another.
"""

from typing import Literal

import msgspec

#: The coach's questions, in the order in which they are told.
Question = Literal[
    "trust", "contact", "break_off", "turn", "home", "cost", "odd", "tired", "learning", "matches", "better",
]  # fmt: skip
Scope = Literal["evening", "season", "matches"]
#: A share is from 0 to 1; seconds, points a round or match; percent a doubling of rounds; seconds a round.
Unit = Literal["share", "s", "points", "percent", "s/round", "evidence", "rounds"]
#: What is counted where something is missing: rounds; pushes that the call found on; pairs by lot.
Counted = Literal["rounds", "pushes", "turns", "matches", "pairs", "evenings"]
#: What may be said of two values that were dealt by lot.
Verdict = Literal["not_yet", "better", "surely_better", "no_difference"]
#: By what they are compared: seconds after the call until the push ended, or the turn; whether there was a contact.
Outcome = Literal["break_off", "turn", "contact"]

#: What each figure is, by its name; each with its 95 % limits if it has some. These names never change.
FIGURES = {
    "counted": "rounds that figures rest on, of all that were played, those at half speed left out",
    "lost": "share of these rounds that no figure rests on",
    "half_speed": "rounds at half speed: part of the drill, but not counted",
    "repeated": "rounds that were played again",
    "dropped": "rounds that people took out",
    "cancelled": "rounds that were cancelled before their end",
    "unmarked": "rounds that count, but nobody marked what happened",
    "unclear": "rounds of which only a video can tell how they came out",
    "signals_failed": "rounds in which a device failed to give a signal",
    "planned_calls": "rounds whose call is only known from the plan",
    "clock_error": "± of the match clock, of the middle round, in seconds",
    "clock_error_worst": "± of the match clock in the worst round, in seconds",
    "contact": "share of rounds with a contact while that costs points; over a season with limits by evenings; "
               "of practice, of matches, and their difference: where a push was on at the call, and without rounds of "
               "which the lot moved the call or the start, or took a channel; of values that were dealt",
    "lead": "the plan's own lead of the call, in seconds: that of the last round",
    "no_push": "rounds in which the call found no push",
    "no_end": "of the pushes that the call found, those of which nobody noted when they ended",
    "break_off": "middle value of the time from the call to the end of the push that it found, in seconds; of "
                 "practice, of matches, and their difference",
    "break_off_nine_in_ten": "time from the call that nine in ten pushes do not exceed; holds in 9 of 10 cases",
    "break_off_if_missing": "the middle value if all that nobody marked ended at_once, or never",
    "margin": "middle value of how long before the window pushes end at the plan's own lead, in seconds; below 0 after",
    "margin_nine_in_ten": "how long before the window nine in ten pushes end at least; holds in 9 of 10 cases",
    "margin_if_missing": "the middle value if all that nobody marked ended at_once, or never",
    "on_at_lead": "share of pushes still on as the window begins, at the plan's own lead",
    "surely_on": "the same 0.8 s later: these pushes reached into the window even if all marks were that late",
    "turn": "middle value of the time from the call to the turn, in seconds",
    "turn_nine_in_ten": "time from the call that nine in ten turns do not exceed; holds in 9 of 10 cases",
    "turn_if_missing": "the middle value if all that nobody marked turned at_once, or never",
    "home_full": "share of rounds in which the robot was home at the end",
    "home_half": "share of rounds in which it was half home",
    "home_none": "share of rounds in which it was not home",
    "home_margin": "middle value of how long before the end it was home or half home, in seconds; below 0 after",
    "way": "way home from a set-up, in seconds: geometric mean, pooled with the other set-ups from three on",
    "way_own": "the same by the set-up's own rounds alone",
    "way_rounds_alone": "rounds that a set-up needs so that its own weigh four times as much as the others",
    "cost_total": "points that all rounds cost together",
    "cost": "points that a round costs in the mean",
    "gain": "points that a round gains in the mean",
    "net": "points that a round gains less those that it costs, in the mean",
    "odd": "pushes far later than their driver's usual ones, of those that could be compared",
    "odd_by_chance": "share of evenings with an odd push though nothing changed",
    "odd_limit": "time from the call beyond which a push is odd, in seconds",
    "by_round": "by how many seconds pushes end later with each round of an evening",
    "by_battery": "by how many seconds pushes end later with each round that the battery had before",
    "learning": "by how many percent pushes end sooner with each doubling of the rounds so far",
    "learning_s": "about how many seconds that is of a usual push",
    "weeks": "middle value of the time from the call in the last four weeks, in the four before, and the difference",
    "evidence": "evidence that two values which were dealt by lot differ: 20 is enough for one question",
    "difference": "seconds of the second value less those of the first; its limits hold at any time",
}


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A number with its 95 % limits.

    ``name`` is an id that never changes (it stands in JSON), ``of`` tells several of one name apart: a set-up, a value
    that was dealt, ``practice`` or ``match``. ``value`` is None where nobody can tell; ``at_most`` is the largest value
    that bounds leave open, where they leave one. ``low`` and ``high`` are None where that side has no limit, or none is
    told. A share is that of ``count`` in ``rounds``; other figures rest on so many ``rounds``. ``pooled``: drawn to the
    mean of its group.
    """

    name: str
    unit: Unit
    value: float | None
    of: str = ""
    at_most: float | None = None
    low: float | None = None
    high: float | None = None
    count: int | None = None
    rounds: int
    evenings: int = 1
    pooled: bool = False


class Lacking(msgspec.Struct, frozen=True, kw_only=True):
    """What a "not yet" waits for: about ``more`` of what is ``counted``, on at least ``evenings`` more evenings; both 0
    where only the data themselves do not tell. ``figure`` is the figure that would be told then, ``of`` as there."""

    question: Question
    figure: str
    of: str = ""
    counted: Counted = "rounds"
    more: int = 0
    evenings: int = 0


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """Two values of a ``factor`` (by its name in rows) that the drill dealt by lot, compared by an ``outcome``.

    Its figures ``evidence`` and ``difference`` (that of the second value minus that of the first) have the same
    ``of``, and so has what it lacks. ``named``: it is the question of the month. ``less`` is the value with fewer
    seconds or contacts, told where one is better. ``needed`` is the evidence that "better" takes here. It rests on
    ``pairs``; ``left_out`` blocks had a round that does not count, was repeated or is missing, or an outcome that
    nobody knows, and ``bounded`` of these only a time that is known within bounds.
    """

    of: str
    factor: str
    first: str
    second: str
    outcome: Outcome
    named: bool = False
    verdict: Verdict = "not_yet"
    less: str = ""
    needed: float
    pairs: int
    left_out: int = 0
    bounded: int = 0


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to one question: figures that may be told, each thing that may not yet, and where there is one the
    ``verdict`` of the evidence. ``marked`` are the folders of runs that the answer points at, e.g. odd rounds;
    ``comparisons`` those of values that were dealt by lot, the question of the month first. ``counts`` says whether its
    figures rest on rounds of a drill or on matches."""

    question: Question
    counts: Literal["rounds", "matches"] = "rounds"
    figures: tuple[Figure, ...] = ()
    lacking: tuple[Lacking, ...] = ()
    verdict: str = ""
    marked: tuple[str, ...] = ()
    comparisons: tuple[Comparison, ...] = ()

    def figure(self, name: str, of: str = "") -> Figure | None:
        """Return the figure of a name, None if it is not told."""
        return next((one for one in self.figures if one.name == name and one.of == of), None)


class LeftOut(msgspec.Struct, frozen=True, kw_only=True):
    """How many ``rounds`` are left out of all figures, and ``why``, in words; ``lost`` were meant to count."""

    why: str
    rounds: int
    lost: bool = False


class Review(msgspec.Struct, frozen=True, kw_only=True):
    """What an evening, a season or all matches came to.

    ``evenings`` are their names (dates), ``drills`` and ``plans`` those that were played, ``leads_s`` the leads in
    force where all rounds have the same. ``trusted`` is False where so much is lost that nothing else is told.
    """

    scope: Scope
    evenings: tuple[str, ...]
    drills: tuple[str, ...] = ()
    plans: tuple[str, ...] = ()
    leads_s: dict[str, float] = {}
    trusted: bool = True
    answers: tuple[Answer, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    @property
    def unknown(self) -> tuple[Lacking, ...]:
        """All that is not known yet, what takes least first; last what more of the same will not tell."""
        found = [one for answer in self.answers for one in answer.lacking]
        return tuple(sorted(found, key=lambda one: (not (one.more or one.evenings), one.evenings, one.more)))

    def answer(self, question: Question) -> Answer | None:
        """Return the answer to a question, None if it was not asked."""
        return next((one for one in self.answers if one.question == question), None)
