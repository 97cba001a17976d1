"""The result of a match as it stands at its end: the picture and lines of a drill's round, without what it has no use
for."""

from pathlib import Path

import pytest

from tests.support.people.match_team import match_desk, play
from tests.support.people.reckoned_round import apart, told
from tests.support.runner.stage_stand import Desk
from tocsin.features.records.matches import STANDS_NS
from tocsin.features.records.rows import RowMaker
from tocsin.journal import records
from tocsin.journal.reader import read
from tocsin.model.display.status import Status
from tocsin.runner.ending import Ending
from tocsin.runner.status import status_of
from tocsin.units import NS_PER_S as S

OVER = Ending(outcome="over")


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return match_desk(tmp_path)


def shown(desk: Desk) -> Status:
    return status_of(desk.stage, desk.programme, desk.result, desk.now_ns)


def does(desk: Desk) -> list[str]:
    return [key.does for key in shown(desk).keys]


def test_a_match_ends_with_the_picture_of_a_round_and_is_a_series_of_one(desk: Desk) -> None:
    played = play(desk, "breaks off", 8)
    status = shown(desk)
    assert status.picture is not None
    assert (status.picture.shape, status.picture.word, status.picture.title) == ("filled", "in time", "Full")
    assert status.picture.number.endswith("to spare")
    assert (len(status.picture.series), status.picture.tally) == (1, "")
    assert {one.what for one in status.picture.instants} == {"call", "turn", "home", "end"}
    assert does(desk)[:3] == ["next", "details", "undo mark"]
    told_there = RowMaker().report(read(played.folder))
    assert told_there is not None
    assert told_there.rows == status.result


def test_a_push_into_the_window_is_told_with_what_it_cost(desk: Desk) -> None:
    play(desk, "does not hear", 2)
    status = shown(desk)
    assert status.picture is not None
    assert (status.picture.word, status.picture.shape) == ("too late", "cross")
    assert desk.result[0].startswith("Not clean: you pushed ")
    assert any("Cost 9" in row for row in desk.result)


def test_details_are_sentences_and_how_the_devices_did(desk: Desk) -> None:
    play(desk, "breaks off", 8)
    desk.stage.summed_up = ("Match over. 52 of 52 on time.",)
    desk.programme.ended(desk.stage, OVER, desk.now_ns)
    desk.press("i")
    status = shown(desk)
    assert status.picture is None
    assert status.result[0] == "Clean."
    assert any(row.startswith("Tenor bell ") for row in status.result)
    assert status.result[-1] == "Match over. 52 of 52 on time."
    assert "picture" in does(desk)
    desk.press("i")
    assert shown(desk).picture is not None


def test_a_mark_that_is_taken_back_at_the_result_judges_the_match_anew(desk: Desk) -> None:
    played = play(desk, "breaks off", 8)
    assert desk.press("a").startswith("undone: home")
    status = shown(desk)
    assert status.result[0] == "Not judged: nobody noted whether the robot came home."
    assert status.picture is not None
    assert status.picture.shape == "question"
    assert status.video.startswith("By video: tocsin mark ")
    without = played._replace(presses=played.presses[:-1])
    report = RowMaker().report(read(played.folder))
    assert report is not None
    assert apart(told(report.result), [without.reckoned], S // 50) == []


def test_a_match_that_nobody_marked_says_only_that_and_takes_a_word_for_it(desk: Desk) -> None:
    play(desk, "never comes near", 1, hands=False)
    status = shown(desk)
    assert desk.result == ("Not judged: nobody marked this.",)
    assert status.picture is not None
    assert (status.picture.shape, status.picture.series) == ("question", ()), "no dot at 'no push': nobody knows"
    assert "watched, nothing to mark" in does(desk)
    assert desk.press("y") == "watched, nothing to mark: recorded"
    status = shown(desk)
    assert status.result[0] == "Not judged: nobody noted whether the robot came home."
    assert "undo mark" in does(desk)


def test_a_result_stands_a_minute_after_the_last_key_and_goes_with_the_next_match(desk: Desk) -> None:
    play(desk, "breaks off", 8)
    ended_ns = desk.now_ns
    assert desk.programme.stands_until_ns(ended_ns) == ended_ns + STANDS_NS
    desk.after(30).press("i")
    assert desk.programme.stands_until_ns(ended_ns) == ended_ns + 30 * S + STANDS_NS
    desk.press("s")
    desk.go_on()
    play(desk, "does not hear", 2)
    assert shown(desk).result[0].startswith("Not clean")


def test_a_cancelled_match_has_no_result(desk: Desk) -> None:
    desk.press("s")
    desk.after(20)
    desk.press("x", "x")
    assert desk.end_match() == ()
    assert shown(desk).picture is None
    assert desk.programme.series() == ()


def test_the_end_of_the_program_prints_the_sentences(desk: Desk) -> None:
    play(desk, "breaks off", 8)
    assert desk.programme.series()[0] == "Clean."


def test_a_call_that_failed_is_told_in_place_of_the_picture(desk: Desk) -> None:
    play(desk, "breaks off", 8)
    record = desk.stage.match.record
    record.kept.append(
        records.FiringRecord(
            at_ns=desk.now_ns, cue="home", n=0, channel="sound", anchor="match", due_ns=0, outcome="failed", why="gone"
        )
    )  # fmt: skip
    desk.programme.ended(desk.stage, OVER, desk.now_ns)
    status = shown(desk)
    assert status.picture is None
    assert "The sound failed to give a call: check it." in status.result


def test_while_a_match_rings_out_nobody_passes_over_its_result(desk: Desk) -> None:
    desk.press("s")
    while desk.phase != "over":
        desk.after(0.25)
    assert desk.ask == "The result comes"
    assert desk.press("s") == "match just over: its result comes at once"
    assert not desk.stage.wants_next
    desk.end_match()
    assert desk.ask == ""                              # what to press for the next one stands there by itself
    desk.press("s")
    assert desk.stage.wants_next
