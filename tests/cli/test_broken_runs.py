"""One run that is broken, however, is told in a line, and keeps nobody from the others."""

import json
import os
import sys
from pathlib import Path

import msgspec
import pytest

from tests.support.journal.recorded_runs import TIMELINE, record_push
from tocsin.cli.main import main
from tocsin.config.drills import load_drill
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.place import run_folders
from tocsin.journal.short_name import short_name, short_names

Output = pytest.CaptureFixture[str]
DRILL = load_drill("break_off", "nothing")


def header(**changes) -> bytes:
    found = records.Header(at_ns=0, wall="2031-03-02T10:00:00.000Z", boot="b", timeline=TIMELINE)
    return json.dumps(msgspec.to_builtins(found) | changes).encode() + b"\n"


def origin(**changes) -> bytes:
    found = records.OriginRecord(at_ns=1, anchor="match", origin_ns=1, cause="start")
    return json.dumps(msgspec.to_builtins(found) | changes).encode() + b"\n"


MARK = b'{"kind":"mark","at_ns":5,"label":"contact","begin_ns":5}\n'
END = b'{"kind":"end","at_ns":9,"outcome":"over","exit":0}\n'
DEEP = b"[" * 100_000
ROUND = {"name": "Break off", "key": "k", "seed": 1, "round": 1, "crew": "A", "battery": 1, "half_speed": False}
# What makes a run useless as a whole, and what is only wrong with a part of one that is shown.
USELESS = {
    "empty": b"", "rubbish": b"\x89PNG\r\n\x1a\n" * 9, "deep": DEEP, "not utf-8": header().replace(b"boot", b"bo\xfft"),
    "no header": MARK + END, "other format": header(format="tocsin-journal/9"), "zeros": b"\0" * 4096,
    "header of wrong types": header(files=5), "timeline of nothing": header(timeline={}),
    "no periods": header(timeline=msgspec.to_builtins(TIMELINE) | {"periods": []}),
}  # fmt: skip
SHOWN = {
    "no timeline": header(timeline=None) + MARK + END,
    "rate 0": header() + origin(rate=0) + MARK + END,
    "deep line": header() + DEEP + b"\n" + MARK + END,
    "huge numbers": header() + origin(origin_ns=10**300) + MARK + END,
    "times of a century": header() + origin(origin_ns=-(1 << 62), rate=0.01) + MARK + END,
    "no such mark": header() + MARK.replace(b"}", b',"takes_back":99}') + END,
    "round without files": header(options={"drill": ROUND}) + origin() + MARK + END,
    "round without its plan": header(
        options={"drill": ROUND},
        files=[
            msgspec.to_builtins(records.FileRecord.of(f.name, f.text)) for f in DRILL.files.files if f.kind != "plan"
        ],
    ) + origin() + MARK + END,
    "people of wrong types": header(options={"people": {"driver": [1]}, "source": {"a": [2]}}) + MARK + END,
    "label of 1 MB": header(label="x y" * 350_000) + MARK + END,
    "unknown anchor": header() + origin(anchor="nowhere") + MARK + END,
}  # fmt: skip
GOOD = "2031-03-01_10-0"
BROKEN = "2031-03-02_10-00-00.000Z"


@pytest.fixture
def runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder of five good runs, into which a newer one comes."""
    monkeypatch.chdir(tmp_path)
    for number in range(1, 6):
        record_push(tmp_path / "runs", number, 3, drill=False)
    (tmp_path / "runs" / BROKEN).mkdir()
    return tmp_path / "runs"


def said(capsys: Output, *arguments: str) -> tuple[int, str, str]:
    code = main([*arguments, "--runs", "runs"])
    out, err = capsys.readouterr()
    assert "fault of Tocsin" not in err
    return code, out, err


def good_in(out: str) -> int:
    """Return how many of the good runs a list shows, by their short names."""
    names = short_names(run_folders(Path("runs")))
    return sum(name in out.split() for folder, name in names.items() if folder.name.startswith(GOOD))


@pytest.mark.parametrize("content", USELESS.values(), ids=USELESS)
def test_a_useless_run_is_told_in_a_line_and_the_others_are_shown(runs: Path, capsys: Output, content: bytes) -> None:
    (runs / BROKEN / "journal.jsonl").write_bytes(content)
    code, out, err = said(capsys, "runs")
    assert (code, good_in(out)) == (0, 5)
    (line,) = err.splitlines()
    assert BROKEN in line
    assert "move its folder away" in line
    code, out, err = said(capsys, "mark")
    assert code == 22
    assert BROKEN in err
    assert "name another run" in err
    assert said(capsys, "mark", f"{GOOD}1")[0] == 0
    code, out, err = said(capsys, "check", "full")
    assert f"Nothing known of this run: runs/{BROKEN}" in " ".join(out.split())
    for command in ("run", "drill"):
        code, out, err = said(capsys, command, "--resume")
        assert (code, BROKEN in out) == (22, True)
        assert "to go on with" in err, "the others have ended"


@pytest.mark.parametrize("content", SHOWN.values(), ids=SHOWN)
def test_what_is_wrong_with_a_part_of_a_run_keeps_nobody_from_it(runs: Path, capsys: Output, content: bytes) -> None:
    (runs / BROKEN / "journal.jsonl").write_bytes(content)
    code, out, err = said(capsys, "runs")
    assert (code, good_in(out)) == (0, 5)
    assert BROKEN in err or short_name(runs / BROKEN) in out
    assert len(err.splitlines()) <= 1
    assert max(map(len, out.splitlines())) <= 161, "a long label is cut"
    adding = ["mark", BROKEN, "--label", "home", "--at", "match.end"]
    for command in (["runs", "--show", BROKEN], ["mark", BROKEN], adding):
        code, out, err = said(capsys, *command)
        assert code in (0, 2, 22)
        assert len(out) < 5000
    assert said(capsys, "check", "full")[0] == 0
    content = content.removesuffix(END)
    (runs / BROKEN / "journal.jsonl").write_bytes(content)
    for command in ("run", "drill"):
        assert said(capsys, command, "--resume")[0] in (20, 22)


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="nothing is forbidden to this user")
def test_a_run_that_may_not_be_read_is_told(runs: Path, capsys: Output) -> None:
    (runs / BROKEN).chmod(0)
    try:
        code, out, err = said(capsys, "runs")
    finally:
        (runs / BROKEN).chmod(0o700)
    assert (code, good_in(out)) == (0, 5)
    assert "permission denied" in err


@pytest.mark.parametrize(
    "content", [b"", b"[]", b"\xff\xfe", b'{"people": 5}', b'{"people": {"a": 1}}', b'{"people":' + DEEP]
)
def test_names_that_cannot_be_read_are_told_and_the_runs_are_shown(runs: Path, capsys: Output, content: bytes) -> None:
    People(runs).keep("Ann")
    (runs / BROKEN).rmdir()
    (runs / "people.json").write_bytes(content)
    code, out, err = said(capsys, "runs")
    assert (code, good_in(out)) == (0, 5)
    assert "the names cannot be read" in err
    assert said(capsys, "runs", "--who", "Ann")[0] == 22
    assert said(capsys, "runs", "--show", f"{GOOD}1")[0] == 0


def test_a_run_that_a_person_ended_reads_cancelled_and_its_file_keeps_its_word(runs: Path, capsys: Output) -> None:
    end = END.replace(b"over", b"scrapped")
    (runs / BROKEN / "journal.jsonl").write_bytes(header() + origin() + MARK + end)
    for arguments in (("runs",), ("runs", "--show", BROKEN)):
        code, out, _ = said(capsys, *arguments)
        assert code == 0
        assert "cancelled" in out
        assert "scrapped" not in out
    assert json.loads(said(capsys, "runs", "--json")[1])[0]["outcome"] == "scrapped"


def test_a_whole_name_means_that_run_also_where_a_namesakes_begins_with_it(runs: Path, capsys: Output) -> None:
    for name in (BROKEN, f"{BROKEN}.2"):
        (runs / name).mkdir(exist_ok=True)
        (runs / name / "journal.jsonl").write_bytes(header() + origin() + MARK + END)
    code, out, _ = said(capsys, "mark", BROKEN)
    assert (code, out.split()[0]) == (0, short_name(runs / BROKEN))
    assert said(capsys, "mark", BROKEN[:-1])[0] == 2
