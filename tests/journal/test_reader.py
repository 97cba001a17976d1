"""A journal is read back whatever happened to its file, and says where it is broken."""

import os

import pytest
from msgspec.structs import replace

from tests.support.journal.recorded_runs import TIMELINE
from tocsin.errors import BrokenRunError, JournalError
from tocsin.journal.reader import newest_unfinished, read
from tocsin.journal.records import End, Fault, Header, MarkRecord, encode
from tocsin.journal.writer import JournalWriter

HEADER = Header(at_ns=0, wall="2026-03-14T15:09:26.535Z", boot="b")
FAULT = Fault(at_ns=1, channel="light", what="unplugged")
END = End(at_ns=9, outcome="over", exit=0)


def mark(label: str, takes_back: int | None = None) -> MarkRecord:
    return MarkRecord(at_ns=1, label=label, begin_ns=1, takes_back=takes_back)


def unfinished(runs) -> tuple:
    """Return the newest run without an end, and how many broken ones were passed over."""
    broken: list[BrokenRunError] = []
    found = newest_unfinished(runs, broken.append)
    return found and found.path.parent, len(broken)


def written(folder, *lines):
    file = folder / "journal.jsonl"
    file.write_bytes(b"".join(line if isinstance(line, bytes) else encode(line) for line in lines))
    return file


def a_run(runs, wall, *records):
    writer = JournalWriter.create(runs, Header(at_ns=0, wall=wall, boot="b"))
    for record in records:
        writer.append(record)
    writer.close()
    return writer.folder


def test_a_journal_is_read_by_its_folder_or_its_file(tmp_path):
    file = written(tmp_path, HEADER, FAULT, END)
    assert read(tmp_path) == read(file)
    journal = read(tmp_path)
    assert (journal.header, journal.end) == (HEADER, END)


def test_a_run_that_was_cut_short_has_no_end(tmp_path):
    assert read(written(tmp_path, HEADER, FAULT)).end is None


def test_a_torn_last_line_is_cut_and_told(tmp_path):
    file = written(tmp_path, HEADER, FAULT, b'{"kind":"fault","at')
    journal = read(file)
    assert journal.records == (HEADER, FAULT)
    assert journal.torn == b'{"kind":"fault","at'
    assert journal.troubles() == (f"{file}: the last line is torn (19 bytes) and was left out",)


def test_a_last_line_that_lacks_only_its_newline_is_kept(tmp_path):
    journal = read(written(tmp_path, HEADER, encode(FAULT)[:-1]))
    assert journal.records == (HEADER, FAULT)
    assert journal.troubles() == ()


def test_zeros_that_a_power_cut_left_are_a_torn_line(tmp_path):
    assert read(written(tmp_path, HEADER, FAULT, b"\0" * 512)).torn == b"\0" * 512


@pytest.mark.parametrize(
    "broken", [
        b"rubbish\n", b"\n", b'{"kind":"fault"}\n', b"\xff\xfe\n", b'{"kind":"fault","at_ns":"x"}\n',
        b"[" * 100_000 + b"\n", b'{"kind":"fault","at_ns":' + b"[" * 100_000 + b"\n",
        b'{"kind":"note","at_ns":1,"what":"","more":' + b"[" * 100_000 + b"]" * 100_000 + b"}\n",
        b'{"kind":"fault","at_ns":' + b"9" * 40 + b',"channel":"light","what":""}\n',
        b'{"kind":"origin","at_ns":1,"anchor":"match","origin_ns":1,"cause":"start","rate":0}\n',
        b'{"kind":"origin","at_ns":1,"anchor":"match","origin_ns":1,"cause":"start","rate":-1}\n',
    ],
    ids=lambda line: line[:40].decode("latin-1"),
)
def test_a_broken_line_elsewhere_is_told_with_its_number_and_the_rest_is_read(tmp_path, broken):
    file = written(tmp_path, HEADER, FAULT, broken, FAULT, END)
    journal = read(file)
    assert journal.records == (HEADER, FAULT, FAULT, END)
    assert [flaw.line for flaw in journal.flaws] == [3]
    assert journal.troubles()[0].startswith(f"{file}:3: this line is not a record: ")


def test_kinds_of_a_later_version_are_no_trouble(tmp_path):
    journal = read(written(tmp_path, HEADER, b'{"kind":"weather","at_ns":4}\n', END))
    assert journal.records == (HEADER, END)
    assert journal.troubles() == ()


def test_marks_that_were_taken_back_do_not_stand(tmp_path):
    journal = read(written(tmp_path, HEADER, mark("contact"), FAULT, mark("home"), mark("contact", takes_back=0)))
    assert [found.label for found in journal.marks] == ["home"]


@pytest.mark.parametrize("content", [b"", b"hello\n", encode(FAULT)])
def test_a_file_without_a_header_is_no_journal(tmp_path, content):
    file = written(tmp_path, content)
    with pytest.raises(JournalError, match="no header") as caught:
        read(file)
    assert caught.value.exit_code == 22


def test_a_journal_that_is_not_there_is_told(tmp_path):
    with pytest.raises(JournalError, match="there is no journal"):
        read(tmp_path)


def test_a_journal_that_is_a_folder_cannot_be_read(tmp_path):
    (tmp_path / "journal.jsonl").mkdir()
    with pytest.raises(JournalError):
        read(tmp_path)


def test_the_newest_run_without_an_end_is_found(tmp_path):
    assert unfinished(tmp_path) == (None, 0)
    a_run(tmp_path, "2026-03-14T10:00:00.000Z")
    newest = a_run(tmp_path, "2026-03-14T11:00:00.000Z", FAULT)
    a_run(tmp_path, "2026-03-14T12:00:00.000Z", FAULT, END, mark("a mark behind the end"))
    assert unfinished(tmp_path) == (newest, 0)


def test_a_run_with_a_torn_end_is_unfinished_and_one_with_a_torn_header_is_nothing(tmp_path):
    folder = a_run(tmp_path, "2026-03-14T10:00:00.000Z", END)
    nothing = a_run(tmp_path, "2026-03-14T11:00:00.000Z")
    for broken in (folder, nothing):
        file = broken / "journal.jsonl"
        file.write_bytes(file.read_bytes()[:-5])
    assert unfinished(tmp_path) == (folder, 1)


def fifo(file):
    if not hasattr(os, "mkfifo"):
        pytest.skip("named pipes are POSIX")
    os.mkfifo(file)


def huge(file):
    with file.open("wb") as stream:
        stream.write(encode(HEADER))
        stream.truncate(50_000_000)


def contradicting(**changes):
    return lambda file: file.write_bytes(encode(replace(HEADER, timeline=replace(TIMELINE, **changes))))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda file: file.mkdir(), "this is not a journal file"),
        (fifo, "this is not a journal file"),
        (huge, "it has 50 MB, the limit is 25"),
        (lambda file: file.write_bytes(b"\n" * 2_000_000), "more than 1000 of its lines are not records"),
        (lambda file: file.write_bytes(encode(HEADER).replace(b"journal/1", b"journal/9")), "its format is"),
        (contradicting(periods=()), "it has no periods"),
        (contradicting(segments=TIMELINE.segments * 2), "two of its segments"),
        (contradicting(firings=TIMELINE.firings[1:]), "not numbered"),
        (contradicting(leads={"home": 10**30}), "a time is not possible"),
        (contradicting(periods=tuple(replace(slot, end_ns=None) for slot in TIMELINE.periods)), "never ends"),
        (contradicting(periods=tuple(replace(slot, anchor="x") for slot in TIMELINE.periods)), "has no anchor"),
        (contradicting(periods=tuple(replace(slot, end_ns=-1) for slot in TIMELINE.periods)), "before it begins"),
    ],
)  # fmt: skip
def test_what_no_run_can_hold_is_one_sentence_and_a_way_out(tmp_path, make, says):
    make(tmp_path / "journal.jsonl")
    with pytest.raises(BrokenRunError, match=says) as caught:
        read(tmp_path)
    assert caught.value.exit_code == 22
    assert caught.value.hint
    assert "\n" not in caught.value.line
