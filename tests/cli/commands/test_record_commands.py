"""``tocsin log``, ``mark`` and ``runs``: matches that were watched, marks that come later, names that go."""

import csv
import io
import json
import runpy
import time
import unicodedata
from pathlib import Path
from typing import Literal

import msgspec
import pytest

from tests.support.journal.recorded_runs import record_push
from tocsin.cli.main import main
from tocsin.features.records.round_files import RoundFacts, append_note
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.reader import read
from tocsin.journal.writer import JournalWriter
from tocsin.runner.options import ROUND
from tocsin.runner.run import alone
from tocsin.speech.cache import Spoken, WordCache, words_folder

Form = Literal["NFC", "NFD"]
Output = pytest.CaptureFixture[str]
S = 10**9
# The driver period begins 12.4 s into the video and ends at 1:49.4; contact counts from 1:31.4 on.
CSV = """time,label,until,by
1:29.0,contact,1:33.4,us
1:28.0,turned,,
1:42.4,home,,
1:45.0,contact,,partner
"""
ROBOT = """[robot] hello
TOCSIN1 period=driver ms=2003 cue=alive n=0 role=driver outcome=played
TOCSIN1 period=driver ms=2003 cue=alive n=0 role=operator outcome=played
noise TOCSIN1 period=driver ms=75020 cue=home n=0 role=driver outcome=played
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own, with runs in it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))      # not the lock and voices of whoever tests
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "marks.csv").write_text(CSV, encoding="utf-8")
    (tmp_path / "robot.log").write_text(ROBOT, encoding="utf-8")
    return tmp_path


def tocsin(*arguments: str) -> int:
    return main([arguments[0], "--runs", "runs", *arguments[1:]])


def logged(*more: str) -> records.Header:
    assert tocsin("log", "--video", "marks.csv", "--seen", "0:12.4=driver.begin", *more) == 0
    return journal().header


def journal():
    (folder,) = Path("runs").glob("2*")
    return read(folder)


def listed(capsys: Output, *more: str) -> list[dict]:
    assert tocsin("runs", "--json", *more) == 0
    return json.loads(capsys.readouterr().out)


def origin_ns(found) -> int:
    return next(r.origin_ns for r in found.records if isinstance(r, records.OriginRecord))


def test_a_video_makes_a_run_whose_marks_lie_where_they_were_seen(capsys: Output) -> None:
    header = logged("--label", "match 14")
    assert header.label == "match 14"
    assert header.options["source"] == "observed"
    found = journal()
    # 39 s of the match lie before the driver period: 28 s and 11 s of the bundled game.
    zero_ns = origin_ns(found) + 39 * S - round(12.4 * S)
    push, turned, home, partner = found.marks
    assert (push.begin_ns - zero_ns, push.end_ns - zero_ns) == (89 * S, round(93.4 * S))
    assert (turned.label, home.label, partner.by) == ("turned", "home", "partner")
    assert {mark.source for mark in found.marks} == {"observed"}
    assert found.end.outcome == "over"
    capsys.readouterr()
    assert tocsin("mark") == 0
    out = capsys.readouterr().out
    assert "20.4 s before the end  contact by us for 4.4 s" in out
    assert " 7.0 s before the end  home" in out


def test_a_moment_may_be_what_the_display_shows_in_the_last_period_or_in_one_that_is_named(capsys: Output) -> None:
    """A video that shows 0:24 of the driver period, which ends 12.4 s and 1:37 into it, and marks by the
    display: what stands in two periods is said to be taken in the last."""
    assert tocsin("log", "--video", "marks.csv", "--seen", "1:25.4=0:24", "--seen", "12.4=driver@1:37") == 0
    note = "note: 0:24 counts in Hands on, the last period; for another one: auto@0:24"
    assert capsys.readouterr().err.splitlines() == [note]
    assert tocsin("mark", "--label", "contact", "--at", "0:24", "--until", "0:20") == 0
    captured = capsys.readouterr()
    assert captured.err.splitlines()[:2] == [note, note.replace(":24", ":20")]
    assert "24.0 s before the end  contact for 4.0 s" in captured.out
    assert tocsin("mark", "--label", "moved", "--at", "auto@0:24") == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    assert "132.0 s before the end  moved" in captured.out         # 136 s less the four that auto has been on
    assert tocsin("mark", "--label", "moved", "--at", "2:24") == 2
    assert "driver 1:37 to 0:00" in capsys.readouterr().err
    assert tocsin("mark", "--label", "moved", "--at", "pause@0:24") == 2
    assert "did you mean auto@0:24 or driver@0:24?" in capsys.readouterr().err


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="a zone is chosen by TZ")
def test_a_run_says_how_far_its_place_is_ahead_of_utc(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "XXX-5:30")
    try:
        assert logged().utc_offset_s == 19_800
        record_push(Path("played"), 1, 3, drill=False)
        assert read(next(Path("played").iterdir())).header.utc_offset_s == 19_800
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_second_moment_that_disagrees_is_refused_and_nothing_is_written(folder: Path, capsys: Output) -> None:
    assert tocsin("log", "--video", "marks.csv", "--seen", "12.4=driver.begin", "--seen", "117=driver.end") == 2
    assert "disagree by 7.6 s" in capsys.readouterr().err
    assert not list(Path("runs").glob("2*"))


def test_a_robots_log_makes_a_run_and_tells_how_late_it_was(capsys: Output) -> None:
    assert tocsin("log", "--robot", "robot.log") == 0
    firings = [record for record in journal().records if isinstance(record, records.FiringRecord)]
    assert [(f.cue, f.role, f.late_ns // 10**6) for f in firings] == [
        ("alive", "driver", 3), ("alive", "operator", 3), ("home", "driver", 20),
    ]  # fmt: skip


def test_what_exported_robot_code_logs_is_read_back(folder: Path) -> None:
    """The robot's loop, every 20 ms from 3 ms on, with a press that gives HOME by hand ten seconds early."""
    assert main(["export", "--to", "python", "-o", "robot_cues.py"]) == 0
    module = runpy.run_path(str(folder / "robot_cues.py"))
    cues, lines = module["TocsinPlan"](), []
    for ms in range(3, 98_000, 20):
        cues.poll(module["PERIOD_DRIVER"], ms)
        if ms == 65_003:
            cues.call(module["CUE_HOME"], ms)
        lines += [cues.log_line(place) for place in range(cues.count)]
    (folder / "robot.log").write_text("\n".join(lines), encoding="utf-8")
    assert tocsin("log", "--robot", "robot.log") == 0
    firings = [record for record in journal().records if isinstance(record, records.FiringRecord)]
    assert [(f.cue, f.role, f.anchor) for f in firings] == [
        ("alive", "driver", "match"), ("alive", "operator", "match"),
        ("last_load", "operator", "match"), ("last_load", "coach", "match"),
        ("home", "driver", "call.home"), ("home", "operator", "call.home"),
        ("coach_call", "coach", "match"), ("no_touch", "driver", "match"), ("no_touch", "operator", "match"),
        ("choose", "operator", "match"), ("choose", "coach", "match"),
        ("over", "driver", "match"), ("over", "operator", "match"), ("over", "coach", "match"),
    ]  # fmt: skip
    assert all(f.late_ns is not None and f.late_ns < 20 * 10**6 for f in firings), "at most one poll late"


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["log"], 2, "--video CSV"),
        (["log", "--video", "marks.csv"], 2, "--seen TIME=MOMENT"),
        (["log", "--video", "no.csv", "--seen", "1=driver.begin"], 2, "no.csv cannot be read"),
        (["log", "--video", "marks.csv", "--seen", "1=drive.begin"], 2, "driver.begin"),
        (["log", "--video", "marks.csv", "--seen", "soon=driver.begin"], 2, "0:12.4=driver.begin"),
        (["log", "--robot", "marks.csv"], 2, "TOCSIN1"),
        (["log", "--robot", "robot.log", "--plan", "words"], 20, "line 4"),
        (["mark"], 2, "there is no run in"),
        (["runs", "--since", "yesterday"], 2, "2026-03-14"),
        (["runs", "--who", "Ann"], 2, "nobody is called 'Ann'"),
        (["runs", "--show", "2026"], 2, "there is no run"),
    ],
)
def test_what_does_not_fit_is_said_with_a_fix(
    arguments: list[str], code: int, said: str, capsys: Output
) -> None:
    assert tocsin(*arguments) == code
    captured = capsys.readouterr()
    assert said in captured.err
    assert "Traceback" not in captured.err


def test_a_table_with_mistakes_tells_them_all(folder: Path, capsys: Output) -> None:
    (folder / "bad.csv").write_text("time,label\nsoon,contact\n5,Contact!\n", encoding="utf-8")
    assert tocsin("log", "--video", "bad.csv", "--seen", "1=driver.begin") == 20
    err = capsys.readouterr().err
    assert "bad.csv, line 2" in err
    assert "bad.csv, line 3" in err


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--at", "driver.end-5s"], "--at needs --label\n  write what it was, e.g. --label contact"),
        (["--at", ""], "--at needs --label"),
        (["--until", "driver.end-5s"], "--until needs --label"),
        (["--by", "opponent"], "--by needs --label"),
        (["--seen", "x"], "--seen needs --video\n  name the table of marks, e.g. --video marks.csv"),
        (["--take-back", "1", "--at", "driver.end-5s"], "--at needs --label"),
        (["--label", "contact", "--at", "driver.end-5s", "--seen", "1=driver.begin"], "--seen needs --video"),
        (["--label", "contact"], "--label needs --at"),
    ],
)
def test_half_a_mark_is_refused_and_what_is_missing_is_said(options: list[str], says: str, capsys: Output) -> None:
    logged()
    before = journal().marks
    capsys.readouterr()
    assert tocsin("mark", *options) == 2
    captured = capsys.readouterr()
    assert (captured.out, captured.err.startswith(f"tocsin: {says}")) == ("", True)
    assert journal().marks == before


def test_marks_are_added_and_taken_back_and_nothing_is_overwritten(capsys: Output) -> None:
    logged()
    before = journal().path.read_bytes()
    assert tocsin("mark", "--label", "contact", "--at", "driver.end-18s", "--until", "driver.end-17s") == 0
    assert tocsin("mark", "--take-back", "1") == 0
    found = journal()
    assert found.path.read_bytes().startswith(before)
    assert [mark.label for mark in found.marks] == ["turned", "home", "contact", "contact"]
    assert (found.marks[-1].end_ns - found.marks[-1].begin_ns, found.marks[-1].source) == (S, "later")
    assert tocsin("mark", "--take-back", "1") == 2, "it is taken back already"
    assert tocsin("mark", "--label", "home", "--at", "driver.end-500s") == 2
    assert tocsin("mark", "--label", "home", "--at", "driver.end", "--until", "driver.begin") == 2
    assert len(journal().marks) == 4


@pytest.mark.parametrize(
    ("label", "likely"), [("kontakt", "contact"), ("homehalf", "home_half"), ("contact", ""), ("wrong", "")]
)
def test_a_label_that_looks_like_one_that_counts_is_taken_with_a_note(label: str, likely: str, capsys: Output) -> None:
    logged()
    assert tocsin("mark", "--label", label, "--at", "driver.end-5s") == 0
    err = capsys.readouterr().err
    assert journal().marks[-1].label == label
    assert (f"'{label}' is used as a label of your own" in err) == bool(likely)
    assert f"did you mean {likely}?" in err or not likely
    tocsin("mark", "--label", label, "--at", "driver.end-4s")            # the second time it is theirs
    assert capsys.readouterr().err == ""


def test_a_score_is_noted_shown_replaced_and_taken_back(capsys: Output) -> None:
    logged("--label", "match 14")
    kept = journal().path.read_bytes()
    name = journal().path.parent.name
    for said, us, them in (("88:75", 88, 75), ("85 : 110", 85, 110), ("0:0", 0, 0), ("none", None, None)):
        capsys.readouterr()
        assert tocsin("mark", name, "--score", said) == 0
        shown = "" if us is None else f"{us}:{them}"
        assert (f"score {shown}" in capsys.readouterr().out) == bool(shown)
        (row,) = listed(capsys)
        assert (row["score_us"], row["score_them"]) == (us, them)
        assert tocsin("runs", "--csv") == 0
        (line,) = csv.DictReader(io.StringIO(capsys.readouterr().out))
        assert (line["score_us"], line["score_them"]) == tuple("" if one is None else str(one) for one in (us, them))
        for command in (["runs"], ["runs", "--show", name]):
            assert tocsin(*command) == 0
            out = capsys.readouterr().out
            assert ("score" in out, shown in out) == (bool(shown), True)
    assert journal().path.read_bytes().startswith(kept), "nothing is overwritten"


@pytest.mark.parametrize("said", ["", "88", "88-75", "88:", "-1:5", "88:75:1", "88000:1", "8e1:5", "٨:٧"])
def test_what_is_no_score_is_refused_and_nothing_is_written(said: str, capsys: Output) -> None:
    logged()
    kept = journal().path.read_bytes()
    assert tocsin("mark", f"--score={said}") == 2
    assert "88:75" in capsys.readouterr().err
    assert journal().path.read_bytes() == kept


def test_a_round_of_a_drill_has_no_score(capsys: Output) -> None:
    drilled(1, "A", {})
    assert tocsin("mark", "--score", "88:75") == 2
    assert "not a match" in capsys.readouterr().err


@pytest.mark.parametrize(
    "values", [{}, {"us": 1}, {"us": 1.5, "them": 2}, {"us": 1e300, "them": 2}, {"us": -1, "them": 2}]
)
def test_a_score_of_a_journal_that_cannot_be_one_is_none(values: dict, capsys: Output) -> None:
    logged()
    append_note(journal().path.parent, records.Note(at_ns=1, what="score", values=values))
    capsys.readouterr()
    assert [(row["score_us"], row["score_them"]) for row in listed(capsys)] == [(None, None)]


def test_runs_lists_filters_and_shows(capsys: Output) -> None:
    logged("--label", "late pushes")
    capsys.readouterr()
    assert tocsin("runs", "--json") == 0
    (row,) = json.loads(capsys.readouterr().out)
    assert (row["label"], row["plan"], row["source"], row["marks"]) == ("late pushes", "Full", "observed", 4)
    day = row["wall"][:10]
    for arguments, count in (
        (["--label", "PUSH"], 1), (["--label", "other"], 0), (["--since", day], 1), (["--until", "2020-01-01"], 0),
        (["--drill", "turn"], 0),
    ):  # fmt: skip
        assert tocsin("runs", "--json", *arguments) == 0
        assert len(json.loads(capsys.readouterr().out)) == count, arguments
    assert tocsin("runs", "--show", Path(row["folder"]).name[:20]) == 0
    assert "contact" in capsys.readouterr().out


def drilled(number: int, crew: str, people: dict[str, str], **more: object) -> None:
    """Write a round of a drill as an earlier version did, with the drill's people in each; ``more`` are options."""
    facts = RoundFacts(name="Turn", key="k", seed=1, round=number, crew=crew, battery=number, half_speed=False)
    header = records.Header(
        at_ns=S, wall=f"2031-03-01T10:{number:02}:00.000Z", boot="b",
        options={"people": people, ROUND: msgspec.to_builtins(facts), **more},
    )  # fmt: skip
    assert JournalWriter.create(Path("runs"), header).close() == ""


def test_what_was_played_at_an_event_is_told_from_practice(capsys: Output) -> None:
    logged("--label", "match 14", "--at", "event")
    matched = journal().path.parent.name
    assert tocsin("log", "--robot", "robot.log", "--label", "on the bench") == 0
    capsys.readouterr()
    rows = {row["label"]: row["at"] for row in listed(capsys)}
    assert rows == {"match 14": "event", "on the bench": "practice"}
    assert [row["label"] for row in listed(capsys, "--at", "event")] == ["match 14"]
    assert tocsin("runs", "--show", matched) == 0
    assert "event" in capsys.readouterr().out


@pytest.mark.parametrize(("written", "told"), [(14, 14), (None, None), ("14", None), (True, None), ([], None)])
def test_a_match_of_an_event_is_listed_with_its_number(written, told, capsys: Output) -> None:
    options = {"at": "event", "match": written}
    writer = JournalWriter.create(
        Path("runs"), records.Header(at_ns=1, wall="2031-03-01T10:00:00.000Z", boot="", options=options)
    )
    assert not writer.close()
    assert [row["match"] for row in listed(capsys)] == [told]
    assert tocsin("runs") == 0
    assert ("event, match 14" if told else "event") in capsys.readouterr().out
    assert tocsin("runs", "--csv") == 0
    head, row = capsys.readouterr().out.splitlines()
    assert dict(zip(head.split(","), row.split(","), strict=True))["match"] == str(told or "")


@pytest.mark.parametrize(
    ("options", "at"),
    [
        ({}, ""), ({"at": "event"}, "event"), ({"at": "practice"}, "practice"), ({"at": ["event"]}, ""),
        ({"at": "event", ROUND: {}}, "practice"),
    ],
)  # fmt: skip
def test_an_older_match_does_not_say_where_it_was_and_a_drill_is_practice(options, at: str, capsys: Output) -> None:
    writer = JournalWriter.create(
        Path("runs"), records.Header(at_ns=1, wall="2031-03-01T10:00:00.000Z", boot="", options=options)
    )
    assert not writer.close()
    assert [row["at"] for row in listed(capsys)] == [at]


@pytest.mark.parametrize(("second", "mixed"), [("A", False), ("B", True)])
def test_whose_rounds_an_old_drill_of_two_crews_was_is_not_known_and_that_is_said(
    capsys: Output, second: str, mixed: bool
) -> None:
    """An earlier version wrote the people of the command line into the rounds of all crews."""
    ann = People(Path("runs")).keep("Ann")
    for number, crew in ((1, "A"), (2, second)):
        drilled(number, crew, {"driver": ann})
    drilled(3, "B", {"driver": ann}, roster={"B": {"driver": ann}})      # and one that knows its crews
    assert tocsin("runs", "--json") == 0
    newest, *old = json.loads(capsys.readouterr().out)
    assert (newest["people"], newest["people_unknown"]) == ({"driver": ann}, False)
    assert [(row["people"], row["people_unknown"]) for row in old] == 2 * [({} if mixed else {"driver": ann}, mixed)]
    assert tocsin("runs") == 0
    out, err = capsys.readouterr()
    assert ("people unknown: an earlier version gave both crews" in err) == mixed
    assert out.count("driver Ann") == (1 if mixed else 3)
    folder = next(Path("runs").glob("2031-03-01_10-01*"))
    assert tocsin("runs", "--show", folder.name) == 0
    out = capsys.readouterr().out
    assert ("people unknown" in out, "driver: Ann" in out) == (mixed, not mixed)
    assert tocsin("runs", "--json", "--who", "Ann") == 0
    out, err = capsys.readouterr()
    assert len(json.loads(out)) == (1 if mixed else 3)
    assert ("people unknown" in err) == mixed, "those are not in the list, and that is said"


def test_forget_shows_asks_and_leaves_no_trace(folder: Path, capsys: Output) -> None:
    People(Path("runs")).keep("Ann Other")
    logged("--label", "ann other drives")
    capsys.readouterr()
    assert tocsin("runs", "--forget", "Ann Other") == 0
    out = capsys.readouterr().out
    assert "ann other drives" in out
    assert "--yes" in out
    assert People(Path("runs")).key_of("Ann Other"), "nothing happens unasked"
    assert tocsin("runs", "--forget", "Ann Other", "--yes") == 0
    for path in Path("runs").rglob("*"):
        assert "ann-other" not in path.name
        assert path.is_dir() or b"ann other" not in path.read_bytes().lower()
    assert journal().header.label == "(removed) drives"
    assert tocsin("runs", "--forget", "Ann Other", "--yes") == 0
    assert "is not in" in capsys.readouterr().out


def test_forget_keeps_what_only_looks_like_the_name_and_says_what_it_cannot_know(capsys: Output) -> None:
    logged("--label", "channel Ann annual")
    Path("runs", next(iter(Path("runs").glob("2*"))).name, "film.txt").write_text("Ann", encoding="utf-8")
    capsys.readouterr()
    assert tocsin("runs", "--forget", "ann", "--yes") == 0
    out = capsys.readouterr().out
    assert "film.txt is not Tocsin's and was not looked into" in out
    assert "backups" in out
    assert journal().header.label == "channel (removed) annual"
    assert "inside a word" not in out
    assert tocsin("runs", "--forget", "annua", "--yes") == 0
    assert "In 2 it is part of a longer word and was kept" in capsys.readouterr().out       # label and folder
    assert journal().header.label == "channel (removed) annual"


def test_forget_waits_for_nobody_and_refuses_while_a_run_is_on(capsys: Output) -> None:
    """One that is on would write on into a journal that has been replaced."""
    logged("--label", "with Ann")
    with alone():
        assert tocsin("runs", "--forget", "Ann", "--yes") == 21
    assert "names are forgotten once its run is over" in capsys.readouterr().err
    assert journal().header.label == "with Ann"


def test_forget_drops_the_voices_that_were_kept(capsys: Output) -> None:
    logged("--label", "with Ann")
    path = WordCache(words_folder()).put(Spoken("espeak-ng", "", "en", "Ann, home"), bytes(400))
    assert tocsin("runs", "--forget", "Ann", "--yes") == 0
    assert not path.exists()
    assert "1 kept voices deleted" in capsys.readouterr().out


@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_forget_knows_a_person_however_accents_are_written(capsys: Output, form: Form) -> None:
    other = "NFD" if form == "NFC" else "NFC"
    People(Path("runs")).keep(unicodedata.normalize(form, "Zo\u00eb"))
    assert tocsin("runs", "--forget", unicodedata.normalize(other, "zo\u00eb"), "--yes") == 0
    assert not People(Path("runs")).names


def test_what_a_killed_process_left_goes_with_the_name() -> None:
    logged("--label", "with Ann")
    half = Path("runs") / ".tocsin-999999999-00aa11bb.part"
    half.write_text("Ann", encoding="utf-8")
    assert tocsin("runs", "--forget", "Ann", "--yes") == 0
    assert not half.exists()
