"""Define what advice says: words, the picture and JSON are all made of it, so that none says more than another.

``schema.json`` beside it describes the document for other programs.
"""

from collections.abc import Iterable, Iterator
from pathlib import PurePath
from typing import Literal

import msgspec

from tocsin.analysis.decisions.choice import Advice, Records, Refusal, Unknown
from tocsin.analysis.decisions.close_match import Fork, Returns, Spread
from tocsin.analysis.decisions.curve import LeadCurve
from tocsin.analysis.decisions.posterior import Lag
from tocsin.analysis.decisions.season import BreakOff, CallHome
from tocsin.analysis.decisions.turns import Turn, turns_of
from tocsin.analysis.review.changes import LeadContacts
from tocsin.analysis.seasons.row import Row
from tocsin.journal.place import unlabelled

Format = Literal["tocsin-advice/1"]
#: What leaves nothing to weigh: the plan lacks the lead, or it moves no call home; the game gives no points for it; of
#: no round anybody knows when a robot was home; or another lead of the plan gains more, and its change comes first.
Unfit = Literal["no lead", "no call", "no stake", "no way home", "one at a time"]


class PlanLine(msgspec.Struct, frozen=True, kw_only=True):
    """The line of a file, counted from 1, that changes the plan, as it is to be typed."""

    file: str
    line: int
    text: str


class Change(Advice, frozen=True, kw_only=True):
    """The one change. ``turns`` are where it would no longer be advised, each number alone being another; the first of
    a second also stands in ``turns_at_second`` (points), that of pushes in ``turns_at_pushes`` (a share of matches),
    None where there is none. ``plan_line`` is None where the file does not have the lead as one value in a line."""

    turns: tuple[Turn, ...]
    turns_at_second: float | None = None
    turns_at_pushes: float | None = None
    plan_line: PlanLine | None = None


class LeadAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of one lead of the plan, ``now_s`` seconds, and what it rests on: a ``change``, or why it is
    ``refused``, or what makes it ``unfit``.

    ``second`` is what a second of playing is worth in points a match, from and to. To break off: ``contact`` is what a
    contact costs; ``pushes`` in which share of matches a push is on at the call, from and to, in place of which
    ``pushes_seen`` (a count, and its matches) stands from eight matches on; ``follows`` by how much a push ends earlier
    if the call comes a second earlier, None where nothing tells (1 is assumed). To call home: the points of a ``full``
    and a ``half`` return. ``late_s`` and ``spread_s`` are the clock's, ``lag`` is the scribe's. Below ``least_s``
    `tocsin check` objects. ``runs`` are the folders' names, without their
    labels, of the rounds that it rests on, on ``evenings``. ``curve``
    is None where too little is known, or an event is near. ``season`` is what a season's page says of contacts as this
    lead was changed last.
    """

    lead: str
    now_s: float | None
    change: Change | None = None
    refused: Refusal | None = None
    unfit: Unfit | None = None
    second: tuple[float, float]
    contact: float | None = None
    pushes: tuple[float, float] | None = None
    pushes_seen: tuple[int, int] | None = None
    follows: float | None = None
    full: float | None = None
    half: float | None = None
    late_s: float = 0.0
    spread_s: float = 0.0
    lag: Lag | None = None
    least_s: float = 0.0
    records: Records | None = None
    evenings: tuple[str, ...] = ()
    runs: tuple[str, ...] = ()
    curve: LeadCurve | None = None
    season: LeadContacts | None = None

    @property
    def weighed_s(self) -> float | None:
        """The lead that is advised, or would be best though it is not; None if there is none."""
        found = self.change or self.refused
        return None if found is None else found.lead_s


class CloseMatch(msgspec.Struct, frozen=True, kw_only=True):
    """What to do ahead or behind in the last seconds of a close match: ``forks``, by how far a projected lead ends up
    off (``spread``), and by how often robots came home (``returns``)."""

    forks: tuple[Fork, ...]
    spread: Spread
    returns: Returns | None = None


class AdviceDocument(msgspec.Struct, frozen=True, kw_only=True):
    """All that advice says of a plan: at most one of its ``leads`` has a change. ``window`` is the title of what the
    call to break off comes before. ``event`` is the day of the next event (ISO 8601), empty for none. ``invented`` is
    true of the example's team. The file of a ``bundled`` plan comes with Tocsin, and is not to be edited."""

    format: Format
    version: str
    invented: bool = False
    game: str
    plan: str
    file: str
    bundled: bool = False
    window: str = ""
    event: str = ""
    leads: tuple[LeadAnswer, ...]
    close_match: CloseMatch | None = None

    @property
    def told(self) -> LeadAnswer:
        """The lead that the first sentence is about: the one that is to be changed, else the first."""
        return next((one for one in self.leads if one.change is not None), self.leads[0])

    @property
    def others(self) -> Iterator[LeadAnswer]:
        """The other leads."""
        return (one for one in self.leads if one is not self.told)


def resting_on(answer: LeadAnswer, asked: BreakOff | CallHome, rows: Iterable[Row]) -> LeadAnswer:
    """Return an answer with what it rests on: the records, their evenings and runs, and how late its scribes are."""
    used = set(asked.runs)
    return msgspec.structs.replace(
        answer, lag=asked.question.lag, records=asked.records,
        evenings=tuple(dict.fromkeys(row.evening for row in rows if row.folder in used)),
        runs=tuple(unlabelled(PurePath(folder).name) for folder in asked.runs),
    )  # fmt: skip


def changed(advice: Advice, line: PlanLine | None, unknown: Unknown) -> Change:
    """Return advice as it is told, with where it would no longer be given."""
    turns = turns_of(advice.lead_s, unknown)
    first = {turn.number: turn.at for turn in reversed(turns)}
    return Change(
        **msgspec.structs.asdict(advice), plan_line=line, turns=turns, turns_at_second=first.get("second"),
        turns_at_pushes=first.get("pushes"),
    )  # fmt: skip
