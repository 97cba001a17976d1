"""Another laptop's runs: taken in whole, known again by what was played, people by their names, nothing overwritten."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from tests.support.journal.recorded_rounds import record_rounds
from tests.support.journal.recorded_runs import record_push
from tocsin.cli.main import main
from tocsin.features.records.importing import Import, take_in
from tocsin.features.records.round_files import WATCHED, append_note, newest_session
from tocsin.features.records.run_list import rows
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.place import run_folders
from tocsin.journal.reader import all_runs, newest_unfinished, read
from tocsin.journal.writer import JournalWriter
from tocsin.runner.run import alone

Output = pytest.CaptureFixture[str]
S = 10**9


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand on a laptop of one's own, with an empty folder of runs."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "here"


@pytest.fixture
def away(tmp_path: Path) -> Path:
    return tmp_path / "away"


def record(runs: Path, minute: int = 0, label: str = "", ends: bool = True, at_ns: int = S, **options: Any) -> Path:
    header = records.Header(
        at_ns=at_ns, wall=f"2031-03-01T10:{minute:02}:00.000Z", boot="away", label=label, options=options,
        utc_offset_s=3600,
    )  # fmt: skip
    writer = JournalWriter.create(runs, header)
    writer.append(records.MarkRecord(at_ns=at_ns + S, label="contact", begin_ns=at_ns + S))
    if ends:
        writer.append(records.End(at_ns=at_ns + 9 * S, outcome="over", exit=0))
    assert not writer.close()
    return writer.folder


def taken(runs: Path, source: Path) -> Import:
    done = Import()
    take_in(runs, source, done)
    return done


def tree(folder: Path) -> dict[str, tuple[int, bytes]]:
    return {
        str(path.relative_to(folder)): (path.stat().st_mtime_ns, path.read_bytes() if path.is_file() else b"")
        for path in sorted(folder.rglob("*"))
    }


def test_an_evening_comes_whole_and_the_stick_stays_as_it_is(here: Path, away: Path) -> None:
    record_rounds(away, "break_off", 14)
    (sorted(away.iterdir())[0] / "torn-1.txt").write_bytes(b'{"kind":"no')
    (away / "holiday.jpg").write_bytes(b"x")
    before = tree(away)
    for path in (*away.rglob("*"), away):
        path.chmod(0o500 if path.is_dir() else 0o400)
    done = taken(here, away)
    assert (len(done.taken), done.left, done.others) == (14, [], 1)
    assert tree(away) == before
    first, second = (
        [msgspec.structs.replace(row, folder=Path(row.folder).name) for row in rows(runs, print)]
        for runs in (away, here)
    )
    assert first == second, "the same rows, evenings and short names"
    assert (run_folders(here)[-1] / "torn-1.txt").read_bytes() == b'{"kind":"no'
    assert not any(path.name.startswith(".") for path in here.rglob("*"))


@pytest.mark.parametrize("change", ["nothing", "marked here", "marked there", "renamed there", "forgotten here", "cut"])
def test_a_run_that_is_here_is_known_by_what_was_played(here: Path, away: Path, change: str, capsys: Output) -> None:
    there = record(away, label="with Ann", people={"driver": "0badc0de"})
    (folder,) = (Path(one.folder) for one in taken(here, away).taken)
    later = records.Note(at_ns=2, what=WATCHED)
    if change == "marked here":
        append_note(folder, later)
    elif change == "marked there":
        append_note(there, later)
    elif change == "renamed there":
        there.rename(away / "2031-03-02_11-00-00.000Z_other")
    elif change == "forgotten here":
        assert main(["runs", "--runs", "here", "--forget", "Ann", "--yes"]) == 0
        (folder,) = run_folders(here)
    elif change == "cut":                  # it was copied while it was being written
        file = there / "journal.jsonl"
        file.write_bytes(b"".join(file.read_bytes().splitlines(keepends=True)[:2]))
    before = tree(here)
    done = taken(here, away)
    assert (done.taken, [Path(one.known) for one in done.left]) == ([], [folder])
    assert ("later mark" in done.left[0].why) == (change == "marked there")
    assert tree(here) == before
    capsys.readouterr()
    assert main(["runs", "--runs", "here", "--import", "away"]) == 0
    assert ("nothing is overwritten" in capsys.readouterr().out) == (change == "marked there")


def test_another_run_of_the_same_name_gets_the_next_number(here: Path, away: Path, tmp_path: Path) -> None:
    ours = record(here, label="match")
    before = ours.joinpath("journal.jsonl").read_bytes()
    record(away, label="match", at_ns=5 * S)
    record(tmp_path / "third", label="other", at_ns=7 * S)
    for source in (away, tmp_path / "third", away, tmp_path / "third"):
        taken(here, source)
    assert sorted(one.name for one in run_folders(here)) == [
        "2031-03-01_10-00-00.000Z.2_match", "2031-03-01_10-00-00.000Z.3_other", "2031-03-01_10-00-00.000Z_match"
    ]  # fmt: skip
    assert ours.joinpath("journal.jsonl").read_bytes() == before
    assert len({row.short for row in rows(here, print)}) == 3


def test_two_that_differ_only_in_a_mark_are_two(here: Path, away: Path) -> None:
    record_push(here, 1, 3, drill=False)
    record_push(away, 1, 4, drill=False)
    assert len(taken(here, away).taken) == 1
    assert len(run_folders(here)) == 2


def people_in(runs: Path) -> list[dict[str, Any]]:
    return [journal.header.options for journal in reversed(list(all_runs(runs, print)))]


def test_names_are_merged_by_name_and_keys_are_mapped(here: Path, away: Path) -> None:
    ann_here, bo_here = People(here).keep("Ann"), People(here).keep("Bo")
    theirs = People(away)
    ann, cleo = theirs.keep("ann "), theirs.keep("Cleo")
    theirs.keep("Nobody who played")
    # Two laptops drew one key for different people.
    names = json.loads(theirs.path.read_text())
    names["people"][bo_here] = "Dan"
    theirs.path.write_text(json.dumps(names))
    record(away, 0, people={"driver": ann, "operator": cleo})
    record(away, 1, roster={"A": {"driver": ann}, "B": {"driver": bo_here}}, reaction={"person": bo_here})
    done = taken(here, away)
    kept = People(here).names
    (dan,) = (key for key, name in kept.items() if name == "Dan")
    assert kept == {ann_here: "Ann", bo_here: "Bo", cleo: "Cleo", dan: "Dan"}
    assert sorted(done.names) == ["Cleo", "Dan"]
    first, second = people_in(here)
    assert first["people"] == {"driver": ann_here, "operator": cleo}
    assert (second["roster"], second["reaction"]) == (
        {"A": {"driver": ann_here}, "B": {"driver": dan}}, {"person": dan}
    )  # fmt: skip
    assert taken(here, away).taken == [], "with other keys it is still the same run"


def test_without_their_names_keys_stay_and_that_is_said(here: Path, away: Path, capsys: Output) -> None:
    ann = People(here).keep("Ann")         # the project file names her key on both laptops
    record(away, 0, people={"driver": ann, "operator": "0badc0de"})
    assert main(["runs", "--runs", "here", "--import", "away"]) == 0
    told = capsys.readouterr().out
    assert "1 person has no name here, only a key" in told
    assert People(here).names == {ann: "Ann"}
    assert people_in(here)[0]["people"] == {"driver": ann, "operator": "0badc0de"}


def test_a_name_that_was_forgotten_here_does_not_come_back_by_its_key(here: Path, away: Path, capsys: Output) -> None:
    ann = People(here).keep("Ann")
    assert main(["runs", "--runs", "here", "--forget", "Ann", "--yes"]) == 0
    away.mkdir()
    (away / "people.json").write_text(json.dumps({"format": "tocsin-people/1", "people": {ann: "Ann"}}))
    record(away, people={"driver": ann})
    done = taken(here, away)
    assert (done.names, done.nameless) == ([], [ann])
    assert "Ann" not in (here / "people.json").read_text()


@pytest.mark.parametrize(
    "content", [b"", b"[]", b"\xff\xfe", b'{"people": 5}', b'{"people":' + b"[" * 100_000, b" " * (2 << 20)]
)
def test_names_that_cannot_be_read_keep_no_run_away(here: Path, away: Path, content: bytes) -> None:
    record(away, people={"driver": "0badc0de"})
    (away / "people.json").write_bytes(content)
    done = taken(here, away)
    assert len(done.taken) == 1
    assert [one.there for one in done.left] == ["people.json"]
    assert not (here / "people.json").exists()


def test_what_was_cut_short_elsewhere_is_ended_and_never_gone_on_with_here(here: Path, away: Path) -> None:
    record(away, 0, ends=False)
    facts = {"name": "Turn", "key": "k", "seed": 1, "round": 1, "crew": "A", "battery": 1, "half_speed": False}
    folder = record(away, 1, drill=facts)
    with (folder / "journal.jsonl").open("ab") as file:
        file.write(b'{"kind":"mark","at_')      # torn
    assert newest_unfinished(away, print) is not None
    assert newest_session(away, print) is not None
    assert len(taken(here, away).taken) == 2
    assert newest_unfinished(here, print) is None
    assert newest_session(here, print) is None, "its drill goes on where its devices are"
    cut, torn = reversed(run_folders(here))
    assert [journal.end.outcome for journal in (read(torn), read(cut)) if journal.end] == ["over", "crashed"]
    assert not any(read(one).torn for one in (cut, torn))
    assert (torn / "torn-1.txt").read_bytes() == b'{"kind":"mark","at_'
    assert taken(here, away).taken == []


def test_forgetting_reaches_what_was_taken_in(here: Path, away: Path, capsys: Output) -> None:
    folder = record(away, label="Ann at the wall", people={"driver": People(away).keep("Ann")})
    append_note(folder, records.Note(at_ns=2, what="dropped", text="ask Ann"))
    (folder / "torn-1.txt").write_bytes(b"Ann was h")
    taken(here, away)
    half = here / ".tocsin-999999999-0badc0de.part"       # of an import that was killed
    half.mkdir()
    (half / "journal.jsonl").write_text("Ann")
    assert main(["runs", "--runs", "here", "--forget", "Ann", "--yes"]) == 0
    assert not any(b"Ann" in path.read_bytes() for path in here.rglob("*") if path.is_file())
    assert not any("ann" in path.name for path in here.rglob("*"))
    assert not half.exists()


def test_a_single_run_may_be_named_and_folders_without_any_say_so(here: Path, away: Path, capsys: Output) -> None:
    folder = record(away / "runs")
    assert main(["runs", "--runs", "here", "--import", str(away)]) == 2
    assert f"did you mean {away / 'runs'}?" in " ".join(capsys.readouterr().err.split())
    assert main(["runs", "--runs", "here", "--import", str(away / "nothing")]) == 2
    assert main(["runs", "--runs", "here", "--import", "x" * 5000]) == 2
    assert len(taken(here, folder).taken) == 1
    assert taken(here, folder).taken == []


def test_the_folder_of_runs_itself_is_left_as_it_is(here: Path, capsys: Output) -> None:
    folder = record(here)
    before = tree(here)
    assert main(["runs", "--runs", "here", "--import", "here"]) == 0
    assert main(["runs", "--runs", "here", "--import", str(folder)]) == 0
    assert tree(here) == before
    out = capsys.readouterr().out
    assert "this is where these runs are kept" in out
    assert "was here already" in out


def test_it_waits_until_a_match_is_over(here: Path, away: Path, capsys: Output) -> None:
    record(away)
    with alone():
        assert main(["runs", "--runs", "here", "--import", "away"]) == 21
    assert "once its run is over" in capsys.readouterr().err
    assert not here.exists()


def test_what_came_of_it_is_told_to_people_and_programs(here: Path, away: Path, capsys: Output) -> None:
    record(away, 1, label="match 14", at="event")
    (away / "2031-03-01_10-00-00.000Z_junk").mkdir()
    assert main(["runs", "--runs", "here", "--import", "away", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["label"] for one in told["taken"]] == ["match 14"]
    assert [one["there"] for one in told["left"]] == ["2031-03-01_10-00-00.000Z_junk"]
    (folder,) = run_folders(here)
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()
    assert main(["runs", "--runs", "here", "--import", "away"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "1 of 2 taken in"
    assert lines[1].endswith("Sat 2031-03-01 11:01  match 14")
    assert lines[2:] == ["left there:", "  2031-03-01_10-00-00.000Z_junk: no such file or directory"]
    assert main(["runs", "--runs", "here", "--at", "event"]) == 0
    assert "match 14" in capsys.readouterr().out
