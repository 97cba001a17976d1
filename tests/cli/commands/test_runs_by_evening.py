"""``tocsin runs`` by evenings: local dates, short names that commands take, each label once, people by their names."""

import csv
import io
import json
import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.commands.test_preview import on_a_terminal
from tocsin.cli.main import main
from tocsin.features.records.rows import RowMaker
from tocsin.features.records.run_list import row_of_one, rows
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.place import run_folders
from tocsin.journal.reader import all_runs, find_run
from tocsin.journal.writer import JournalWriter

Output = pytest.CaptureFixture[str]
WEST_S, CENTRAL_S = -8 * 3600, 3600


@pytest.fixture(autouse=True)
def west(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Stand with the laptop eight hours behind UTC, where an evening's runs lie on two days of UTC."""
    monkeypatch.chdir(tmp_path)
    if os.name == "posix":
        monkeypatch.setenv("TZ", "PST8")
        time.tzset()
    yield
    if os.name == "posix":
        monkeypatch.undo()
        time.tzset()


def record(wall: str, label: str = "", offset_s: int | None = WEST_S, **options: object) -> Path:
    header = records.Header(at_ns=1, wall=wall, boot="b", label=label, options=options, utc_offset_s=offset_s)
    writer = JournalWriter.create(Path("runs"), header)
    writer.append(records.End(at_ns=2, outcome="over", exit=0))
    assert not writer.close()
    return writer.folder


def printed(capsys: Output, *arguments: str) -> str:
    capsys.readouterr()
    assert main(["runs", "--runs", "runs", *arguments]) == 0
    return capsys.readouterr().out


def listed(capsys: Output, *arguments: str) -> list[str]:
    return [row["label"] for row in json.loads(printed(capsys, "--json", *arguments))]


@pytest.mark.parametrize(
    "offset_s", [WEST_S, pytest.param(None, marks=pytest.mark.skipif(os.name != "posix", reason="TZ"))]
)
def test_days_are_those_of_the_place_and_no_evening_is_cut(offset_s: int | None, capsys: Output) -> None:
    # 18:00 and 21:30 on the 14th; 00:10 on the 15th, still that evening; 19:00 on the 15th.
    for wall, label in (
        ("2031-03-15T02:00:00.000Z", "early"), ("2031-03-15T05:30:00.000Z", "late"),
        ("2031-03-15T08:10:00.000Z", "past midnight"), ("2031-03-16T03:00:00.000Z", "next"),
    ):  # fmt: skip
        record(wall, label, offset_s)
    assert listed(capsys, "--since", "2031-03-15") == ["next"]
    assert listed(capsys, "--until", "2031-03-14") == ["past midnight", "late", "early"]
    assert listed(capsys, "--since", "2031-03-14", "--until", "2031-03-14") == ["past midnight", "late", "early"]
    assert listed(capsys, "--since", "2031-03-16") == []
    lines = printed(capsys).splitlines()
    assert [line for line in lines if ", " in line and "run" in line] == [
        "Sat 2031-03-15, 19:00, 1 run", "Fri 2031-03-14, 18:00 to 00:10, 3 runs"
    ]  # fmt: skip
    assert [found[1] for line in lines if (found := re.match(r"\w{4}  (\d\d:\d\d) ", line))] == [
        "19:00", "00:10", "21:30", "18:00"
    ]  # fmt: skip


def test_a_laptop_that_moved_shows_each_evening_by_its_own_clock(capsys: Output) -> None:
    record("2031-03-14T22:30:00.000Z", "at home", CENTRAL_S)
    record("2031-03-15T22:30:00.000Z", "away", WEST_S)
    found = json.loads(printed(capsys, "--json"))
    assert [row["evening"] for row in found] == ["2031-03-15", "2031-03-14"]
    assert [row["local"] for row in found] == ["2031-03-15T14:30:00.000-08:00", "2031-03-14T23:30:00.000+01:00"]


def test_one_run_is_of_the_same_evening_alone_as_among_all(capsys: Output) -> None:
    """Two evenings of one date, one that passes midnight, one of three days: each run asked for by itself."""
    hours = [0, 3.9, 8, 11.9, 30, 33, *(40 + 3.5 * n for n in range(20)), 200]
    for n, hour in enumerate(hours):
        day, rest = divmod(hour * 3600, 86400)
        record(f"2031-03-{1 + int(day):02}T{int(rest // 3600):02}:{int(rest % 3600 // 60):02}:00.000Z", str(n))
    known = {row.folder: row for row in rows(Path("runs"), print)}
    assert len({row.evening for row in known.values()}) == 5
    for journal in all_runs(Path("runs"), print):
        alone = row_of_one(journal, RowMaker(), print)
        assert alone == known[alone.folder]


def test_short_names_are_shown_and_taken_by_every_command(capsys: Output) -> None:
    folders = [record(f"2031-03-15T02:{n:02}:00.000Z", "late pushes") for n in range(20)]
    (found,) = {len(row["short"]) for row in json.loads(printed(capsys, "--json"))}
    assert found == 4
    names = {row["folder"]: row["short"] for row in json.loads(printed(capsys, "--json"))}
    table = printed(capsys)
    for folder in folders:
        short = names[str(folder)]
        assert f"\n{short} " in table
        assert find_run(Path("runs"), short).path.parent == folder
    assert json.loads(printed(capsys, "--show", short, "--json"))["folder"] == str(folders[-1])
    assert main(["mark", "--runs", "runs", short, "--score", "88:75"]) == 0
    assert short in capsys.readouterr().out
    (line,) = csv.DictReader(io.StringIO(printed(capsys, "--show", short, "--csv")))
    assert (line["short"], line["evening"], line["local"]) == (short, "2031-03-14", "2031-03-14T18:19:00.000-08:00")


def test_a_begin_that_several_runs_have_names_the_short_ones(capsys: Output) -> None:
    for n in range(3):
        record(f"2031-03-15T02:{n:02}:00.000Z")
    assert main(["runs", "--runs", "runs", "--show", "2031-03-15"]) == 2
    told = capsys.readouterr().err
    names = {row["short"] for row in json.loads(printed(capsys, "--json"))}
    assert all(name in told for name in names)


def test_a_label_is_shown_once_and_no_path(capsys: Output) -> None:
    folder = record("2031-03-15T02:00:00.000Z", "Late pushes 7", at="event")
    for text in (printed(capsys), printed(capsys, "--show", folder.name)):
        assert text.count("Late pushes 7") == 1
        assert "late-pushes" not in text
        assert "runs/" not in text
        assert "2031-03-15" not in text
    assert main(["mark", "--runs", "runs"]) == 0
    text = capsys.readouterr().out
    assert text.count("Late pushes 7") == 1
    assert "late-pushes" not in text


def test_people_are_shown_by_name_where_it_is_known_here(capsys: Output) -> None:
    ann = People(Path("runs")).keep("Ann")
    folder = record("2031-03-15T02:00:00.000Z", people={"driver": ann, "operator": "0badc0de"})
    for text in (printed(capsys), printed(capsys, "--show", folder.name)):
        assert "Ann" in text
        assert ann not in text
        assert "0badc0de" in text
    for who in ("ANN", ann, "0badc0de"):
        assert len(json.loads(printed(capsys, "--json", "--who", who))) == 1


def test_what_says_nothing_takes_no_room(capsys: Output) -> None:
    record("2031-03-15T02:00:00.000Z", "one", at="practice")
    head = printed(capsys).splitlines()[0].split()
    assert head[:4] == ["run", "began", "what", "label"]
    assert not {"at", "crew", "outcome", "marks", "score", "margin", "points", "dealt"} & {*head}
    record("2031-03-15T03:00:00.000Z", "two", at="event")
    assert "at" in printed(capsys).splitlines()[0].split()


def test_a_run_whose_time_is_none_is_listed_apart_and_of_no_day(capsys: Output) -> None:
    folder = record("2031-03-15T02:00:00.000Z", "odd")
    file = folder / "journal.jsonl"
    file.write_bytes(file.read_bytes().replace(b'"wall":"2031-03-15T02:00:00.000Z"', b'"wall":"once upon a time"'))
    record("2031-03-15T03:00:00.000Z", "good")
    assert "when is not known" in printed(capsys)
    assert "odd" in printed(capsys, "--show", folder.name)
    assert listed(capsys, "--since", "2000-01-01") == listed(capsys, "--until", "2040-01-01") == ["good"]
    assert len(run_folders(Path("runs"))) == 2


@pytest.mark.devices
@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_on_a_narrow_terminal_each_run_is_one_line_and_what_has_no_room_is_said() -> None:
    for hour in (2, 3):
        record(f"2031-03-15T0{hour}:00:00.000Z", label="a label that leaves no room for anything beside it " * 2)
    shown = on_a_terminal("80", "runs", "--runs", "runs")
    lines = [line.rstrip() for line in shown.splitlines() if line.strip()]
    assert lines[-1] == "Too wide, left out: label. --csv has all."
    assert sum(bool(re.match(r"[0-9a-z]{4,} ", line)) and ":00" in line for line in lines) == 2
    assert len(lines) <= 6, shown
    assert max(map(len, lines)) <= 80
