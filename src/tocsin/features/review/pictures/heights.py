"""What a round came to as one height: seconds to spare at the plan's own lead, else to the end, else its turn. Pure."""

import math
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

from tocsin.analysis.review.rounds import own_leads_s
from tocsin.analysis.seasons.row import Row
from tocsin.model.display.round_picture import Shape

#: Seconds to spare before the window; seconds from the call to the turn (the lower, the better); home before the end.
Kind = Literal["window", "turn", "end"]
_KINDS: tuple[Kind, ...] = ("window", "turn", "end")


class Height(NamedTuple):
    """Seconds within [``low_s``, ``high_s``], equal where they were noted; infinite where only one side is known."""

    low_s: float
    high_s: float

    @property
    def is_known(self) -> bool:
        """Return whether it was noted."""
        return self.low_s == self.high_s


class Heights(NamedTuple):
    """What the heights of rounds are, and that of each, None where nothing is known of it."""

    kind: Kind
    of: tuple[Height | None, ...]


def shape_of(row: Row) -> Shape:
    """Return a round's mark, as the screen showed it."""
    if not row.counted:
        return "open"
    if row.clean is None:
        return "question"
    return "filled" if row.clean else "cross"


def heights(rows: Sequence[Row]) -> Heights | None:
    """Return the heights of rounds, of the first kind that as many have as of any other, or half of it; None where
    nothing is known of any."""
    leads_s = own_leads_s(rows)
    found = {kind: tuple(_height(row, kind, leads_s) for row in rows) for kind in _KINDS}
    known = {kind: sum(height is not None for height in found[kind]) for kind in _KINDS}
    most = max(known.values(), default=0)
    kind = next(kind for kind in _KINDS if 2 * known[kind] >= most)
    return Heights(kind, found[kind]) if most else None


def _height(row: Row, kind: Kind, leads_s: Mapping[str, float]) -> Height | None:
    if kind == "window":
        lead_s, at_least_s = leads_s.get(row.folder), row.break_off_at_least_s
        if lead_s is None or at_least_s is None:
            return None
        at_most_s = math.inf if row.break_off_at_most_s is None else row.break_off_at_most_s
        return Height(lead_s - at_most_s, lead_s - at_least_s)
    if kind == "end":
        return None if row.home_margin_s is None else Height(row.home_margin_s, row.home_margin_s)
    if row.turn_at_least_s is None:
        return None
    return Height(row.turn_at_least_s, math.inf if row.turn_at_most_s is None else row.turn_at_most_s)
