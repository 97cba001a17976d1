"""The sentences of decisions: what turns them, what to do next."""

import pytest

from tocsin.analysis.decisions.choice import Advice, Refusal
from tocsin.analysis.decisions.posterior import PRACTICE, Lag
from tocsin.analysis.decisions.words import hangs, learn, price_of_return, returns_more, scribes_lag


@pytest.mark.parametrize(
    ("numbers", "turns_at", "below", "said"),
    [
        (("second",), 0.7, False,
         "It turns where a second is worth 0.70 points: below that stay at 4.5 s, above it take 4 s. "
         "Count what you score in the last minute, a second, and say it with --second."),
        (("pushes",), 0.314, True,
         "It turns where a push is on at the call in 31 of 100 matches: below that take 4 s, above it stay at 4.5 s. "
         "Mark 8 matches: they show how often a push is on at the call."),
        (("lag",), 0.5, True,
         "It turns where the scribe's key comes 0.50 s late: below that take 4 s, above it stay at 4.5 s. "
         "Mark 8 pushes by key and from a video: they show how late key marks come."),
        (("second", "lag"), None, None,
         "4 s may be better than 4.5 s: it hangs on what a second is worth, how late the scribe's key comes. "
         "Count what you score in the last minute, a second, and say it with --second. "
         "Mark 8 pushes by key and from a video: they show how late key marks come."),
    ],
)  # fmt: skip
def test_what_it_hangs_on_and_how_to_learn_it(numbers, turns_at, below, said):
    refusal = Refusal(code="hangs on a number", lead_s=4.0, hangs_on=numbers, turns_at=turns_at, below=below)
    assert f"{hangs(refusal, 4.5)} {learn(refusal.hangs_on)}" == said


def test_the_price_of_a_return():
    assert price_of_return((0.5, 1.0), 18) == (
        "Calling home one second earlier costs 0.5 to 1 points a match. It pays if one robot more is all home, for 18 "
        "points, in 18 to 36 matches."
    )
    assert price_of_return((0.0, 1.0), 18) == "Calling home one second earlier costs up to 1 points a match."


@pytest.mark.parametrize(
    ("homes", "said"),
    [(0.125, "One robot more is all home in 8 matches."), (-0.05, "One robot fewer is all home in 20 matches."),
     (1.0, "One robot more is all home in 1 match."), (0.0, "As many robots are all home as before.")],
)  # fmt: skip
def test_returns_in_matches(homes, said):
    assert returns_more(Advice(lead_s=12, gain=1, low=0.5, high=1.5, saved=1.5, homes=homes)) == said


def test_a_scribes_lag_and_whose_figure_it_is():
    assert scribes_lag(PRACTICE) == "Key marks are taken to come 0.3 to 0.8 s late, as is usual."
    known = Lag(middle_s=0.45, spread_s=0.02, low_s=0.41, high_s=0.49, pushes=12)
    assert scribes_lag(known) == "Key marks come 0.41 to 0.49 s late: 12 pushes that a video shows too say so."
