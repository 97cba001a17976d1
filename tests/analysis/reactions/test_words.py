"""What people read of a reaction test."""

import re

import pytest

from tocsin.analysis.reactions import words as reaction_words
from tocsin.analysis.reactions.order import CATCH, Trial
from tocsin.analysis.reactions.race_model import SHARES, Race, race_of
from tocsin.analysis.reactions.scores import Delays, Reaction, ReactionTest, TrialAnswer, score, scores_of
from tocsin.analysis.reactions.words import (
    NO_FORECAST,
    UNKNOWN_KEY,
    person_lines,
    race_sentence,
    score_line,
    title,
)
from tocsin.model.plan import CHANNELS

PAIR = ("rumble", "light")
KEY = "00ff00ff00ff00ff"
NS_PER_MS = 1_000_000


def reactions(times_ms, condition=("light",), *, delay_known=True):
    """Return judged answers; None is a missed signal."""
    return [
        Reaction(
            condition=condition, outcome="missed" if ms is None else "answer", ms=ms, delay_known=delay_known
        )
        for ms in times_ms
    ]  # fmt: skip


def race(**changed):
    values = {
        "pair": PAIR, "shares": SHARES, "pair_ms": (), "bound_ms": (), "faster_at": (), "broken_at": (),
        "gain_ms": 40.0, "gain_interval": (12.0, 66.0), "fewest": 20, "apart_ms": 0.0,
    }  # fmt: skip
    return Race(**values | changed)


def test_a_line_holds_median_intervals_lapses_false_starts_and_speed():
    """Of 200, 210 ... 590 ms half lie up to 395, nine in ten up to 555, and ten are of 500 or more."""
    times_ms = [200.0 + 10 * n for n in range(40)]
    found = score(("light",), [*reactions(times_ms), Reaction(condition=("light",), outcome="false_start")])
    half, most = found.median_interval, found.p90_interval
    speed = sum(1000 / ms for ms in times_ms) / 40
    assert score_line(found) == (
        f"Light: half of the answers within 395 ms (95 %: {half.low_ms:.0f} to {half.high_ms:.0f}); "
        f"nine in ten within 555 ms (95 %: {most.low_ms:.0f} to {most.high_ms:.0f}). "
        f"10 lapses (500 ms or more) in 40 signals, 1 false start. On average {speed:.2f} a second."
    )


def test_few_answers_leave_a_side_open_and_say_so():
    line = score_line(score(("light",), reactions([200.0 + 10 * n for n in range(20)])))
    assert re.search(r"nine in ten within 375 ms \(95 %: \d+ or more\)", line)
    line = score_line(score(("light",), reactions([200.0, 210.0, 600.0])))
    assert "within 210 ms (too few signals to know how exact it is: 6 are needed)" in line
    assert "1 lapse (500 ms or more) in 3 signals" in line
    assert "nine in ten" not in line


def test_missed_signals_are_told_apart_from_slow_ones():
    line = score_line(score(("light",), reactions([*[200.0 + n for n in range(18)], 700.0, None])))
    assert "2 lapses (500 ms or more) in 20 signals, of them 1 missed, 0 false starts." in line


def test_a_figure_that_lies_among_the_missed_is_not_invented():
    line = score_line(score(("light",), reactions([200.0, None, None, None])))
    assert line.startswith("Light: half or more of the signals were missed. 3 lapses")
    assert score_line(score(("light",), reactions([None] * 3))).startswith("Light: half or more of the signals")
    assert score_line(score(("light",), [])) == "Light: no signal that counts."


def test_an_unknown_delay_is_part_of_the_times_and_said():
    known, unknown = (score_line(score(("light",), reactions([300.0], delay_known=k))) for k in (True, False))
    assert unknown == known + " These times include the device's delay, which is not known."


def session(*answers):
    return ReactionTest(person=KEY, answers=answers, delays=Delays(out_ns={"light": 0}))


def answer(condition, ms):
    trial = Trial(no=0, block=1, practice=False, condition=condition, wait_ns=2_000_000_000)
    return TrialAnswer(trial=trial, fired_ns=dict.fromkeys(condition, 0), answer_ns=ms and ms * NS_PER_MS)


def test_a_persons_lines_name_nobody_and_promise_nothing():
    answers = [*[answer(("light",), 300 + n) for n in range(9)], answer(CATCH, 900), answer(CATCH, None)]
    lines = person_lines(scores_of(session(*answers)))
    assert lines[0].startswith("Light: half of the answers within 304 ms")
    assert lines[1] == "1 false start in all, with 2 catches where nothing came."
    assert lines[-2:] == (UNKNOWN_KEY, NO_FORECAST)
    assert "On the field eyes and hands are busy" in NO_FORECAST
    assert not any(KEY in line for line in lines)


def test_presses_between_the_windows_are_told():
    scored = scores_of(ReactionTest(person=KEY, answers=(answer(CATCH, 900),), outside=2))
    assert person_lines(scored)[0] == (
        "3 false starts in all, 2 of them between the answer windows, with 1 catch where nothing came."
    )


def test_lines_say_how_many_signals_an_open_side_takes():
    open_side = person_lines(scores_of(session(*[answer(("light",), 300 + n) for n in range(20)])))
    assert any("nine in ten take 36 signals of a kind" in line for line in open_side)
    bounded = person_lines(scores_of(session(*[answer(("light",), 300 + n) for n in range(40)])))
    assert not any("36 signals" in line for line in bounded)


def test_trials_that_a_device_failed_are_told():
    trial = Trial(no=0, block=1, practice=False, condition=PAIR, wait_ns=2_000_000_000)
    half = TrialAnswer(trial=trial, fired_ns={"light": 0}, answer_ns=300 * NS_PER_MS)
    lines = person_lines(scores_of(session(half, half)))
    assert lines[0] == "Rumble and light together: no signal that counts."
    assert "2 trials did not count: a device did not give the signal." in lines


@pytest.mark.parametrize(("condition", "words"), [(("sound",), "Sound"), (PAIR, "Rumble and light together")])
def test_conditions_have_plain_names(condition, words):
    assert title(condition) == words


def test_a_broken_race_in_one_sentence():
    assert race_sentence(PAIR, race(broken_at=(0.05, 0.15, 0.25))) == (
        "Rumble and light together: 40 ms faster than the faster of the two alone (95 %: 12 to 66); "
        "more than two separate chances explain (race model broken at 5 to 25 %)."
    )


def test_a_race_that_is_one_in_one_sentence():
    assert race_sentence(PAIR, race(faster_at=(0.05,))) == (
        "Rumble and light together: 40 ms faster than the faster of the two alone (95 %: 12 to 66); "
        "no more than having two chances."
    )


def test_a_gain_that_may_be_luck_is_called_so():
    sentence = race_sentence(PAIR, race(gain_ms=9.6, gain_interval=(-2.5, 22.0), broken_at=(0.05,)))
    assert sentence == (
        "Rumble and light together: 10 ms faster than the faster of the two alone, which may be luck (95 %: -2 to 22); "
        "its fastest answers come sooner than two separate chances explain (race model broken at 5 %)."
    )


def test_a_loss_is_told_as_one():
    sentence = race_sentence(PAIR, race(gain_ms=-30.0, gain_interval=(-50.0, -11.0)))
    assert "30 ms slower than the faster of the two alone (95 %: 11 to 50); no more than" in sentence


@pytest.mark.parametrize(
    ("broken_at", "words"),
    [((0.05,), "5 %"), ((0.05, 0.15), "5 to 15 %"), ((0.05, 0.25, 0.35), "5 and 25 to 35 %"),
     ((0.05, 0.25, 0.45), "5 and 25 and 45 %"), (SHARES, "5 to 95 %")],
)  # fmt: skip
def test_percent_points_are_drawn_together(broken_at, words):
    assert f"(race model broken at {words})" in race_sentence(PAIR, race(broken_at=broken_at))


def test_signals_that_did_not_begin_together_spoil_a_comparison_and_this_is_said():
    assert "began" not in race_sentence(PAIR, race(apart_ms=10.0))
    assert "began 34 ms apart, which makes this comparison unsure" in race_sentence(PAIR, race(apart_ms=34.0))


def test_too_few_answers_are_said_instead_of_a_result():
    assert race_of(PAIR, reactions([300.0] * 9)) is None
    assert race_sentence(PAIR, None) == (
        "Rumble and light together: too few answers to compare (at least 10 each, to both and to either alone)."
    )


def test_words_can_be_printed_on_any_console():
    source = reaction_words.__doc__ + "".join(title((channel,)) for channel in CHANNELS) + NO_FORECAST
    assert source.isascii()
