"""A round that one scribe marked by keys and another at a board: one result, on the screen and in what is listed."""

import json

import pytest

from tests.support.runner.board_made import MadeBoard
from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.cli.main import main
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.after_the_end import write_late
from tocsin.features.records.round_files import Session
from tocsin.journal.reader import read
from tocsin.journal.records import marks_of
from tocsin.model.counted import counted
from tocsin.model.mark import Mark
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Refused
from tocsin.units import NS_PER_S as S

WINDOW_S = 118                         # off limits from here to 140 s of the match
PUSH = ("contact", "7", WINDOW_S + 2, WINDOW_S + 3.5)
HOME = ("home", "9", WINDOW_S + 8, WINDOW_S + 8.1)


class Table:
    """A round of the bundled drill, a scribe at the laptop's keys, and one at a board."""

    def __init__(self, tmp_path):
        options = RunOptions(rig="nothing", start="key", board="here", runs=tmp_path / "runs")
        rounds = Rounds(load_drill("break_off", "nothing"), options, Session(name="break_off", key="k", seed=7))
        self.desk = Desk(rounds, stage_for(rounds, options, tmp_path))
        self.desk.press(*"yyy", "f", "s")
        self.runs = ["--runs", str(tmp_path / "runs")]

    def until(self, at_s):
        """Go on to a time of the match; return it on the shared clock."""
        at_ns = self.desk.stage.match.lifecycle.latest.origin_ns + round(at_s * S)
        while self.desk.now_ns < at_ns:
            self.desk.after(0.25)
        return at_ns

    def play(self, *, keys=(), board=(), source="board 1"):
        """Let things be marked, each as label, key, begin and end, and end the round."""
        deeds = [(begin_s, "key", key, True) for _, key, begin_s, _ in keys]
        deeds += [(end_s, "key", key, False) for _, key, _, end_s in keys]
        deeds += [(end_s, "board", label, begin_s) for label, _, begin_s, end_s in board]
        for at_s, by, what, more in sorted(deeds, key=lambda deed: deed[:2]):
            at_ns = self.until(at_s)
            if by == "key":
                self.desk.actions.key(what, at_ns, self.desk.now_ns, down=more)
            else:
                begin_ns = at_ns - round((at_s - more) * S)
                assert isinstance(self.desk.actions.mark(what, begin_ns, at_ns, self.desk.now_ns, source), Done)
        self.desk.end_match()
        return self

    @property
    def folder(self):
        return self.desk.stage.last_folder

    def said(self, capsys, command, *more):
        """Return what a command prints of the round."""
        capsys.readouterr()
        assert main([command, *self.runs, *more]) == 0
        return capsys.readouterr().out


@pytest.fixture
def table(tmp_path):
    return Table(tmp_path)


def later(deed, by_s):
    label, key, begin_s, end_s = deed
    return label, key, begin_s + by_s, end_s + by_s


def test_the_result_is_one_scribes(tmp_path):
    alone = Table(tmp_path / "one").play(keys=[PUSH, HOME])
    both = Table(tmp_path / "two").play(keys=[PUSH, HOME], board=[later(PUSH, 0.4), later(HOME, 0.6)])
    told = " ".join(alone.desk.result)
    assert "Not clean: a push of 1.5 s in No-touch time." in told
    assert "Cost 9, " in told
    assert " ".join(both.desk.result) == told.replace("1.5 s in", "1.9 s in"), "to the later end"


def test_who_marked_what_stands_in_the_records_and_in_the_list(table, capsys):
    table.play(keys=[PUSH, HOME], board=[later(PUSH, 0.4), ("contact_by_partner", "", WINDOW_S + 5, WINDOW_S + 6)])
    assert [(mark.label, mark.by, mark.source) for mark in read(table.folder).marks] == [
        ("contact", "", "key 7"), ("contact", "", "board 1"), ("contact", "partner", "board 1"), ("home", "", "key 9"),
    ]  # fmt: skip
    listed = [line.split("  ")[-1] for line in table.said(capsys, "mark").splitlines() if "the end  " in line]
    assert listed == [
        "(by key 7, counts once with 2)", "(by board 1, counts once with 1)", "(by board 1)", "(by key 9)",
    ]  # fmt: skip
    (row,) = json.loads(table.said(capsys, "runs", "--json"))
    assert (row["marks"], row["marks_noted"], row["contacts"]) == (3, 4, 1)


def test_where_they_differ_it_is_said(table, capsys):
    taps = [("home", "", WINDOW_S + at_s, WINDOW_S + at_s) for at_s in (8.2, 8.6)]
    table.play(keys=[PUSH, HOME], board=taps)
    said = "Scribes differ: half home by board 1, home by the keys. Counted: half home."
    assert said in " ".join(table.desk.result)
    told = table.said(capsys, "mark")
    assert said in told
    assert "home  (by key 9, not counted: 5 says less of the same moment)" in told
    assert "home_half  (by board 1, counts once with 2)" in told
    assert said in table.said(capsys, "runs", "--show", table.folder.name)


def test_a_mark_that_its_scribe_takes_back_leaves_the_others(table, capsys):
    table.play(keys=[PUSH], board=[later(PUSH, 0.4)])
    table.said(capsys, "mark", "--take-back", "2")
    (listed,) = [line for line in table.said(capsys, "mark").splitlines() if line.strip().startswith("1 ")]
    assert listed.endswith("(by key 7)")
    assert "(by board 1, undone)" in table.said(capsys, "mark")
    assert "Cost 9" in table.said(capsys, "mark")


def test_at_the_result_too_each_takes_back_their_own(table):
    desk = table.play(board=[PUSH]).desk
    assert desk.press("a") == "you have no mark to take back; each takes back their own"
    undone = desk.actions.wish("undo", desk.now_ns, desk.now_ns, "board 1")
    assert isinstance(undone, Done)
    assert undone.told.startswith("undone: contact ")
    assert read(table.folder).marks == ()
    assert isinstance(desk.actions.wish("undo", desk.now_ns, desk.now_ns, "board 1"), Refused)


def test_what_a_board_brings_late_counts_as_if_it_had_come_in_time(table):
    """The phone was out of reach: its marks come at the result, home tapped twice."""
    desk = table.play(keys=[PUSH, HOME]).desk
    board, zero_ns = MadeBoard(desk), desk.stage.match.lifecycle.latest.origin_ns
    for label, begin_s, end_s in [("contact", 2.4, 3.9), ("home", 8, 8.1), ("home", 8.6, 8.7)]:
        ago_s = (desk.now_ns - zero_ns) / S - (WINDOW_S + end_s)
        assert board.mark(label, ago_s=ago_s, held_s=end_s - begin_s).taken, label
    journal = read(table.folder)
    assert [(mark.label, mark.source) for mark in journal.marks] == [
        ("contact", "key 7"), ("home", "key 9"), ("contact", "board 1"), ("home_half", "board 1"),
    ]  # fmt: skip
    assert [(one.mark.label, one.places) for one in counted(marks_of(journal.records))] == [
        ("contact", (0, 2)), ("home_half", (1, 5)),
    ]  # fmt: skip
    assert "half home by board 1" in " ".join(desk.programme.result())


def test_another_robot_at_home_is_no_second_tap_when_it_comes_late_either(table):
    table.play(keys=[PUSH])
    zero_ns = table.desk.stage.match.lifecycle.latest.origin_ns
    for by, at_s in (("", 8), ("partner", 8.4), ("", 8.8)):
        begin_ns = zero_ns + round((WINDOW_S + at_s) * S)
        write_late(table.folder, Mark(label="home", by=by, begin_ns=begin_ns, source="board 1"))
    homes = [(mark.label, mark.by) for mark in read(table.folder).marks if mark.label != "contact"]
    assert homes == [("home", "partner"), ("home_half", "")]
