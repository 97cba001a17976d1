"""Rows of drills whose lot is the real one: what it deals comes from the drill, what a round came to from the test."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec

from tocsin.analysis.rounds.variation import Condition, conditions
from tocsin.analysis.seasons.row import Row
from tocsin.model.drill import Drill, Vary
from tocsin.units import NS_PER_S

FIRST_EVENING = datetime(2031, 1, 7, 18, tzinfo=UTC)
SETUPS = ("far end", "middle", "their edge")
#: As the bundled drill of this name: 12 rounds, 2 at half speed.
BREAK_OFF = Drill(
    name="Break off", trains="", place="field", plan="full", rounds=12, half_speed=2,
    vary=Vary(
        setups=SETUPS, coach=("silent", "calling"), shift_lead="break_off", shift_ns=(0, NS_PER_S, -NS_PER_S)
    ),
)  # fmt: skip
#: What a round came to, as fields of its row.
Came = Callable[[Row], dict[str, Any]]


def exact(seconds: float) -> dict[str, Any]:
    """Return the fields of a break-off time that was noted."""
    return {"break_off_at_least_s": seconds, "break_off_at_most_s": seconds, "push_at_call": True}


def evening_rows(drill: Drill, evening: int, came: Came, *, crews: Sequence[str] = ("A",)) -> list[Row]:
    """Return the rows of an evening, from 0, a week apart; crews take turns after each round."""
    seed = evening + 1
    begin = FIRST_EVENING + timedelta(days=7 * evening)
    rows = []
    for condition in conditions(drill, seed):
        for place, crew in enumerate(crews):
            at = begin + timedelta(minutes=2 * (condition.number * len(crews) + place))
            row = _row(drill, condition, at, session=f"s{evening}", crew=crew)
            rows.append(changed(row, **came(row)))
    return rows


def season_rows(drill: Drill, evenings: int, came: Came, *, crews: Sequence[str] = ("A",)) -> list[Row]:
    """Return the rows of so many evenings."""
    return [row for evening in range(evenings) for row in evening_rows(drill, evening, came, crews=crews)]


def changed(row: Row, **fields: Any) -> Row:
    """Return a row with other fields."""
    return msgspec.structs.replace(row, **fields)


def later(row: Row, minutes: float) -> str:
    """Return the begin of a run that began so long after a row's."""
    return (datetime.fromisoformat(row.wall) + timedelta(minutes=minutes)).isoformat()


def _row(drill: Drill, condition: Condition, at: datetime, *, session: str, crew: str) -> Row:
    vary = drill.vary
    dealt_of = {
        "setup": len(vary.setups), "coach": len(vary.coach), "draw_out": len(vary.draw_out),
        "shift_s": len(vary.shift_ns), "plan_dealt": len(vary.plans),
    }  # fmt: skip
    return Row(
        folder=f"{session}-{crew}-{condition.number}", wall=at.isoformat(), local=at.isoformat(),
        evening=at.date().isoformat(), game="invented", plan=drill.plan, source="", outcome="over", kind="drill",
        at="practice", drill=drill.name, session=session, round=condition.number, crew=crew, watched=True,
        counted=not condition.half_speed, half_speed=condition.half_speed, setup=condition.setup, coach=condition.coach,
        draw_out=condition.draw_out, shift_s=condition.shift_ns / NS_PER_S if vary.shift_ns else None,
        plan_dealt=condition.plan, dealt_of={factor: many for factor, many in dealt_of.items() if many},
        contacts=0, contacts_unclear=0, leads_s={"break_off": 5.0},
    )  # fmt: skip
