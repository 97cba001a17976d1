"""Marks that waited on a phone while it was out of reach: they become marks of their own run, and it is judged anew."""

import pytest

from tests.support.runner.board_made import MadeBoard
from tests.support.runner.stage_stand import Desk, stage_for
from tests.support.stands.stand import wait_for
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.matches import Matches
from tocsin.features.records.round_files import Session
from tocsin.journal import records
from tocsin.journal.reader import read
from tocsin.model.clock.origins import Origin
from tocsin.runner.boards.wishes import Wishes
from tocsin.runner.options import RunOptions
from tocsin.service.messages import Board
from tocsin.units import NS_PER_S as S

WINDOW_S = 118                         # of the bundled drill: off limits from here to 140 s of the match


class Late:
    """A board at a drill, or at matches; the end of a round is reached as fast as the test goes."""

    def __init__(self, tmp_path, drill="break_off"):
        options = RunOptions(plans=("full",), rig="nothing", start="key", runs=tmp_path / "runs", board="here")
        if drill:
            found = load_drill(drill, "nothing")
            self.programme = Rounds(found, options, Session(name=drill, key="k", seed=7, places={"A": 4}))
        else:
            self.programme = Matches(load(None, options.plans, options.rig), options)
        self.desk = Desk(self.programme, stage_for(self.programme, options, tmp_path))
        self.woken = []
        wishes = Wishes(self.stage, self.programme, self.desk.actions, lambda: self.woken.append(1))
        self.board = MadeBoard(self.desk, 2, wishes)
        self.stage.boards.address = "http://10.0.0.5:8737/"
        if drill:
            self.desk.press(*"yyy")

    @property
    def stage(self):
        return self.desk.stage

    def here(self, here):
        """Let board 2, which may mark, be here or away."""
        self.stage.boards.known = (Board(number=2, right="mark", here=here),)
        self.desk.after(0.25)

    def play(self, *, marks=True):
        """Play a round or match to its end, with a home mark; return its run's number and where its clock began."""
        if isinstance(self.programme, Rounds):
            self.desk.press("f")
        assert self.board.wish("start").taken
        zero = self.stage.match.lifecycle.latest
        while self.desk.phase != "over":
            self.desk.after(0.25)
        if marks:
            self.board.mark("home", held_s=0.1)
        self.desk.end_match()
        return self.stage.wire_run, zero

    def go_on(self):
        """Have the next round called."""
        assert self.board.wish("start").taken
        self.desk.go_on()

    def late(self, zero: Origin, label, at_s, held_s, run=None, id=None):
        """Send a mark of so many seconds of the match, held for so long; return the answer, also one that took its
        time."""
        end_ns = zero.real_ns(round((at_s + held_s) * S))
        answer = self.board.mark(label, ago_s=(self.desk.now_ns - end_ns) / S, held_s=held_s, run=run, id=id)
        if answer is not None:
            return answer
        wait_for(lambda: self.woken)
        self.woken.clear()
        (answer,) = self.board.wishes.answers()
        return answer

    @property
    def verdict(self):
        return " ".join(self.desk.status.result)


@pytest.mark.parametrize("drill", ["break_off", ""], ids=["drill", "match"])
def test_a_late_mark_of_the_run_whose_result_stands_is_judged_at_once(tmp_path, drill):
    late = Late(tmp_path, drill)
    run, zero = late.play()
    late.desk.press("i")
    before = late.verdict
    answer = late.late(zero, "contact", WINDOW_S + 2, 1.5, run)
    assert answer.taken
    assert answer.text.startswith("round 5: noted late: contact" if drill else "noted late: contact")
    assert late.verdict != before
    journal = read(late.stage.last_folder)
    assert [(mark.label, mark.source) for mark in records.marks_of(journal.records)] == [
        ("home", "board 2"), ("contact", "board 2"),
    ]  # fmt: skip
    assert isinstance(journal.records[-2], records.End)
    assert (journal.flaws, journal.torn) == ((), b"")
    assert late.woken == []                            # nobody had to wait for another turn


def test_a_late_mark_of_an_earlier_round_is_written_while_the_next_one_is_on(tmp_path):
    late = Late(tmp_path)
    run, zero = late.play()
    folder = late.stage.last_folder
    late.go_on()
    late.desk.press("f")
    late.board.wish("start")
    late.desk.after(6)
    now = list(late.stage.match.record.kept)
    answer = late.late(zero, "contact", WINDOW_S + 2, 1.5, run, id="c" * 32)
    assert answer.taken
    assert answer.text.startswith("round 5: noted late: contact"), "not of round 6, which is on"
    assert late.stage.match.record.kept == now, "nothing of the round that is on"
    assert [mark.label for mark in records.marks_of(read(folder).records)] == ["home", "contact"]
    assert late.late(zero, "contact", WINDOW_S + 2, 1.5, run, id="c" * 32) == answer
    again = late.late(zero, "contact", WINDOW_S + 2, 1.5, run)       # with another id, by a page that was loaded anew
    assert again.taken
    assert len(records.marks_of(read(folder).records)) == 2
    late.desk.end_match()
    assert "0 of 1" in " ".join(late.programme.series()), "and the series counts it"


NOT_HEARD = "board 2, which marks, is not heard: this may change"


@pytest.mark.parametrize("drill", ["break_off", ""], ids=["drill", "match"])
@pytest.mark.parametrize("told_late", [False, True], ids=["at once", "the service notices it late"])
def test_while_a_board_that_marks_is_away_the_result_says_first_that_it_may_change(tmp_path, drill, told_late):
    late = Late(tmp_path, drill)
    late.here(True)
    late.here(told_late)
    late.play(marks=False)
    late.here(False)
    assert late.desk.status.result[0] == NOT_HEARD
    assert late.desk.status.picture is None, "no verdict stands large"
    assert late.board.can["watched"].does == "watched, nothing to mark (board 2 is not heard)"
    late.here(True)
    assert late.desk.status.result[0] == NOT_HEARD, "it is sending"
    late.desk.after(5)
    assert NOT_HEARD not in late.verdict
    assert late.desk.status.picture is not None
    assert late.board.can["watched"].does == "watched, nothing to mark"


@pytest.mark.parametrize(
    ("right", "came", "host"), [("watch", True, "10.0.0.5"), ("mark", False, "10.0.0.5"), ("mark", True, "127.0.0.1")],
    ids=["it only watches", "it was never here", "it is a window of this laptop"],
)  # fmt: skip
def test_no_other_board_that_is_away_is_missed(tmp_path, right, came, host):
    late = Late(tmp_path)
    late.stage.boards.address = f"http://{host}:8737/"
    late.stage.boards.known = (Board(number=2, right=right, here=came),)
    late.desk.after(1)
    late.stage.boards.known = (Board(number=2, right=right, here=False),)
    late.play(marks=False)
    late.desk.after(1)
    assert "not heard" not in late.verdict


@pytest.mark.parametrize(
    ("drill", "told"),
    [
        ("break_off", "round 5: changed by board 2: TOUCHED, was CLEAN"),
        ("", "changed by board 2: TOUCHED, was NOT JUDGED"),           # nobody noted whether the robot came home
    ],
    ids=["drill", "match"],
)  # fmt: skip
def test_a_result_that_late_marks_change_is_told_as_changed_and_watched_is_taken_back(tmp_path, drill, told):
    late = Late(tmp_path, drill)
    run, zero = late.play(marks=False)
    late.desk.press("y")
    assert late.late(zero, "contact", WINDOW_S + 2, 1.5, run).taken
    late.desk.after(0.25)
    assert late.desk.notice == told
    assert "watched, nothing to mark" not in (*late.desk.status.earlier, late.desk.status.notice)
    notes = [(one.what, one.source) for one in read(late.stage.last_folder).records if isinstance(one, records.Note)]
    assert notes[-2:] == [("watched", ""), ("watched taken back", "board 2")]
    assert late.board.wish("undo").taken
    assert "watched" in late.board.can, "nobody says any more that it was"


def test_an_earlier_round_that_late_marks_change_is_named(tmp_path):
    late = Late(tmp_path)
    run, zero = late.play(marks=False)
    late.desk.press("y")
    late.go_on()
    late.late(zero, "contact", WINDOW_S + 2, 1.5, run)
    late.desk.after(0.25)
    assert late.desk.notice == "round 5: changed by board 2: TOUCHED, was CLEAN"


def test_home_tapped_on_late_says_half_home(tmp_path):
    late = Late(tmp_path)
    run, zero = late.play()
    late.late(zero, "home", 130.0, 0.1, run)
    late.late(zero, "home", 130.8, 0.1, run)
    marks = records.marks_of(read(late.stage.last_folder).records)
    assert [(mark.label, mark.takes_back) for mark in marks[1:]] == [
        ("home", None), ("home", 1), ("home_half", None),
    ]  # fmt: skip


def test_a_mark_of_a_run_that_nobody_knows_is_refused(tmp_path):
    late = Late(tmp_path)
    run, zero = late.play()
    answer = late.late(zero, "contact", WINDOW_S, 1.5, run - 7)
    assert not answer.taken
    assert "tocsin mark" in answer.text


def test_a_journal_that_cannot_be_written_is_said_and_nothing_else_happens(tmp_path):
    late = Late(tmp_path)
    run, zero = late.play()
    (late.stage.last_folder / "journal.jsonl").unlink()
    answer = late.late(zero, "contact", WINDOW_S, 1.5, run)
    assert not answer.taken
    assert late.verdict


def test_at_a_result_a_board_says_that_it_was_watched_and_takes_its_own_mark_back(tmp_path):
    late = Late(tmp_path)
    late.play()
    assert "undo" in late.board.can
    assert not late.board.other(3).wish("undo").taken
    assert late.board.wish("undo").taken
    assert "watched" in late.board.can
    assert late.board.wish("watched").taken
    assert "watched" not in late.board.can
    late.stage.match.record.close()


def test_at_a_result_nothing_is_undone_by_who_presses_at_the_same_time(tmp_path):
    late = Late(tmp_path)
    late.play()
    other = late.board.other(3)
    assert late.board.wish("details").taken
    assert not other.wish("details").taken
    assert late.board.wish("picture").taken
    assert late.board.wish("drop").taken
    assert not other.wish("drop").taken
    assert [offer.does for name, offer in late.board.can.items() if name.startswith("plan.")] == [
        "wrong set-up", "robot or field failed", "start or marks wrong",
    ]  # fmt: skip
    assert late.board.wish("keep").taken
    assert not other.wish("keep").taken
    assert late.board.wish("drop").taken
    assert late.board.wish("plan.1").taken
    assert not other.wish("plan.1").taken
    notes = [(one.text, one.source) for one in read(late.stage.last_folder).records if isinstance(one, records.Note)]
    assert ("robot or field failed", "board 2") in notes


def test_a_round_starts_only_after_the_word_at_the_laptop_that_the_field_is_clear(tmp_path):
    late = Late(tmp_path)
    assert "start" not in late.board.can
    answer = late.board.wish("start")
    assert not answer.taken
    assert answer.text == "say first that the field is clear"
    assert not late.board.wish("clear").taken
    late.desk.press("f")
    assert "start" in late.board.can
    assert late.board.wish("start").taken
    late.stage.match.record.close()


@pytest.mark.parametrize(("drill", "leaves"), [("break_off", True), ("", False)], ids=["drill", "match"])
def test_without_a_key_at_the_laptop_boards_start_a_match_but_no_round(tmp_path, drill, leaves):
    late = Late(tmp_path, drill)
    late.stage.front.interactive = False
    late.stage.boards.wanted = late.stage.boards.on = True
    late.desk.after(1)
    assert (late.stage.ending is not None) is leaves
    assert late.desk.phase == "standby"
