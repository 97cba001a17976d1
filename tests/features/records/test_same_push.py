"""A push that was marked by key, then again by video: one push on the screen, in `tocsin mark` and in `tocsin runs`."""

import pytest

from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.cli.main import main
from tocsin.config.drills import load_drill
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.journal.reader import read
from tocsin.runner.options import RunOptions
from tocsin.units import NS_PER_S as S

WINDOW_S = 118                         # off limits from here to 140 s of the match


def at_key(desk, key, begin_s, end_s):
    """Hold a key down between two seconds of the match."""
    zero_ns = desk.stage.match.lifecycle.latest.origin_ns
    for at_s, down in ((begin_s, True), (end_s, False)):
        while desk.now_ns < zero_ns + round(at_s * S):
            desk.after(0.25)
        desk.actions.key(key, zero_ns + round(at_s * S), desk.now_ns, down=down)


@pytest.fixture
def desk(tmp_path):
    """Return a round of the bundled drill that has ended: pushed on to 1.5 s into the window, and home."""
    options = RunOptions(rig="nothing", start="key", runs=tmp_path / "runs")
    rounds = Rounds(load_drill("break_off", "nothing"), options, Session(name="break_off", key="k", seed=7))
    desk = Desk(rounds, stage_for(rounds, options, tmp_path))
    desk.press(*"yyy", "f", "s")
    at_key(desk, "7", WINDOW_S + 2, WINDOW_S + 3.5)
    desk.end_match()
    return desk


def costs(text):
    return [line.strip().split(",")[0] for line in text.splitlines() if line.strip().startswith("Cost ")]


def test_a_push_counts_once_wherever_its_result_is_told(desk, tmp_path, capsys):
    live = [part for row in desk.result for part in row.split(". ") if part.startswith("Cost ")]
    assert live[0].startswith("Cost 9, ")
    video = tmp_path / "video.csv"
    video.write_text("time,label,until\n1:20.6,contact,1:22.1\n", "utf-8")       # driver begins at 39 s
    folder = desk.stage.last_folder
    where = [folder.name, "--runs", str(folder.parent)]
    assert main(["mark", *where, "--video", str(video), "--seen", "0:00=driver.begin"]) == 0
    marked = capsys.readouterr()
    assert "note: 1 contact mark noted before no longer counted: these (video) are counted instead" in marked.err
    assert "(by key 7, not counted: there is a better source)" in marked.out
    assert costs(marked.out) == ["Cost 9"]
    assert main(["runs", "--runs", str(folder.parent), "--show", folder.name]) == 0
    assert costs(capsys.readouterr().out) == ["Cost 9"]
    assert [mark.source for mark in read(folder).marks] == ["key 7", "video"], "the pair stays recorded"


def test_what_lies_behind_the_end_is_taken_and_said(desk, capsys):
    folder = desk.stage.last_folder
    mark = ["mark", folder.name, "--runs", str(folder.parent), "--label", "contact", "--at"]
    assert main([*mark, "settle.end-0.1s"]) == 0
    assert "behind everything" not in capsys.readouterr().err
    assert main([*mark, "settle.end"]) == 0
    said = capsys.readouterr()
    assert "note: contact is 4.0 s after the end, after all that is played: it is in no window" in said.err
    assert "4.0 s after the end  contact" in said.out
    assert main([*mark, "settle.end+60s"]) == 2
    assert "a moment up to settle.end, where everything ends" in capsys.readouterr().err


def test_of_a_round_that_nobody_marked_nothing_is_said(desk, capsys):
    runs = ["--runs", str(desk.stage.last_folder.parent)]
    assert main(["mark", *runs, "--take-back", "1"]) == 0
    assert "Not judged: nobody marked this." in capsys.readouterr().out
    assert main(["mark", *runs, "--watched"]) == 0
    assert "  Clean." in capsys.readouterr().out.splitlines(), "a first round asks for no turn yet"
    assert main(["mark", *runs, "--watched", "--take-back", "1"]) == 2
