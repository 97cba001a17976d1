"""Say what the lot did to the time of a round's call, and whether lateness is the lot's or the driver's.

Before a round that is a surprise. Behind it people must know, or a driver is scolded for a call that was moved.
"""

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.variation import Condition
from tocsin.translation import tr
from tocsin.units import NS_PER_S

DEALT_LATE = tr("called late")


def lot_text(condition: Condition, result: RoundResult, lead_ns: int | None, home_ns: int) -> str:
    """Return what was dealt to a round's times, as sentences; an empty text if nothing was.

    ``lead_ns`` is the moved lead as it was in force, None where the plan has none or the call did not come by it;
    ``home_ns`` how long before the end of the match home was due.
    """
    found = []
    if condition.shift_ns and lead_ns is not None:
        side = "earlier" if condition.shift_ns > 0 else "later"
        planned_ns = lead_ns - condition.shift_ns
        # A lead is never below zero: there its own length is not known any more.
        plans = tr(" (there {seconds} ahead)", seconds=_seconds(planned_ns)) if lead_ns > 0 else ""
        found.append(tr(
            "By lot the call came {seconds} {side} than in your plan{plans}", seconds=_seconds(abs(condition.shift_ns)),
            side=side, plans=plans,
        ))
        found[0] += f"{_of_lateness(condition, result, home_ns)}."
    if condition.late_start_ns:
        found.append(tr(
            "By chance it began {seconds} after the count.", seconds=_seconds(condition.late_start_ns),
        ))
    return " ".join(found)


def is_late_by_lot(condition: Condition, result: RoundResult, home_ns: int) -> bool:
    """Return whether a round is not clean only by so much lateness as its call was moved later by lot."""
    late_ns = _late_ns(result, home_ns)
    return 0 < late_ns <= -condition.shift_ns


def _of_lateness(condition: Condition, result: RoundResult, home_ns: int) -> str:
    if condition.shift_ns >= 0 or not _late_ns(result, home_ns):
        return ""
    if is_late_by_lot(condition, result, home_ns):
        return tr(": the drill was late, not the driver")
    return tr(": the drill itself added {seconds}", seconds=_seconds(-condition.shift_ns))


def _late_ns(result: RoundResult, home_ns: int) -> int:
    """Return by how much a round is late for its rule, 0 where it is broken by something else, or kept."""
    if result.clean is not False:
        return 0
    margin_ns = result.known_margin_ns
    if result.part == "contact" and result.contacts == 1 and margin_ns is not None:
        return max(0, -margin_ns)
    if result.part == "home" and result.home_margin_ns is not None:
        return max(0, home_ns - result.home_margin_ns)
    return 0


def _seconds(ns: int) -> str:
    return f"{ns / NS_PER_S:g} s"
