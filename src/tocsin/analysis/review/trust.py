"""Answer whether rounds may be trusted: how many counted, what is lost, how good their clock was."""

import statistics

from tocsin.analysis.review.answer import Answer, Figure, Lacking
from tocsin.analysis.review.rounds import Rounds, is_repeated
from tocsin.analysis.seasons.row import Row

MOST_LOST = 1 / 3                      # beyond it nothing else is told


def trust_answer(rounds: Rounds) -> Answer:
    """Return what counted of all rounds, and what is amiss with the others.

    Rounds at half speed are part of the drill: they count neither as counted nor as lost.
    """
    played = [row for row in rounds.played if not row.half_speed]
    n, evenings, counted = len(played), len(rounds.evenings), len(rounds.count)
    if not n:
        return Answer(question="trust", lacking=(Lacking(question="trust", figure="counted", more=1, evenings=1),))
    taken = [row for row in played if row.taken_out]
    repeated = sum(is_repeated(row, played) for row in taken)
    counts = {
        "half_speed": len(rounds.played) - n,
        "repeated": repeated,
        "dropped": len(taken) - repeated,
        "cancelled": sum(row.outcome == "scrapped" and not row.taken_out for row in played),
        "unmarked": sum(row.counted and not row.watched for row in played),
        "unclear": sum(is_unclear(row) for row in rounds.count),
        "signals_failed": sum(row.calls_failed > 0 for row in rounds.count),
        "planned_calls": sum(row.call == "planned" for row in rounds.count),
    }
    lost = n - counted
    figures = [
        Figure(name="counted", unit="rounds", value=counted, count=counted, rounds=n, evenings=evenings),
        Figure(name="lost", unit="share", value=lost / n, count=lost, rounds=n, evenings=evenings),
        *(Figure(name=name, unit="rounds", value=count, count=count, rounds=n, evenings=evenings)
          for name, count in counts.items()),
    ]  # fmt: skip
    errors_s = [row.error_ms / 1000 for row in rounds.count if row.error_ms is not None]
    if errors_s:
        for name, value in (("clock_error", statistics.median(errors_s)), ("clock_error_worst", max(errors_s))):
            figures.append(Figure(name=name, unit="s", value=value, rounds=len(errors_s), evenings=evenings))
    return Answer(question="trust", figures=tuple(figures))


def is_trusted(answer: Answer) -> bool:
    """Return whether so much is there that other figures may be told: at most a third is lost, and a round counted."""
    lost, counted = answer.figure("lost"), answer.figure("counted")
    return bool(lost and counted and counted.value and lost.value is not None and lost.value <= MOST_LOST + 1e-9)


def is_unclear(row: Row) -> bool:
    """Return whether only a video can tell how a round that counted came out."""
    return row.clean is None or (not row.contacts and bool(row.contacts_unclear))
