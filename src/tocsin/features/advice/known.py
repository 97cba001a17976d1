"""Define what is known beside plan and rounds: what people say, and what `tocsin check` wants of leads."""

from collections.abc import Mapping
from datetime import date

import msgspec

from tocsin.analysis.decisions.choice import FROZEN_DAYS, Records
from tocsin.analysis.review.leads import Needed
from tocsin.features.records.measured_leads import to_tenths
from tocsin.lint.leads import least_lead_ns
from tocsin.units import NS_PER_S

USUAL_PUSHES = (0.1, 0.5)              # share of matches with a push on at the call; common practice, no source
FEWEST_FOR_CURVE = 6                   # rounds


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What a ``second`` is worth, how often ``pushes`` are on at the call, the days of events, ``today``; whether the
    curve is shown though an event is near (``look``); what runs have shown to be needed of leads, by their names.
    ``ahead`` is a projected lead and ``spread`` by how many points one ends up off. ``invented``: so are the rounds."""

    today: date
    second: tuple[float, float]
    pushes: tuple[float, float] = USUAL_PUSHES
    events: tuple[date, ...] = ()
    look: bool = False
    ahead: float | None = None
    spread: float | None = None
    invented: bool = False
    needed: Mapping[str, Needed] = {}

    def least_s(self, lead: str) -> float:
        """Return below which length `tocsin check` objects to a lead, in seconds."""
        one = self.needed.get(lead)
        return least_lead_ns(lead, None if one is None else to_tenths(one)) / NS_PER_S

    def shows(self, records: Records) -> bool:
        """Return whether the curve is shown: an event that is near hides it, unless people look."""
        return self.look or records.days_to_event is None or records.days_to_event > FROZEN_DAYS
