"""Find what was changed in a season, from which evening on, and what contacts were before and after. Pure.

Told are the plan's own leads, the plan itself, and what the drill deals by lot: which values of each factor. Nobody
drew by lot when something was changed, so there are two shares and no verdict.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

import msgspec

from tocsin.analysis.review.answer import Answer
from tocsin.analysis.review.outcomes import contact_answer
from tocsin.analysis.review.rounds import BREAK_OFF, Rounds, evening_of, own_leads_s
from tocsin.analysis.seasons.row import FACTORS, Row, Value

LEAD, PLAN = "lead", "plan"            # beside the factors that drills deal


class SeasonChange(msgspec.Struct, frozen=True, kw_only=True):
    """What was another one from an evening on: a ``lead`` by its ``name``, in seconds; the ``plan``; or which values of
    a factor the drill dealt by lot. ``before`` and ``after`` are empty where the drill dealt nothing of it."""

    evening: str
    what: str
    name: str = ""
    before: tuple[Value, ...]
    after: tuple[Value, ...]


class ChangedEvening(msgspec.Struct, frozen=True, kw_only=True):
    """An evening with its ``changes``, and the contacts from the last such evening up to it (``before``), and from it
    up to the next one (``after``), as answers to that question."""

    evening: str
    changes: tuple[SeasonChange, ...]
    before: Answer
    after: Answer


class LeadContacts(msgspec.Struct, frozen=True, kw_only=True):
    """The last change of a lead that a season tells the contacts of: on which ``evening``, from ``before_s`` to
    ``after_s`` seconds; in how many rounds there was contact, and in how many that is told, ``before`` and ``after``.
    """

    evening: str
    before_s: float
    after_s: float
    before: tuple[int, int]
    after: tuple[int, int]

    def saw_more_at(self, lead_s: float) -> bool:
        """Return whether contacts were more often where the lead was changed to the side of ``lead_s``."""
        (x, n), (y, m) = self.before, self.after
        return (y * n - x * m) * (self.after_s - self.before_s) * (lead_s - self.after_s) > 0


class _Lot(msgspec.Struct, frozen=True, kw_only=True):
    """What the drill dealt of a factor: how many values, and those of them that came; 0 and nothing if it did not."""

    of: int = 0
    values: frozenset[Value] = frozenset()

    def joined(self, other: "_Lot") -> "_Lot | None":
        """Return both as one, None if they cannot be: evenings that end early do not show all values."""
        values = self.values | other.values
        return _Lot(of=self.of, values=values) if self.of == other.of and len(values) <= self.of else None


def changed_evenings(rounds: Rounds) -> tuple[ChangedEvening, ...]:
    """Return the evenings from which on something was another one, in their order."""
    changes: dict[str, list[SeasonChange]] = {}
    for one in (*_lead_changes(rounds), *_plan_changes(rounds), *_dealt_changes(rounds)):
        changes.setdefault(one.evening, []).append(one)
    names = sorted(changes)
    found = []
    for place, name in enumerate(names):
        since = names[place - 1] if place else ""
        until = names[place + 1] if place + 1 < len(names) else None
        before = [one for one in rounds.evenings if since <= one < name]
        after = [one for one in rounds.evenings if name <= one and (until is None or one < until)]
        found.append(ChangedEvening(
            evening=name, changes=tuple(changes[name]), before=_contacts(rounds, before), after=_contacts(rounds, after)
        ))
    return tuple(found)


def lead_changes(rounds: Rounds, lead: str = BREAK_OFF) -> tuple[SeasonChange, ...]:
    """Return where the plan's own lead of the call was another one than on the evening before."""
    return tuple(one for one in _lead_changes(rounds) if one.name == lead)


def lead_contacts(rounds: Rounds, lead: str = BREAK_OFF) -> LeadContacts | None:
    """Return the last change of a lead with the contacts that a season tells before and after it, None without one."""
    for one in reversed(changed_evenings(rounds)):
        shares = [answer.figure("contact") for answer in (one.before, one.after)]
        counts = [(share.count or 0, share.rounds) for share in shares if share is not None]
        for change in one.changes:
            if (change.what, change.name) == (LEAD, lead) and len(counts) == 2:
                before_s, after_s = (float(of[0]) for of in (change.before, change.after))
                return LeadContacts(
                    evening=one.evening, before_s=before_s, after_s=after_s, before=counts[0], after=counts[1]
                )
    return None


def leads_by_evening(rounds: Rounds) -> dict[str, float]:
    """Return the plan's own lead of the call by evening, in seconds, that of its last round."""
    own = own_leads_s(rounds.played, BREAK_OFF)
    return {evening_of(row): own[row.folder] for row in rounds.played if row.folder in own}


def _lead_changes(rounds: Rounds) -> list[SeasonChange]:
    """Return where leads were other ones; where the lot deals plans, those of the same plan."""
    own = own_leads_s(rounds.played, BREAK_OFF)
    found: list[SeasonChange] = []
    for plan in sorted({row.plan_dealt for row in rounds.played}):
        rows = [row for row in rounds.played if row.plan_dealt == plan]
        call = {evening_of(row): own[row.folder] for row in rows if row.folder in own}
        found += _turns(rounds, LEAD, BREAK_OFF, call)
        for name in sorted({name for row in rows for name in row.leads_s} - {BREAK_OFF}):
            # Which lead the lot shifts nobody knows: of these those rounds tell that it left alone.
            leads = {evening_of(row): row.leads_s[name] for row in rows if name in row.leads_s and not row.shift_s}
            found += _turns(rounds, LEAD, name, leads)
    return list(dict.fromkeys(found))


def _plan_changes(rounds: Rounds) -> list[SeasonChange]:
    plans = {evening_of(row): row.plan for row in rounds.played if row.plan and not row.plan_dealt}
    return _turns(rounds, PLAN, "", plans)


def _turns(rounds: Rounds, what: str, name: str, values: Mapping[str, Value]) -> list[SeasonChange]:
    """Return the evenings on which the value by evening is another one than before."""
    evenings = [one for one in rounds.evenings if one in values]
    return [
        SeasonChange(evening=after, what=what, name=name, before=(values[before],), after=(values[after],))
        for before, after in pairwise(evenings) if values[before] != values[after]
    ]  # fmt: skip


def _dealt_changes(rounds: Rounds) -> list[SeasonChange]:
    found: list[SeasonChange] = []
    evenings: dict[str, list[Row]] = {}
    for row in rounds.played:
        evenings.setdefault(evening_of(row), []).append(row)
    for factor in FACTORS:
        stretches: list[tuple[str, _Lot]] = []
        for evening in sorted(evenings):
            lot = _lot_of(evenings[evening], factor)
            both = stretches[-1][1].joined(lot) if stretches else None
            if both is not None:
                stretches[-1] = stretches[-1][0], both
            else:
                stretches.append((evening, lot))
        found += [
            SeasonChange(evening=evening, what=factor, before=_sorted(before.values), after=_sorted(after.values))
            for (_, before), (evening, after) in pairwise(stretches)
        ]
    return found


def _lot_of(rows: Sequence[Row], factor: str) -> _Lot:
    """Return what an evening dealt of a factor: by the drill as it was in the last round."""
    of = rows[-1].dealt_of.get(factor, 0)
    values = [row.dealt.get(factor) for row in rows if of and row.dealt_of.get(factor, 0) == of]
    return _Lot(of=of, values=frozenset(value for value in values if value is not None))


def _sorted(values: Iterable[Value]) -> tuple[Value, ...]:
    return tuple(sorted(values, key=lambda value: (isinstance(value, str), value)))


def _contacts(rounds: Rounds, evenings: Sequence[str]) -> Answer:
    """Return how often there was contact on these evenings, or what is missing for that."""
    played = tuple(row for row in rounds.played if evening_of(row) in evenings)
    count = tuple(row for row in rounds.count if evening_of(row) in evenings)
    return contact_answer(msgspec.structs.replace(rounds, played=played, count=count), season=True)
