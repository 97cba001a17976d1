"""Sentences of answers: plain words, one way of writing numbers, and never at odds with the figures."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.support.analysis.review_rows import a_push, a_row
from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import WORLDS, World
from tocsin.analysis.review.answer import FIGURES, Answer, Comparison, Figure, Lacking, LeftOut, Review
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.headline import flags, headline
from tocsin.analysis.review.numbers import early
from tocsin.analysis.review.season import season_review
from tocsin.analysis.review.words import details, legend, line, not_yet, not_yet_lines
from tocsin.analysis.review.words_trends import is_clear

# No word of a trade that people do not know, no praise, no blame, no ranking, nothing that is surer than it is.
FORBIDDEN = re.compile(
    r"(?i:significan|\bp\s*[=<]|prove[dns]?\b|median|confidence|\bbest\b|worst driver|ranking|regression|interval|"
    r"well done|great|congrat|bad driver|fault of|correlat|standard|\bnan\b|\binf\b|\{|\})|"
    r"\bNone\b",
)
FINE = re.compile(r"\d\.\d\d")


def texts_of(review: Review) -> list[str]:
    return [
        headline(review), *flags(review), *filter(None, map(line, review.answers)), *map(not_yet, review.unknown),
        *not_yet_lines(review.unknown),
        *(one.why for one in review.left_out), *legend(),
        *(one for answer in review.answers for one in details(answer)),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def reviews():
    """Return reviews of all simulated worlds: of the whole season, and of some evenings; and what was dealt by lot."""
    found = []
    worlds = [*WORLDS.values(), World(drills=("turn",), evenings=5, ways_s=(3.0, 6.0, 8.0, 16.0)),
              World(calling_s=1.2), World(drills=("break_off", "fork"), evenings=6)]  # fmt: skip
    for seed, world in enumerate(worlds):
        rows = season_rows(world._replace(evenings=min(world.evenings, 6)), seed)
        evenings = sorted({row.evening for row in rows})
        found.append(season_review(rows))
        found += [
            evening_review([row for row in rows if row.evening == evening], season=rows) for evening in evenings[-1:]
        ]
        found.append(season_review(rows[: 12 * (seed % 4 + 1)]))
    return found


def test_no_sentence_has_a_word_that_it_must_not_have_and_no_number_is_too_fine(reviews):
    for review in reviews:
        for text in texts_of(review):
            assert not FORBIDDEN.search(text), text
            assert not FINE.search(text), text
            assert text[0].isupper() or text[0].isdigit() or text in {one.why for one in review.left_out}, text
            assert ".." not in text, text
            assert "  " not in text, text


def test_each_figure_stands_in_the_table_with_its_meaning(reviews):
    names = {figure.name for review in reviews for answer in review.answers for figure in answer.figures}
    assert names <= set(FIGURES)
    # Those that these worlds cannot reach: clocks of matches, and seasons of eight weeks (test_trends.py has them).
    later = {"clock_error", "clock_error_worst", "weeks"}
    assert set(FIGURES) - names - later <= {name for name in FIGURES if name.endswith("_if_missing")}


def test_limits_lie_on_both_sides_of_their_value(reviews):
    for review in reviews:
        for figure in (one for answer in review.answers for one in answer.figures if one.value is not None):
            assert figure.low is None or figure.low <= figure.value + 1e-9, figure
            assert figure.high is None or figure.value <= figure.high + 1e-9, figure
            assert figure.at_most is None or figure.at_most > figure.value, figure
            assert figure.unit != "share" or figure.of == "difference" or 0 <= figure.value <= 1, figure


def test_each_question_with_figures_has_a_sentence_and_each_lack_its_own_words(reviews):
    for review in reviews:
        for answer in review.answers:
            told = answer.figures if answer.question not in ("break_off", "better") else ()
            assert bool(line(answer)) or not told, answer
            for lacking in answer.lacking:
                assert lacking.figure == "way" or lacking.figure not in not_yet(lacking).split(), lacking


def test_what_is_unknown_is_told_shortest_first(reviews):
    for review in reviews:
        waits = [(one.evenings, one.more) for one in review.unknown if one.more or one.evenings]
        assert waits == sorted(waits)


margins = st.tuples(*[st.floats(-9, 9)] * 3).map(sorted)


@given(margins)
def test_a_margins_sentence_says_the_side_that_its_numbers_say(values):
    low, value, high = values
    figure = Figure(name="margin", unit="s", value=value, low=low, high=high, rounds=12)
    said = line(Answer(question="break_off", figures=(figure,)))
    middle, limits = said.removesuffix(").").split(" (")
    assert middle == f"Pushes end {early(value)}, middle value of 12"
    assert ("late" in middle) == (round(value, 1) < 0)
    numbers = [float(one) for one in re.findall(r"\d+\.\d", limits)]
    shown = {abs(round(one, 1)) for one in (low, high)}
    assert shown - {0.0} <= set(numbers) <= shown
    assert set(numbers) == shown
    assert "as the window began" not in limits
    assert "early" not in limits or round(high, 1) > 0
    assert "late" not in limits or round(low, 1) < 0


@given(st.integers(0, 40), st.integers(1, 40))
def test_a_shares_sentence_counts_what_its_figure_counts(count, rounds):
    count = min(count, rounds)
    figure = Figure(
        name="contact", unit="share", value=count / rounds, low=0.11, high=0.6, count=count, rounds=rounds
    )
    said = line(Answer(question="contact", figures=(figure,)))
    assert said == f"Contact in {count} of {rounds} round{'s' if rounds != 1 else ''} (11 to 60 of 100)."


@pytest.mark.parametrize(("lacking", "said"), [
    (Lacking(question="break_off", figure="margin_nine_in_ten", counted="pushes", more=10, evenings=1),
     "Not yet: how early nine in ten pushes are off. About 10 more pushes whose end somebody notes, 1 evening."),
    (Lacking(question="cost", figure="cost", counted="evenings", more=2, evenings=2),
     "Not yet: how many points are lost on average. About 2 more evenings."),
    (Lacking(question="better", figure="evidence", of="coach: calling / silent: break_off", counted="pairs", more=40,
             evenings=8),
     "Not yet: coach calling or coach silent, by when pushes end. About 40 more pairs, 8 evenings."),
    (Lacking(question="better", figure="evidence", of="shift_s: -1 s / 0 s: contact", counted="pairs"),
     "Not yet: called 1 s later or called as planned, by contacts. No season is long enough to tell."),
    (Lacking(question="better", figure="evidence", counted="pairs", more=5, evenings=1),
     "Not yet: which of two things is better that the drill dealt by lot. A first look after about 1 more evening."),
    (Lacking(question="better", figure="difference", of="coach: calling / silent: turn", counted="pairs", more=1,
             evenings=1),
     "Not yet: coach calling or coach silent, by the time to the turn. A first look after about 1 more evening."),
    (Lacking(question="better", figure="evidence", of="coach: calling / silent: turn", counted="pairs", more=400,
             evenings=31),
     "Not yet: coach calling or coach silent, by the time to the turn. More than 30 evenings."),
    (Lacking(question="odd", figure="odd", counted="pushes", more=1),
     "Not yet: whether one push was much later than usual. About 1 more push whose end somebody notes."),
    (Lacking(question="home", figure="way", of="far"),
     "Not yet: how long the way home takes from: far. From there it was too often not home in time, so nobody knows "
     "how long it takes: call it home sooner."),
    (Lacking(question="turn", figure="turn", counted="turns"),
     "Not yet: how fast the robot turns. Of too many nobody noted it: mark it each time."),
])  # fmt: skip
def test_not_yet_says_what_and_how_much_is_missing(lacking, said):
    assert not_yet(lacking) == said


def test_of_what_is_not_known_only_the_nearest_stands_there_and_what_no_season_tells_in_one_line():
    near = [Lacking(question="better", figure="evidence", of=f"coach: {k} / b: turn", counted="pairs", more=9,
                    evenings=k) for k in range(1, 8)]  # fmt: skip
    far = [replace(near[0], evenings=31), replace(near[0], more=0, evenings=0)]
    told = not_yet_lines([*near, *far])
    assert told == (
        *map(not_yet, near[:5]), "And 2 more.", "Not this season: 2 comparisons of what was dealt by lot.",
    )  # fmt: skip
    assert not_yet_lines(near[:5]) == told[:5]
    assert not_yet_lines(far[:1]) == ("Not this season: 1 comparison of what was dealt by lot.",)
    assert not_yet_lines([*near, *far], 0) == ()


def test_no_time_to_spare_is_no_success():
    assert (early(0.04), early(-0.04)) == ("as the window began",) * 2
    home = Figure(name="home_margin", unit="s", value=0.0, low=-0.5, high=0.0, rounds=9)
    assert line(Answer(question="home", figures=(home,))) == (
        "Home as the match ended, middle value of 9 (0.5 s late to 0.0 s)."
    )


def test_the_foot_says_how_late_marks_are_left_in_and_where_a_moved_call_is_told():
    foot = " ".join(legend())
    assert "0.3 to 0.8 s late. That is left in, so the true end was that much sooner." in foot
    assert "If the drill moves its call by lot, seconds are told as if it came at the plan's lead." in foot


def compared(factor, first, second, value, low, high, *, verdict="better", less=None, outcome="break_off"):
    of = f"{factor}: {first} / {second}: {outcome}"
    return Answer(
        question="better",
        figures=(Figure(name="difference", of=of, unit="s", value=value, low=low, high=high, rounds=60),),
        comparisons=(Comparison(of=of, factor=factor, first=first, second=second, outcome=outcome, verdict=verdict,
                                less=less or (second if value < 0 else first), needed=20, pairs=30, named=True),),
    )  # fmt: skip


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


def slope(name, value, low, high, unit="s/round", question="tired", **facts):
    figure = Figure(name=name, unit=unit, value=value, low=low, high=high, rounds=80, evenings=8)
    return Answer(question=question, figures=(figure,), **facts)


@pytest.mark.parametrize(("answer", "said"), [
    (slope("by_round", 0.02, -0.01, 0.05),
     "After 10 more rounds of an evening pushes end 0.2 s later (0.5 s later to 0.1 s sooner). It may be chance."),
    (slope("by_round", 0.03, 0.01, 0.05, verdict="battery_as_rounds"),
     "After 10 more rounds of an evening pushes end 0.3 s later (0.1 to 0.5 s later). Evening and battery cannot be "
     "told apart: change batteries after unequal numbers of rounds."),
    (slope("learning", 6.2, 1.4, 11.0, "percent", "learning"),
     "With twice as many rounds behind them pushes end 6 % sooner (1 to 11 %)."),
    (slope("learning", -2.2, -7.4, 3.0, "percent", "learning"),
     "With twice as many rounds behind them pushes end 2 % later (7 % later to 3 % sooner). It may be chance."),
])  # fmt: skip
def test_a_change_says_its_side_and_whether_it_may_be_chance(answer, said):
    assert line(answer) == said


def test_a_change_is_a_finding_only_well_beyond_its_limits():
    assert not is_clear(Figure(name="by_round", unit="s/round", value=0.03, low=0.01, high=0.05, rounds=80))
    assert is_clear(Figure(name="by_round", unit="s/round", value=0.05, low=0.03, high=0.07, rounds=80))


def test_odd_rounds_stand_beside_how_often_one_is_by_chance():
    figures = (
        Figure(name="odd", unit="rounds", value=2, count=2, rounds=30),
        Figure(name="odd_by_chance", unit="share", value=0.031, rounds=30),
    )
    assert line(Answer(question="odd", figures=figures, marked=("a", "b"))) == (
        "2 pushes of 30 ended far later than is usual for their drivers. By chance alone, 3 of 100 such "
        "evenings would have one."
    )
    none = (Figure(name="odd", unit="rounds", value=0, count=0, rounds=30), figures[1])
    assert line(Answer(question="odd", figures=none)) == "Of 30 pushes none was odd."


def trust(**counts):
    base = {"counted": 20, "lost": 0, "unmarked": 0, "unclear": 0, "repeated": 0, "signals_failed": 0} | counts
    figures = [
        Figure(name=name, unit="share" if name == "lost" else "rounds", value=n / 20, count=n, rounds=20)
        for name, n in base.items()
    ]
    return Answer(question="trust", figures=tuple(figures))


def review(*answers, trusted=True, evenings=3, scope="season"):
    names = tuple(f"2031-02-0{day}" for day in range(1, evenings + 1))
    return Review(scope=scope, evenings=names, answers=answers, trusted=trusted)


def test_what_is_learnt_is_told_in_seconds_too():
    found = slope("learning", 6.2, 1.4, 11.0, "percent", "learning")
    for value, about in ((0.12, "about 0.1 s"), (0.02, "less than 0.1 s")):
        by = replace(found.figures[0], name="learning_s", unit="s", value=value)
        said = f"With twice as many rounds behind them pushes end 6 % sooner, {about} (1 to 11 %)."
        assert line(replace(found, figures=(*found.figures, by))) == said


def contacts(count, unclear=0):
    low = 0.2 if count > 5 else 0.02
    return Answer(question="contact", figures=(
        Figure(name="contact", unit="share", value=count / 20, low=low, high=0.8, count=count, rounds=20,
               at_most=(count + unclear) / 20 if unclear else None),
    ))  # fmt: skip


def pushes(margin_low, on=0.35):
    return Answer(question="break_off", figures=(
        Figure(name="margin", unit="s", value=1.0, low=margin_low, high=2.0, rounds=20),
        Figure(name="on_at_lead", unit="share", value=on, low=on / 2, high=on + 0.2, rounds=20),
        Figure(name="surely_on", unit="share", value=0.05, low=0.0, high=0.2, rounds=20),
    ))  # fmt: skip


def homes(full, none):
    return Answer(question="home", figures=tuple(
        Figure(name=name, unit="share", value=count / 20, low=0.0, high=1.0, count=count, rounds=20)
        for name, count in (("home_full", full), ("home_half", 20 - full - none), ("home_none", none))
    ))  # fmt: skip


FINE_TEXT = "Nothing new, and that is fine."


@pytest.mark.parametrize(("answers", "said"), [
    ((contacts(0), pushes(0.5), homes(19, 1)), FINE_TEXT),
    ((contacts(4, 6), pushes(-0.5), homes(9, 9)), "Contact in 4 of 20 rounds; of 6 more only a video can tell."),
    ((contacts(0, 6), pushes(-0.5), homes(9, 9)), "35 of 100 pushes were still on as the window began (18 to 55)."),
    ((contacts(0), pushes(0.04), homes(20, 0)), "35 of 100 pushes were still on as the window began (18 to 55)."),
    ((contacts(0), pushes(0.5), homes(15, 2)),
     "Home in 15 of 20 rounds (0 to 100 of 100), half home in 3, not home in 2."),
    ((contacts(0, 2), pushes(0.5), homes(20, 0)), "Contact in 0 of 20 rounds; of 2 more only a video can tell."),
    # Nobody knows yet how early pushes are off: that is not fine.
    ((contacts(0), Answer(question="break_off", lacking=(Lacking(question="break_off", figure="margin", more=3),))),
     "Contact in 0 of 20 rounds."),
    ((), "Too little to tell of yet."),
])  # fmt: skip
def test_all_is_fine_only_where_nothing_is_amiss_else_the_headline_says_what_happened(answers, said):
    assert headline(review(trust(), *answers, scope="evening", evenings=1)) == said
    assert headline(review(trust(), *answers)) == said


def test_a_season_of_one_evening_says_that_it_is_one_and_no_share_that_three_evenings_take():
    """Its evening says what happened; the season's page is of the same rounds."""
    rows = [a_push(k, 2.0 + k / 8, contacts=int(k <= 4), clean=k > 4, home="home" if k < 20 else "home_none",
                   home_margin_s=1.0 if k < 20 else None) for k in range(1, 21)]  # fmt: skip
    assert headline(evening_review(rows)) == "Contact in 4 of 20 rounds."
    season = season_review(rows)
    assert headline(season) == "One evening so far: a season tells more from the third evening on."
    assert [one.name for answer in season.answers for one in answer.figures if one.unit == "share"] == ["lost"]
    assert {(one.figure, one.more) for one in season.unknown if one.counted == "evenings"} >= {
        ("contact", 2), ("home_full", 2), ("on_at_lead", 2),
    }  # fmt: skip
    assert headline(review(trust(), evenings=2)).startswith("2 evenings so far: a season")
    assert headline(review(trust(), evenings=1, scope="matches")).startswith("One day of matches so far: they")


@pytest.mark.parametrize("factor", ["setup", "shift_s"])
def test_what_nobody_chooses_is_no_headline_beside_what_happened(factor):
    apart = compared(factor, "a", "b", 0.9, 0.5, 1.2, verdict="surely_better")
    for more in (contacts(1), pushes(-0.5), homes(9, 9), slope("learning", 9.0, 8.0, 10.0, "percent", "learning")):
        assert not headline(review(trust(), more, apart)).startswith(("A:", "Called"))
    assert ": pushes end 0.9 s sooner than " in headline(review(trust(), contacts(0), apart))


def test_the_headline_is_a_red_flag_before_a_finding_before_nothing():
    better = compared("coach", "calling", "silent", 0.3, 0.0, 0.6)
    assert headline(review(trust(), contacts(0))) == FINE_TEXT
    assert headline(review(trust(), contacts(10))) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(), contacts(10), better)).startswith("Coach calling is better")
    assert headline(review(trust(unmarked=4), contacts(10), better)) == "Nobody marked 4 rounds."
    assert headline(review(trust(unmarked=1), contacts(10))) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(unclear=11), contacts(0))) == (
        "Film the field next time: of 11 rounds only a video can tell."
    )
    lost = replace(review(trust(lost=8, counted=12), trusted=False), left_out=(
        LeftOut(why="driven at half speed", rounds=4), LeftOut(why="cancelled", rounds=8, lost=True),
    ))  # fmt: skip
    said = "Too few count: 8 of 20 rounds do not (cancelled). Nothing else is told."
    assert headline(lost) == flags(lost)[0] == said
    assert headline(review()) == "No round to tell of."


def test_a_quarter_of_rounds_that_only_a_video_tells_asks_for_one():
    asked = "Film the field next time: of 5 rounds only a video can tell."
    assert flags(review(trust(unclear=5), contacts(1, 5))) == (asked,)
    assert flags(review(trust(unclear=4), contacts(1, 4))) == ()
    assert headline(review(trust(unclear=5), contacts(1, 5))).startswith("Contact in 1 of 20 rounds; of 5 more")


def test_pushes_without_a_noted_end_ask_for_the_key():
    rows = [a_push(k, 3.0, at_most_s=None if k <= 10 else "noted") for k in range(1, 21)]
    found = evening_review([*rows, a_row(21)])
    assert flags(found) == (
        "Of 10 of 20 pushes nobody noted when they ended: somebody must press Contact up, or Turned.",
    )
    assert flags(evening_review(rows[1:])) == ()


def test_pushes_that_reach_into_the_window_are_a_finding_only_if_marks_were_not_just_late():
    """A scribe is late: of pushes that end 0.5 s behind the begin as noted nobody knows; 0.8 s is the latest."""
    rows = [a_push(k, 4.5, contacts_unclear=1, clean=None) for k in range(1, 13)]
    assert not headline(evening_review(rows)).startswith("Most")
    rows = [a_push(k, 4.9, contacts=1, clean=False) for k in range(1, 13)]
    found = evening_review(rows)
    assert (found.answer("break_off").figure("on_at_lead").value, headline(found)[:11]) == (1.0, "Contact in ")
    rows = [a_push(k, 4.9, contacts=None, clean=True) for k in range(1, 13)]
    assert headline(evening_review(rows)) == "Most pushes surely reach into the window: 100 of 100 (76 to 100 of 100)."


def test_a_difference_that_matters_little_is_the_headline_only_where_nothing_else_is():
    small = compared("coach", "calling", "silent", 0.1, 0.0, 0.3)
    assert headline(review(trust(), contacts(10), small)) == "Contact in 10 of 20 rounds (20 to 80 of 100)."
    assert headline(review(trust(), contacts(1), small)) == "Contact in 1 of 20 rounds."
    assert headline(review(trust(), contacts(0), small)).startswith("Coach calling is better")


def test_an_odd_round_is_the_headline_of_its_evening_and_not_of_a_season():
    figure = Figure(name="odd", unit="rounds", value=1, count=1, rounds=30)
    odd = Answer(question="odd", figures=(figure,), marked=("a",))
    evening = Review(scope="evening", evenings=("2031-02-01",), answers=(trust(), odd))
    assert headline(evening) == "1 push of 30 ended far later than is usual for its driver."
    assert headline(review(trust(), contacts(0), odd)) == FINE_TEXT


def beside(name, unit, match, practice, value, low, high):
    sides = [
        Figure(name=name, of=of, unit=unit, value=one[0] / one[1] if unit == "share" else one[0], rounds=one[1],
               count=one[0] if unit == "share" else None)
        for of, one in (("match", match), ("practice", practice))
    ]  # fmt: skip
    return (*sides, Figure(name=name, of="difference", unit=unit, value=value, low=low, high=high, rounds=69))


def test_matches_stand_beside_practice_with_what_else_differs():
    figures = beside("contact", "share", (3, 9), (12, 60), 0.133, -0.1, 0.42)
    figures += beside("break_off", "s", (3.1, 9), (2.8, 60), 0.3, -0.1, 0.7)
    answer = Answer(question="matches", figures=figures)
    assert line(answer) == (
        "Where a push was on at the call: contact in 3 of 9 matches and 12 of 60 rounds of practice called as planned "
        "(in matches 10 of 100 fewer to 42 of 100 more). "
        "In matches pushes end 0.3 s later (0.7 s later to 0.1 s sooner). People, robots and opponents differ too."
    )
    assert headline(review(trust(), contacts(0), answer)) == FINE_TEXT
    filmed = (replace(figures[0], at_most=5 / 9), *figures[1:])
    assert " Of 2 more matches and 0 more rounds only a video can tell. In matches" in line(
        replace(answer, figures=filmed)
    )
    slower = beside("break_off", "s", (3.5, 9), (2.8, 60), 0.7, 0.4, 1.0)
    clear = Answer(question="matches", figures=slower)
    assert headline(review(trust(), clear)) == (
        "In matches pushes end 0.7 s later (0.4 to 1.0 s later). People, robots and opponents differ too."
    )
    lacks = Lacking(question="matches", figure="contact", of="difference", counted="matches", more=5, evenings=2)
    assert not_yet(lacks) == (
        "Not yet: whether contacts are as many in matches, where a push is on at the call. About 5 more matches, "
        "2 evenings."
    )


def test_a_review_of_matches_says_matches_and_never_rounds():
    world = WORLDS["l matches slower"]._replace(evenings=4)
    found = season_review(season_rows(world, 1), drill="")
    said = [headline(found), *flags(found), *map(line, found.answers), *map(not_yet, found.unknown)]
    assert line(found.answers[0]).startswith("12 of 12 matches count.")
    assert "of 12 matches" in line(found.answer("contact"))
    assert not [one for one in said if "round" in one and "by lot" not in one]
    assert {one.counts for one in found.answers} == {"matches"}
    of_rounds = season_review(season_rows(world, 1))
    assert {one.counts for one in of_rounds.answers} == {"rounds"}
    assert "rounds count." in line(of_rounds.answers[0])
