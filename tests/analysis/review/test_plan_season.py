"""What evenings can show, before they are played: held to what a review says of simulated seasons of these drills."""

import msgspec
import pytest

from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import TWO_CREWS, WORLDS, World
from tests.support.people.table_crew import loaded
from tocsin.analysis.review.before.outlook import Factor, outlook_of, planned_of
from tocsin.analysis.review.before.words import outlook_lines
from tocsin.analysis.review.better import FACTORS, better_answer
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.season import season_review
from tocsin.analysis.review.words.answers import not_yet
from tocsin.analysis.rounds.variation import conditions
from tocsin.model.drill import Vary
from tocsin.model.project import Question

DRILLS = ("break_off", "turn", "missing_signal", "fork", "three_in_a_row", "words")
BREAK_OFF = loaded("break_off").drill


def evening_of(outlook, figure):
    return next(one.evening for one in outlook.told if one.figure == figure)


def test_pairs_of_an_evening_are_those_of_the_lot():
    planned = planned_of(BREAK_OFF)
    assert planned.factors == (
        Factor(asked="coach", values=2, pairs=5), Factor(asked="setup", values=3, pairs=3),
        Factor(asked="shift", values=3, pairs=3),
    )  # fmt: skip
    assert [one.pairs for one in planned_of(BREAK_OFF, crews=2).factors] == [10, 6, 6]
    assert (planned.rounds, planned.setups, planned.pushes, planned.turns, planned.homes) == (10, 3, True, True, True)


@pytest.mark.parametrize(("rounds", "half", "values"), [(12, 1, 3), (10, 0, 3), (11, 2, 2), (7, 2, 4)])
def test_blocks_that_are_cut_give_pairs_by_chance(rounds, half, values):
    """Counted in what the lot really dealt."""
    names = tuple("abcd"[:values])
    drill = msgspec.structs.replace(BREAK_OFF, rounds=rounds, half_speed=half, vary=Vary(setups=names))
    found = 0
    for seed in range(400):
        dealt = [one.setup for one in conditions(drill, seed)]
        for block in range(0, rounds, values):
            found += {"a", "b"} <= set(dealt[max(block, half):block + values])
    assert planned_of(drill).factors[0].pairs == pytest.approx(found / 400, abs=0.15)


@pytest.mark.parametrize("name", ["break_off", "turn", "missing_signal"])
def test_evidence_and_pairs_are_those_that_a_review_takes(name):
    """Each factor of each bundled drill as the question, over rows of a simulated season."""
    drill = loaded(name).drill
    outlook = outlook_of(planned_of(drill))
    rows = season_rows(World(drills=(name,), evenings=3), 1)
    for factor in outlook.planned.factors:
        answer = better_answer(rows, Question(asks=factor.asked, since="2031-01-01"))
        compared = [one for one in answer.comparisons if one.factor == FACTORS[factor.asked]]
        assert {(one.outcome, one.needed) for one in compared} == {
            (one.outcome, one.needed) for one in outlook.seen if one.asked == factor.asked
        }
        known = [one.pairs + one.left_out for one in compared if one.named]
        assert sum(known) / len(known) == pytest.approx(3 * factor.pairs, abs=1)


@pytest.mark.parametrize("crews", [1, 2])
def test_a_review_tells_from_the_evening_on_that_was_said_before(crews):
    """With a push in each round that is noted: a season's review of one evening less lacks the figure."""
    outlook = outlook_of(planned_of(BREAK_OFF, crews=crews))
    rows = season_rows(World(crews=TWO_CREWS[:crews], evenings=7), 3)
    evenings = sorted({row.evening for row in rows})
    for one in outlook.told:
        answers = [
            season_review([row for row in rows if row.evening in evenings[:many]]).answer(one.question)
            for many in (one.evening - 1, one.evening) if many
        ]
        # The way home from a set-up has a figure of each.
        told = [{figure.name for figure in answer.figures} for answer in answers]
        assert one.figure in told[-1], one
        if one.evening > 1 and one.figure != "way":
            assert one.figure not in told[0], one
    assert evening_of(outlook, "odd") == 5             # one driver's forty pushes, however many crews there are
    assert rounds_of(rows).drill == BREAK_OFF.name


@pytest.mark.parametrize("world", ["a plain", "m no contact"])
@pytest.mark.parametrize("evenings", [1, 2, 3, 6])
def test_a_review_promises_no_comparison_before_the_evening_that_was_said_before(evenings, world):
    """Seen: "about 1 more pair, 1 evening" of what the season ahead calls "not in so many evenings"; and of contacts
    evening 26, where it knew 41 at the soonest."""
    outlook = outlook_of(planned_of(BREAK_OFF))
    soonest = {
        (FACTORS[one.asked], one.outcome): one.evening for one in reversed(outlook.seen) if one.evening is not None
    }                                                  # of the largest difference
    looks = 0
    for seed in range(3):
        rows = season_rows(WORLDS[world]._replace(evenings=evenings), seed)
        for one in better_answer(rows, Question(asks="coach", since="2031-01-01")).lacking:
            said = not_yet(one)
            looks += "A first look" in said
            assert ("A first look" in said) == (one.figure == "difference"), said
            if one.figure == "evidence" and one.more:
                assert one.evenings + evenings >= soonest[one.of.split(": ")[0], one.of.split(": ")[-1]], said
    assert looks or evenings > 1


def test_differences_are_seen_after_as_many_pairs_as_benchmarks_measure():
    """0.6 s a round: medians of 16, 33, 73 and 157 pairs, contacts of .30 against .15 after 122 to 128, by
    tests/benchmarks/season_coverage.py; what is told may be a tenth more."""
    only = msgspec.structs.replace(BREAK_OFF, vary=Vary(coach=("silent", "calling")))
    seen = [one for one in outlook_of(planned_of(only)).seen if one.outcome == "break_off"]
    assert [one.size for one in seen] == [1.0, 0.5, 0.3, 0.2]
    assert [one.pairs for one in seen] == pytest.approx([16, 33, 73, 157], rel=0.12)
    assert [one.evening for one in seen] == [-(-one.pairs // 5) for one in seen]
    contact = msgspec.structs.replace(planned_of(only), turns=False)
    shares = [one for one in outlook_of(contact).seen if one.outcome == "contact"]
    assert [(one.size, one.other, one.needed) for one in shares] == [(0.4, 0.1, 20), (0.3, 0.15, 20), (0.1, 0.0, 20)]
    assert shares[1].pairs == pytest.approx(125, rel=0.05)
    # Half the spread takes far fewer.
    assert outlook_of(planned_of(only), spread_s=0.3).seen[2].pairs < seen[2].pairs / 2


def test_what_a_drill_cannot_show():
    twice = msgspec.structs.replace(BREAK_OFF, vary=Vary(shift_lead="break_off", shift_ns=(0, 0, 1_000_000_000)))
    assert planned_of(twice).factors[0].pairs == 0
    assert {one.evening for one in outlook_of(planned_of(twice)).seen} == {None}
    assert any("nothing can be seen" in line for line in outlook_lines(outlook_of(planned_of(twice))))
    halves = msgspec.structs.replace(BREAK_OFF, half_speed=12)
    assert {one.evening for one in outlook_of(planned_of(halves)).told} == {None}
    three = outlook_of(planned_of(loaded("three_in_a_row").drill))
    assert (evening_of(three, "by_round"), evening_of(three, "learning")) == (None, None)
    # Behind the call no push is found.
    fork = outlook_of(planned_of(loaded("fork").drill))
    assert {one.figure for one in fork.told} == {"contact", "home_full", "way", "cost"}
    assert {one.outcome for one in fork.seen} == {"contact"}
    bench = outlook_of(planned_of(loaded("words").drill))
    assert (bench.told, bench.seen) == ((), ())


def test_the_page_of_twelve_evenings():
    lines = outlook_lines(outlook_of(planned_of(BREAK_OFF)))
    assert lines[0] == "12 evenings of Break off, 10 rounds each that count."
    assert "From evening 6: whether pushes end sooner as the season goes on." in lines
    assert (
        "Coach, by when pushes end: 1.0 s after evening 4; 0.5 s after evening 7; 0.3 s, 0.2 s not in so many evenings."
        in lines
    )
    assert (
        "Coach, by contacts of 100 rounds: 40 against 10 after evening 10; 30 against 15, 10 against 0 not in so many "
        "evenings." in lines
    )
    assert lines[-1].startswith("To see more: more rounds at full speed.")
    for name in DRILLS:
        for line in outlook_lines(outlook_of(planned_of(loaded(name).drill, evenings=1))):
            assert "{" not in line
            assert line.endswith((".", ":"))
