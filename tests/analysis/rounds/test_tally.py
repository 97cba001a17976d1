"""What is counted of a series of rounds, and how far few of them can be trusted; the goal."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.analysis.rounds.result import RoundResult
from tocsin.analysis.rounds.stakes import Points
from tocsin.analysis.rounds.tally import goal_state, goal_text, tally, tally_text
from tocsin.model.drill import Goal


def outcome(letter):
    """Return a round: c clean, x not, ? not judged, o not counted."""
    return RoundResult(
        clean={"c": True, "x": False, "?": None, "o": True}[letter], why=(), break_off_margin_ns=None, turn_ns=None,
        travel_ns=None, home="", home_margin_ns=None, contacts=0, overlap_ns=0, points=Points(), error_ms=None,
        counted=letter != "o", uncounted=(), unclear=(), open_marks=(),
    )  # fmt: skip


def series(letters):
    return [outcome(letter) for letter in letters]


# -- counting ---------------------------------------------------------------------------------------------------------


def test_only_what_counts_and_can_be_told_is_held_against_each_other():
    found = tally(series("occx?cco"))
    assert (found.clean, found.judged, found.unclear, found.uncounted) == (4, 5, 1, 2)


@pytest.mark.parametrize(
    ("letters", "text"),
    [
        ("cccccccc" + "xx", "8 of 10 rounds clean: you are probably clean in 49 to 94 % of such rounds "
         "(95 % interval, Wilson)."),
        ("c", "1 of 1 round clean: you are probably clean in 21 to 100 % of such rounds (95 % interval, Wilson)."),
        ("ooccx?", "2 of 3 rounds clean (1 not known without a video, 2 not counted): you are probably clean "
         "in 21 to 94 % of such rounds (95 % interval, Wilson)."),
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
    assert goal_text(series("cccccccc"), EIGHT_OF_TEN, 4) == "Goal reached: 8 clean of 10."
    assert goal_text(series("cc"), EIGHT_OF_TEN, 1) == (
        "Goal: 8 clean of 10 is for the next series, with 1 round left in this one."
    )
    assert goal_text(series("cc"), EIGHT_OF_TEN, 0) == "Goal: 8 clean of 10 is for the next series."
    assert goal_text(series("cc"), EIGHT_OF_TEN, 6) == "Goal: 8 clean of 10, open, with 6 rounds left."


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
