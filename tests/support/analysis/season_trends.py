"""Hold what a season's pages say beside the lot against the truth: odd rounds, tiredness, learning, matches.

Their limits are made for one look. A coach looks after each evening: so it is also counted how often any page of a
season says that something changes where nothing does.
"""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import World
from tocsin.analysis.review.answer import Answer, Figure
from tocsin.analysis.review.matches import matches_answer
from tocsin.analysis.review.odd import odd_answer
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.trends import learning_answer, tired_answer

DRILL = "Break off"


class Told(NamedTuple):
    """What the pages of several seasons said of one figure: how many seasons ``told`` it on the last page, how often
    its limits there held the ``true`` value (0 where the truth is nothing), its mean, and in how many seasons ``any``
    page's limits left 0 out."""

    told: int
    held: int
    mean: float
    any: int

    @property
    def percent(self) -> float:
        """Which percentage of last pages held."""
        return 100 * self.held / self.told if self.told else float("nan")


def trends(world: World, seasons: Iterable[int], true: dict[str, float], *, each: bool = True) -> dict[str, Told]:
    """Return by the names of figures what pages said: ``by_round``, ``by_battery``, ``learning``, and where matches
    were played ``contact`` and ``break_off`` of the difference; a page after ``each`` evening or the last one alone."""
    last: dict[str, list[Figure]] = {}
    away: dict[str, set[int]] = {}
    for seed in seasons:
        rows = season_rows(world._replace(points=False), seed)
        evenings = tuple(dict.fromkeys(row.evening for row in rows))
        for evening in evenings if each else evenings[-1:]:
            rounds = rounds_of([row for row in rows if row.evening <= evening], DRILL)
            for name, figure in _figures(tired_answer(rounds), learning_answer(rounds), matches_answer(rounds)):
                if evening == evenings[-1]:
                    last.setdefault(name, []).append(figure)
                if not _holds(figure, 0.0):
                    away.setdefault(name, set()).add(seed)
    return {
        name: Told(
            len(told), sum(_holds(one, true.get(name, 0.0)) for one in told),
            float(np.mean([one.value for one in told])), len(away.get(name, ())),
        )
        for name, told in last.items()
    }  # fmt: skip


def odd_evenings(world: World, seasons: Iterable[int]) -> tuple[float, float, int]:
    """Return the share of evenings with a round that is called odd, the mean share that pages say of nothing but
    chance, and how many evenings were charted."""
    marked, charted, said = 0, 0, []
    for seed in seasons:
        rounds = rounds_of(season_rows(world._replace(points=False), seed), DRILL)
        for evening in rounds.evenings:
            answer = odd_answer(rounds, evening)
            chance = answer.figure("odd_by_chance")
            if chance is not None and chance.value is not None:
                charted += 1
                marked += bool(answer.marked)
                said.append(chance.value)
    return marked / max(1, charted), float(np.mean(said)) if said else float("nan"), charted


def _figures(*answers: Answer) -> Iterable[tuple[str, Figure]]:
    for answer in answers:
        for figure in answer.figures:
            if figure.of not in ("", "difference"):
                continue
            if figure.value is not None and (figure.low is not None or figure.high is not None):
                yield figure.name, figure


def _holds(figure: Figure, true: float) -> bool:
    return (figure.low is None or figure.low <= true) and (figure.high is None or true <= figure.high)
