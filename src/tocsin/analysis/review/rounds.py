"""Say which rounds a review is of: those of one game and one drill (or of matches), and which of them it rests on.

Rounds of several games are never compared, nor drills with each other or with matches: what they ask for differs. So a
review is of one of them, the one that most counted rounds were played of if nobody says which; the others stand among
what is left out.
"""

import math
import statistics
from collections import Counter
from collections.abc import Hashable, Iterable, Sequence

import msgspec

from tocsin.analysis.review.answer import Counted, Lacking, LeftOut, Question
from tocsin.analysis.seasons.row import Row
from tocsin.translation import tr

BREAK_OFF = "break_off"                # the lead of the call home before the window, as plans name it
USUAL_ROUNDS = 10                      # that count in an evening, until some were played
MATCHES = ""                           # in place of a drill's name


class Rounds(msgspec.Struct, frozen=True, kw_only=True):
    """The runs of one game and drill (``MATCHES``: of matches): ``played``, in their order, and those of them that
    ``count`` and were watched, of which figures are made. ``others`` are runs of other games or drills."""

    game: str = ""
    drill: str = MATCHES
    played: tuple[Row, ...] = ()
    count: tuple[Row, ...] = ()
    others: tuple[Row, ...] = ()

    @property
    def evenings(self) -> tuple[str, ...]:
        """The names of the evenings, in their order."""
        return tuple(sorted({evening_of(row) for row in self.played}))

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """What the figures do not rest on, the most frequent first."""
        reasons = Counter((why, not row.half_speed) for row in self.played if (why := why_not(row, self.played)))
        reasons.update((_other(row, self.game), False) for row in self.others)
        return tuple(LeftOut(why=why, rounds=rounds, lost=lost) for (why, lost), rounds in reasons.most_common())


def evening_of(row: Row) -> str:
    """Return the name of a run's evening; of one whose time of day nobody can tell, the date in UTC."""
    return row.evening or row.wall[:10]


def rounds_of(rows: Iterable[Row], drill: str | None = None) -> Rounds:
    """Return the rounds that a review is of, with how they are used. Tests of reactions are none."""
    known = sorted((row for row in rows if row.kind != "reaction"), key=lambda row: (row.wall, row.round, row.folder))
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in known:
        if drill is None or row.drill == drill:
            groups.setdefault((row.game, row.drill), []).append(row)
    if not groups:
        return Rounds(others=tuple(known))
    # Of equally many the one that was played last.
    key = max(reversed(groups), key=lambda one: sum(row.counted for row in groups[one]))
    played = tuple(groups[key])
    return Rounds(
        game=key[0], drill=key[1], played=played, count=tuple(row for row in played if not why_not(row, played)),
        others=tuple(row for row in known if (row.game, row.drill) != key),
    )  # fmt: skip


def why_not(row: Row, played: Sequence[Row]) -> str:
    """Return why figures do not rest on a run, in words, or an empty text."""
    if row.half_speed:
        return tr("driven at half speed, as the drill wants it")
    if row.taken_out:
        return tr("played again") if is_repeated(row, played) else tr("taken out by hand")
    if row.outcome == "scrapped":
        return tr("cancelled")
    if not row.counted:
        return row.uncounted[0] if row.uncounted else tr("not played to its end")
    return "" if row.watched else tr("nobody marked it")


def is_repeated(row: Row, played: Iterable[Row]) -> bool:
    """Return whether a round was played again in its drill."""
    same = (row.session, row.crew, row.round)
    return bool(row.round) and any(
        (one.session, one.crew, one.round) == same and one.wall > row.wall for one in played
    )


def own_leads_s(rows: Sequence[Row], lead: str = BREAK_OFF) -> dict[str, float]:
    """Return by the runs' folders the plan's own lead in seconds, without what the lot moved it by.

    A row has the lead in force and the shift, but not which lead that moved: one that is the same for all shifts of a
    drill was not it. Of a lead of 0 nobody knows how far it was cut off: then it is that of other rounds.
    """
    groups: dict[Hashable, list[Row]] = {}
    for row in rows:
        if lead in row.leads_s:
            groups.setdefault((row.session or row.folder, row.plan), []).append(row)
    found: dict[str, float] = {}
    for group in groups.values():
        shifts = {row.shift_s for row in group}
        stays = len(shifts) > 1 and len({row.leads_s[lead] for row in group}) == 1
        own = {
            row.folder: round(row.leads_s[lead] - (0.0 if stays else row.shift_s or 0.0), 3) for row in group
            if stays or row.leads_s[lead] > 0 or not row.shift_s
        }  # fmt: skip
        usual = statistics.mode(own.values()) if own else None
        found.update(own)
        if usual is not None:
            found.update({row.folder: usual for row in group if row.folder not in own})
    return found


def lacking(
    question: Question, figure: str, counted: Counted, *, have: int, need: int, evenings: int, of: str = ""
) -> Lacking:
    """Return what is missing for a figure that needs so many and has fewer, with the evenings that this takes if they
    go on as in the ``evenings`` so far."""
    more = max(0, need - have)
    each = 1 if counted == "evenings" else have / evenings if have and evenings else USUAL_ROUNDS
    return Lacking(
        question=question, figure=figure, of=of, counted=counted, more=more, evenings=math.ceil(more / each)
    )


def _other(row: Row, game: str) -> str:
    if row.game != game:
        return tr("of another game")
    return tr("of the drill {drill}", drill=row.drill) if row.drill else tr("matches, which stand only beside practice")
