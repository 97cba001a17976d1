"""How far few rounds can be trusted: Wilson's interval against published and other figures; the goal."""

import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.stakes import Points
from tocsin.analysis.rounds.tally import goal_state, goal_text, tally, tally_text, wilson
from tocsin.model.drill import Goal

Z = statistics.NormalDist().inv_cdf(0.975)


def outcome(letter):
    """Return a round: c clean, x not, ? not judged, o not counted."""
    return RoundResult(
        clean={"c": True, "x": False, "?": None, "o": True}[letter], why=(), break_off_margin_ns=None, turn_ns=None,
        travel_ns=None, home="", home_margin_ns=None, contacts=0, overlap_ns=0, points=Points(), error_ms=None,
        counted=letter != "o", uncounted=(), unclear=(), open_marks=(),
    )  # fmt: skip


def series(letters):
    return [outcome(letter) for letter in letters]


# -- the interval -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("clean", "judged", "low", "high"),
    # The worked examples of R. G. Newcombe, Statistics in Medicine 17:857, 1998, table I, method 3 (from memory).
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0000, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_published_examples(clean, judged, low, high):
    assert wilson(clean, judged) == pytest.approx((low, high), abs=5.01e-5)


@pytest.mark.parametrize(
    ("clean", "judged", "low", "high"),
    # statsmodels 0.15.0, proportion_confint(method="wilson"), computed.
    [
        (0, 1, 0.0000000000, 0.7934506856), (1, 1, 0.2065493144, 1.0000000000), (0, 3, 0.0000000000, 0.5614970318),
        (2, 3, 0.2076596008, 0.9385080553), (8, 10, 0.4901624715, 0.9433178485), (10, 10, 0.7224672001, 1.0000000000),
        (0, 12, 0.0000000000, 0.2424940067), (9, 12, 0.4676946651, 0.9110583316), (11, 18, 0.3861904160, 0.7969475343),
        (17, 18, 0.7424269922, 0.9901248090),
    ],
)  # fmt: skip
def test_another_library_says_the_same(clean, judged, low, high):
    assert wilson(clean, judged) == pytest.approx((low, high), abs=1e-9)


@given(st.integers(1, 40).flatmap(lambda judged: st.tuples(st.integers(0, judged), st.just(judged))))
@settings(deadline=None)
def test_the_ends_are_what_a_score_test_just_does_not_reject(drawn):
    """The definition, solved numerically: (share - p) / sqrt(p (1 - p) / n) is z below the share and -z above it."""
    clean, judged = drawn
    share = clean / judged

    def excess(p, z):
        return share - p - z * (p * (1 - p) / judged) ** 0.5

    low = brentq(excess, 1e-12, min(share, 1 - 1e-12), args=(Z,)) if clean else 0.0
    high = brentq(excess, max(share, 1e-12), 1 - 1e-12, args=(-Z,)) if clean < judged else 1.0
    assert wilson(clean, judged) == pytest.approx((low, high), abs=1e-7)


def test_nothing_is_said_of_no_rounds():
    with pytest.raises(ValueError, match="n"):
        wilson(0, 0)
    with pytest.raises(ValueError, match="k"):
        wilson(3, 2)


# -- counting ---------------------------------------------------------------------------------------------------------


def test_only_what_counts_and_can_be_told_is_held_against_each_other():
    found = tally(series("occx?cco"))
    assert (found.clean, found.judged, found.unclear, found.uncounted) == (4, 5, 1, 2)


@pytest.mark.parametrize(
    ("letters", "text"),
    [
        ("cccccccc" + "xx", "8 of 10 rounds clean: the habit behind that may lie anywhere from 49 to 94 % "
         "(95 % interval, Wilson)."),
        ("c", "1 of 1 round clean: the habit behind that may lie anywhere from 21 to 100 % (95 % interval, Wilson)."),
        ("ooccx?", "2 of 3 rounds clean (1 cannot be told without a video, 2 not counted): the habit behind that may "
         "lie anywhere from 21 to 94 % (95 % interval, Wilson)."),
        ("", "No round judged so far."),
        ("oo", "No round judged so far (2 not counted)."),
    ],
)  # fmt: skip
def test_one_sentence(letters, text):
    assert tally_text(tally(series(letters))) == text


# -- the goal ---------------------------------------------------------------------------------------------------------

EIGHT_OF_TEN = Goal(clean=8, of=10)


@pytest.mark.parametrize(
    ("letters", "left", "state"),
    [
        ("", 12, "open"),
        ("", 8, "open"),
        ("", 7, "lost"),
        ("cccccccc", 0, "reached"),                 # eight clean are enough, whatever the other two come to
        ("xxcccccccc", 0, "reached"),
        ("xxccccccc", 1, "open"),
        ("xxccccccc", 0, "lost"),
        ("xxxccccccc", 1, "open"),                  # of the last ten: the first falls out
        ("cxcxcxcccc", 2, "open"),                  # xcxcccc and two more: seven... and the first two fall out
        ("cxcxcxcxcc", 2, "lost"),
        ("xxxxxxxxxx", 8, "open"),
        ("xxxxxxxxxx", 7, "lost"),
        ("ccccccccxx" + "xx", 0, "reached"),        # once reached stays reached
        ("oooooooooo", 8, "open"),                  # what does not count uses nothing up
        ("ccccccc?", 0, "open"),                    # a video may still tell
        ("ccccccc?", 1, "open"),
        ("cccccc?xx", 0, "lost"),
        ("cccc?ccc?c", 0, "reached"),
    ],
)
def test_goal(letters, left, state):
    assert goal_state(series(letters), EIGHT_OF_TEN, left) == state


def test_the_goal_in_words():
    assert goal_text(series("cccccccc"), EIGHT_OF_TEN, 4) == "Game won: 8 clean of 10."
    assert goal_text(series("cc"), EIGHT_OF_TEN, 1) == (
        "Game: 8 clean of 10 is for the next series, with 1 round left in this one."
    )
    assert goal_text(series("cc"), EIGHT_OF_TEN, 0) == "Game: 8 clean of 10 is for the next series."
    assert goal_text(series("cc"), EIGHT_OF_TEN, 6) == "Game: 8 clean of 10, open, with 6 rounds left."


@given(st.text("cx?o", max_size=12), st.integers(0, 12))
def test_no_sentence_on_a_goal_calls_anybody_a_loser(letters, left):
    said = goal_text(series(letters), EIGHT_OF_TEN, left).casefold()
    assert not [word for word in ("lost", "lose", "fail", "no longer", "bad") if word in said]


GOALS = st.tuples(st.integers(1, 5), st.integers(0, 3)).map(lambda drawn: Goal(clean=drawn[0], of=sum(drawn)))


@given(st.text("cx", max_size=9), GOALS, st.integers(0, 5))
def test_lost_is_what_no_outcome_of_the_rounds_left_could_fix(letters, goal, left):
    state = goal_state(series(letters), goal, left)
    best = goal_state(series(letters + "c" * left), goal, 0)
    assert (state == "lost") == (best != "reached")
    assert (state == "reached") == (goal_state(series(letters), goal, 0) == "reached")


@given(st.text("cx?o", max_size=9), GOALS, st.integers(1, 5), st.sampled_from("cx?o"))
def test_a_round_more_never_wakes_a_lost_goal_nor_unmakes_a_reached_one(letters, goal, left, next_one):
    before = goal_state(series(letters), goal, left)
    after = goal_state(series(letters + next_one), goal, left - 1)
    assert before == "open" or after == before
