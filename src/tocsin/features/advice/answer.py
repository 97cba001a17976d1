"""Define what advice says: words, the picture and JSON are all made of it, so that none says more than another.

``schema.json`` beside it describes the document for other programs.
"""

from typing import Literal

import msgspec

from tocsin.analysis.decisions.choice import FEWEST_MATCHES, Advice, Number, Question, Records, Refusal, RefusalCode
from tocsin.analysis.decisions.curve import LeadCurve

Format = Literal["tocsin-advice/1"]
#: Why nothing is advised: what rounds say, or do not; or what the plan and the game have no place for.
WhyNot = Literal[RefusalCode, "no lead", "no call", "no stake"]


class PlanLine(msgspec.Struct, frozen=True, kw_only=True):
    """The line of a file, counted from 1, that changes the plan, as it is to be typed."""

    file: str
    line: int
    text: str


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """The one change: ``then_s`` seconds, for ``gain`` points a match, with its 80 % interval from ``low`` to ``high``.

    It saves a contact in ``matches_a_contact`` matches (below 0: costs one). It turns at a second worth
    ``turns_at_second`` points, and at a push that is on at the call in a share of ``turns_at_pushes``.
    ``plan_line`` is None where the file does not have the lead as one value in a line.
    """

    then_s: float
    gain: float
    low: float
    high: float
    matches_a_contact: float | None
    turns_at_second: float
    turns_at_pushes: float | None
    plan_line: PlanLine | None


class NoChange(msgspec.Struct, frozen=True, kw_only=True):
    """Why there is none. The best change would be to ``then_s``, for ``gain`` points a match, with its 80 % interval.

    ``hangs_on`` are numbers that people know; if it is one alone, ``turns_at`` is where the answer turns (points of a
    second, a share of matches, seconds of the scribe's lag), ``below`` whether the change is better below that.
    ``more_pushes`` would decide, ``chance`` is how likely that is; None if not even 96 would.
    """

    why: WhyNot
    then_s: float | None = None
    gain: float | None = None
    low: float | None = None
    high: float | None = None
    hangs_on: tuple[Number, ...] = ()
    turns_at: float | None = None
    below: bool | None = None
    more_pushes: int | None = None
    chance: float | None = None


class LeadAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of one lead of the plan, ``now_s`` seconds, and what it rests on.

    ``second`` is what a second of playing is worth in points a match, from and to; ``contact`` what a contact costs;
    ``pushes`` in which share of matches a push is on at the call, from and to, in place of which ``pushes_seen`` (a
    count, and its matches) stands from eight matches on. ``least_s`` is below what `tocsin check` objects. ``runs`` are
    the folders' names of the rounds that it rests on, on ``evenings``. ``curve`` is None where too little is known.
    """

    lead: str
    now_s: float | None
    change: Change | None = None
    refused: NoChange | None = None
    second: tuple[float, float]
    contact: float
    pushes: tuple[float, float]
    pushes_seen: tuple[int, int] | None = None
    late_s: float = 0.0
    spread_s: float = 0.0
    follows: float | None = None
    least_s: float = 0.0
    records: Records | None = None
    evenings: tuple[str, ...] = ()
    runs: tuple[str, ...] = ()
    curve: LeadCurve | None = None


class AdviceDocument(msgspec.Struct, frozen=True, kw_only=True):
    """All that advice says of a plan: at most one of its ``leads`` has a change. ``window`` is the title of what the
    call to break off comes before. ``event`` is the day of the next event (ISO 8601), empty for none."""

    format: Format = "tocsin-advice/1"
    game: str
    plan: str
    file: str
    window: str = ""
    event: str = ""
    leads: tuple[LeadAnswer, ...]

    @property
    def told(self) -> LeadAnswer:
        """The lead that the first sentence is about: the one that is to be changed, else the first."""
        return next((one for one in self.leads if one.change is not None), self.leads[0])


def changed(advice: Advice, question: Question, line: PlanLine | None) -> Change:
    """Return advice as it is told."""
    longer_s = advice.lead_s - question.lead_s
    return Change(
        then_s=advice.lead_s, gain=advice.gain, low=advice.low, high=advice.high,
        matches_a_contact=1 / advice.contacts if advice.contacts else None,
        turns_at_second=advice.saved / longer_s,
        turns_at_pushes=_turns_at_pushes(question, advice.saved, longer_s),
        plan_line=line,
    )  # fmt: skip


def unchanged(found: Refusal) -> NoChange:
    """Return a refusal as it is told."""
    return NoChange(
        why=found.code, then_s=found.lead_s, gain=found.gain, low=found.low, high=found.high, hangs_on=found.hangs_on,
        turns_at=found.turns_at, below=found.below, more_pushes=found.more.rounds if found.more else None,
        chance=found.more.chance if found.more else None,
    )  # fmt: skip


def usual_share(question: Question) -> float:
    """Return in which share of matches a push is on at the call: as matches showed it, else the middle of both ends."""
    if question.pushes_seen is not None and question.pushes_seen[1] >= FEWEST_MATCHES:
        return (question.pushes_seen[0] + 0.5) / (question.pushes_seen[1] + 1)
    return sum(question.pushes) / 2


def _turns_at_pushes(question: Question, saved: float, longer_s: float) -> float | None:
    """Return the share of pushes at which what a change saves in contacts is what its seconds cost."""
    if not saved:
        return None
    return usual_share(question) * sum(question.second) / 2 * longer_s / saved
