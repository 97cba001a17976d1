"""Rows of invented rounds for reviews, by hand: what is not said is that of an ordinary round."""

from tocsin.analysis.seasons.row import Row

LEAD_S = 4.0


def a_row(number: int = 1, **facts: object) -> Row:
    """Return the row of a counted, watched, clean round without a push; ``number`` orders the rounds of an evening."""
    evening = str(facts.get("evening", "2031-02-01"))
    values = {
        "folder": f"{evening}/{facts.get('session', 's')}/{number}", "wall": f"{evening}T18:{number % 60:02d}:00Z",
        "game": "casting_day", "plan": "Full", "source": "", "outcome": "over", "evening": evening, "kind": "drill",
        "drill": "Break off", "session": f"{evening} s", "round": number, "crew": "A", "watched": True, "clean": True,
        "counted": True, "contacts": 0, "contacts_unclear": 0, "push_at_call": False, "call": "landed",
        "leads_s": {"break_off": LEAD_S}, "error_ms": 200,
    }  # fmt: skip
    return Row(**{**values, **facts})


def a_push(number: int, off_s: float, *, at_most_s: float | str | None = "noted", **facts: object) -> Row:
    """Return the row of a round whose call found a push that ended ``off_s`` later, or within these bounds."""
    high = off_s if at_most_s == "noted" else at_most_s
    return a_row(number, push_at_call=True, break_off_at_least_s=off_s, break_off_at_most_s=high, **facts)
