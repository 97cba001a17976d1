"""Sentences of what the lot compared: which is better, by how much, and what is no verdict."""

import pytest
from msgspec.structs import replace

from tests.support.analysis.said_answers import compared, review, trust
from tocsin.analysis.review.answer import Answer, Comparison, Figure
from tocsin.analysis.review.headline import headline
from tocsin.analysis.review.words.answers import details, line


@pytest.mark.parametrize(("answer", "said"), [
    (compared("coach", "calling", "silent", 0.3, 0.0, 0.6),
     "Coach calling is better than coach silent: pushes end 0.3 s sooner (0.0 to 0.6 s)."),
    (compared("coach", "calling", "silent", -0.3, -0.6, 0.04, verdict="surely_better"),
     "Coach silent is surely better than coach calling: pushes end 0.3 s sooner (0.0 to 0.6 s)."),
    (compared("coach", "calling", "silent", 0.3, None, None, outcome="turn"),
     "Coach calling is better than coach silent: robots turn 0.3 s sooner (by how much is not known)."),
    (compared("shift_s", "-1 s", "0 s", 0.4, 0.1, 0.8),
     "Called 1 s later: pushes end 0.4 s sooner than called as planned (0.1 to 0.8 s)."),
    (compared("setup", "edge", "middle", 0.4, 0.1, 0.8, verdict="surely_better", outcome="turn"),
     "Edge: robots turn 0.4 s sooner than middle (0.1 to 0.8 s)."),
    (compared("setup", "edge", "middle", -0.4, -0.8, -0.1, less="edge"),
     "Edge and middle differ: by how much is not clear."),
    (compared("coach", "calling", "silent", -0.2, -0.6, 0.3, less="calling"),
     "Coach calling is better than coach silent: by how much is not clear."),
    (compared("draw_out", "none", "sound", 0.0, -0.1, 0.1, verdict="no_difference"),
     "All signals or without sound: no difference that matters."),
    (compared("draw_out", "none", "sound", 0.0, -0.1, 0.1, verdict="not_yet"), ""),
])  # fmt: skip
def test_a_comparison_says_what_is_better_and_by_how_much(answer, said):
    assert line(answer) == said


def test_what_was_not_asked_but_is_known_stands_below_the_question_of_the_month():
    asked = compared("coach", "calling", "silent", 0.3, 0.0, 0.6)
    other = compared("plan_dealt", "a", "b", 0.4, 0.1, 0.9)
    (beside,) = (replace(one, named=False) for one in other.comparisons)
    both = replace(asked, figures=(*asked.figures, *other.figures), comparisons=(beside, *asked.comparisons))
    assert line(both).startswith("Coach calling is better")
    assert details(both) == ("Plan a is better than plan b: pushes end 0.4 s sooner (0.1 to 0.9 s).",)


DIFFER = "Coach calling: pushes end 0.1 s sooner than coach silent (0.0 to 0.3 s)."
BETTER = "Coach calling is better than coach silent: pushes end 0.1 s sooner (0.0 to 0.3 s)."


@pytest.mark.parametrize(("calling", "silent", "begins", "ends"), [
    ((10, 0.03, 0.3), (5, 0.01, 0.2), DIFFER, "10 of 82 rounds with coach calling, in 5 of 82 with coach silent: that"
                                              " may be chance."),
    ((40, 0.35, 0.6), (5, 0.01, 0.2), DIFFER, "40 of 82 rounds with coach calling, in 5 of 82 with coach silent."),
    ((5, None, None), (10, None, None), BETTER, "5 of 82 rounds with coach calling, in 10 of 82 with coach silent: that"
                                                " may be chance."),
    ((5, 0.01, 0.2), (5, 0.01, 0.2), BETTER, "5 of 82 rounds with coach calling, in 5 of 82 with coach silent."),
])  # fmt: skip
def test_what_is_sooner_is_not_better_with_more_contacts(calling, silent, begins, ends):
    by_time = compared("coach", "calling", "silent", 0.1, 0.0, 0.3)
    beside = [
        Figure(name="contact", of=f"{by_time.comparisons[0].of}: {value}", unit="share", value=x / 82, count=x,
               rounds=82, low=low, high=high)
        for value, (x, low, high) in (("calling", calling), ("silent", silent))
    ]  # fmt: skip
    answer = replace(by_time, figures=(*by_time.figures, *beside))
    said = f"{begins} Contact in {ends}"
    assert line(answer) == said
    assert headline(review(trust(), answer)) == (said if begins == BETTER else "Too little to tell of yet.")
    # What is better by contacts is not called chance beside it.
    touched = replace(by_time.comparisons[0], of="coach: calling / silent: contact", outcome="contact")
    assert "chance" not in line(replace(answer, comparisons=(*answer.comparisons, touched)))


def test_a_comparison_of_contacts_counts_both_sides():
    of = "coach: calling / silent: contact"
    one = Comparison(of=of, factor="coach", first="calling", second="silent", outcome="contact", verdict="better",
                     less="calling", needed=20, pairs=40, named=True)  # fmt: skip
    figures = [
        Figure(name="contact", of=f"{of}: {value}", unit="share", value=x / 40, count=x, rounds=40)
        for value, x in (("calling", 2), ("silent", 15))
    ]
    assert line(Answer(question="better", comparisons=(one,), figures=tuple(figures))) == (
        "Coach calling is better than coach silent: contact in 2 of 40 rounds, not 15 of 40."
    )
