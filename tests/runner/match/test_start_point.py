"""From which point a run begins, also in games whose periods a person begins."""

import pytest

from tocsin.errors import UsageError
from tocsin.model.compiler.compiler import compile_plan
from tocsin.model.game import Game, Period, Window
from tocsin.model.moment import parse
from tocsin.model.plan import Plan
from tocsin.model.timeline.timeline import Point, Timeline
from tocsin.runner.match.start_point import start_point
from tocsin.units import NS_PER_S


def timeline() -> Timeline:
    """Return a match of 22 s and 110 s, the second part begun by a person."""
    game = Game(
        name="Two starts",
        periods=(
            Period(id="auto", kind="autonomous", title="Auto", lasts_ns=22 * NS_PER_S),
            Period(id="driver", kind="driver", title="Driver", lasts_ns=110 * NS_PER_S, by_hand=True),
        ),
        windows=(
            Window(
                id="turn", title="Turn", begins=(parse("driver.begin"), parse("driver.begin+35s")),
                ends=(parse("driver.begin+30s"), parse("driver.begin+60s")),
            ),
        ),
    )  # fmt: skip
    found, mistakes = compile_plan(game, Plan(name="Plan", game="two", leads={"home": 130 * NS_PER_S}))
    assert found, mistakes
    return found


@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("", Point("match", 0)),
        ("auto.end-5s", Point("match", 17 * NS_PER_S)),
        ("driver.end-35s", Point("driver", 75 * NS_PER_S)),
        ("turn.2.begin", Point("driver", 35 * NS_PER_S)),
        ("0:10", Point("driver", 100 * NS_PER_S)),
        ("auto@0:10", Point("match", 12 * NS_PER_S)),
    ],
)
def test_a_moment_of_the_match_has_its_point(text: str, point: Point) -> None:
    assert start_point(text, timeline()) == point


@pytest.mark.parametrize(
    ("text", "says", "hint"),
    [
        ("driver.begin-5s", "before 'driver', which a person begins; the match lasts 2:12", "moments here"),
        ("driver.end-home", "before 'driver', which a person begins", "moments here"),
        ("auto.end+5s", "in a part of the match that a person begins", "moments here"),
        ("driver.end", "by then everything has ended", "moments here"),
        ("turn.begin", "is not in Two starts", "did you mean turn.1.begin or turn.2.begin?"),
        ("turn.3.begin", "is not in Two starts", "did you mean turn.1.begin or turn.2.begin?"),
    ],
)
def test_what_is_none_of_the_match_is_refused_with_where_it_lies(text: str, says: str, hint: str) -> None:
    with pytest.raises(UsageError) as raised:
        start_point(text, timeline())
    assert says in str(raised.value)
    assert hint in raised.value.hint
