"""The limit that a crew sets itself, in the real programme of a drill: when it is made, what is said of it, where it
stands, and that all who judge a round later judge it by the same."""

import pytest
from msgspec.structs import replace

from tests.support.people.table_crew import TABLE_CREW, loaded, play
from tests.support.people.table_evening import TableEvening
from tocsin.analysis.rounds.own_limit import OwnLimit
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.added_marks import take_back
from tocsin.features.records.round_files import facts_of, newest_session
from tocsin.features.records.round_report import reports_of
from tocsin.features.records.rows import RowMaker
from tocsin.journal.reader import read

HALF, SET_BY = 2, 5                    # rounds at half speed, and those that set the limit
SAID = "Your limit: turned within "


def told(result):
    """Return all that is compared of a result."""
    return (
        result.clean, result.why, result.turn_ns, result.break_off_margin_ns, result.home, result.travel_ns,
        result.contacts, result.overlap_ns, result.counted, len(result.unclear),
    )  # fmt: skip


def limits(evening):
    return [facts_of(read(folder).header).own for folder in evening.folders]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """An evening of twelve rounds, none of which lacks its turn."""
    evening = TableEvening(tmp_path_factory.mktemp("whole"), "break_off", TABLE_CREW, 2)
    evening.play(12)
    return evening


@pytest.mark.parametrize(("name", "seed"), [("break_off", 2), ("break_off", 11), ("missing_signal", 5)])
def test_the_runner_and_the_table_come_to_the_same(name, seed, tmp_path, request):
    if (name, seed) == ("break_off", 2):
        evening = request.getfixturevalue("whole")
    else:
        evening = TableEvening(tmp_path, name, TABLE_CREW, seed)
        evening.play(12)
    pure = play(name, TABLE_CREW, seed)
    found = list(reports_of([read(folder) for folder in evening.folders], loaded(name)))
    assert [told(one.result) for one in found] == [told(one.result) for one in pure.rounds]
    assert limits(evening) == [one.own for one in pure.rounds]
    last = [line for line in evening.results[-1] if "Goal" in line]
    assert [("reached" in line) for line in last] == [pure.goal == "reached"]


def test_the_first_five_rounds_that_count_set_the_limit_and_the_words_say_so(whole):
    own = limits(whole)
    assert own[: HALF + SET_BY] == [OwnLimit()] * HALF + [OwnLimit(rounds=n) for n in range(SET_BY)]
    (limit,) = set(own[HALF + SET_BY :])
    assert 1_500_000_000 < limit.turned_ns < 4_000_000_000
    assert limit.rounds == SET_BY
    for number, rows in enumerate(whole.results):
        said = " ".join(rows)
        setting = number - HALF + 1
        assert (f"These rounds set your limit for the turn: {setting} of 5." in said) == (1 <= setting <= SET_BY)
        assert (SAID in said) == (setting >= SET_BY), "the round that makes it whole tells it, and those judged by it"
    assert f"{SAID}{limit.turned_ns / 1e9:.1f} s, from your first 5 rounds." in " ".join(whole.results[-1])


def test_the_card_of_a_round_tells_the_limit_before_it(whole):
    assert not [line for line in whole.cards[0] if "limit" in line], "at half speed nothing is set"
    assert "The first 5 rounds set your limit for the turn: 2 of 5 so far." in whole.cards[HALF + 2]
    assert [line for line in whole.cards[-1] if line.startswith(SAID)]


def test_the_picture_of_a_clean_round_says_that_it_sets_the_limit(whole):
    found = list(reports_of([read(folder) for folder in whole.folders], loaded("break_off")))
    clean = [number for number in range(HALF, HALF + SET_BY) if found[number].result.clean]
    assert clean
    for number in clean:
        assert found[number].picture.reason == f"These rounds set your limit for the turn: {number - HALF + 1} of 5"


def test_until_there_is_a_limit_the_turn_breaks_no_round(whole):
    for report in list(reports_of([read(folder) for folder in whole.folders], loaded("break_off")))[: HALF + SET_BY]:
        assert not [why for why in report.result.why if "turned" in why]


def test_marks_that_change_later_move_no_limit_by_which_rounds_were_judged(tmp_path):
    evening = TableEvening(tmp_path, "break_off", TABLE_CREW, 2)
    evening.play(HALF + SET_BY + 1)
    before = RowMaker().report(read(evening.folders[-1]))
    first = read(evening.folders[HALF])
    turned = next(place for place, mark in enumerate(first.marks, 1) if mark.label == "turned")
    take_back(first, turned)
    assert RowMaker().report(read(evening.folders[HALF])).result.turn_ns is None
    again = RowMaker().report(read(evening.folders[-1]))
    assert (again.own, again.result) == (before.own, before.result)
    assert any(line.startswith(SAID) for line in again.lines)


@pytest.mark.parametrize("played", [HALF + 3, HALF + SET_BY + 1])
def test_a_drill_that_goes_on_keeps_the_limit_or_sets_it_by_what_it_has(played, tmp_path):
    evening = TableEvening(tmp_path, "break_off", TABLE_CREW, 2)
    evening.play(played)
    wanted = evening.facts.own
    past = newest_session(evening.runs, lambda broken: pytest.fail(str(broken)))
    found = loaded("break_off")
    programme = Rounds(found, past.options, past.session, tuple(reports_of(past.rounds, found)))
    evening.sit_down(tmp_path, programme)
    assert evening.facts.own == wanted
    assert evening.facts.round == played + 1


def test_a_round_that_is_dropped_or_played_again_sets_no_limit(tmp_path):
    evening = TableEvening(tmp_path, "break_off", TABLE_CREW, 2)
    evening.play(HALF + 1)
    assert evening.facts.own == OwnLimit(rounds=1)
    evening.play_round()
    evening.desk.press("d", "1")
    evening.desk.go_on()
    assert evening.facts.own == OwnLimit(rounds=1)
    evening.play_round()
    evening.desk.press("r")
    evening.desk.go_on()
    assert evening.facts.own == OwnLimit(rounds=1)
    evening.play(1)
    assert evening.facts.own == OwnLimit(rounds=2)


def test_each_crew_sets_its_own(tmp_path):
    evening = TableEvening(tmp_path, "break_off", TABLE_CREW, 2)
    evening.play(HALF + 2)
    evening.desk.press("w")
    assert (evening.facts.crew, evening.facts.own) == ("B", OwnLimit())


@pytest.mark.parametrize("own", [{"turned_ns": -1}, {"turned_ns": 1 << 60}, {"rounds": 6}, "own", [1]])
def test_a_header_with_a_limit_that_nobody_set_is_none_of_a_round(own, tmp_path):
    evening = TableEvening(tmp_path, "break_off", TABLE_CREW, 2)
    evening.play(1)
    header = read(evening.folders[0]).header
    assert facts_of(header) is not None
    facts = {**header.options["drill"], "own": own}
    assert facts_of(replace(header, options={**header.options, "drill": facts})) is None


def test_a_drill_with_a_figure_for_all_has_no_limit_of_its_crews(tmp_path):
    evening = TableEvening(tmp_path, "three_in_a_row", TABLE_CREW, 2)
    assert evening.facts.own is None
    assert not [line for line in evening.desk.card if "limit" in line]
