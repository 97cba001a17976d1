"""A name leaves no trace in a folder of runs, and everything else stays as it was, to the byte."""

import json
import os
import stat

import pytest

from tocsin.errors import JournalError
from tocsin.journal import records
from tocsin.journal.forget import rewrite, traces
from tocsin.journal.name import REMOVED, Name
from tocsin.journal.people import People
from tocsin.journal.place import PEOPLE_NAME
from tocsin.journal.reader import read
from tocsin.journal.writer import JournalWriter

PLAN = 'format = "tocsin-plan/1"\nname = "Plan of Ann Other"\n'


def run(runs, label, number, *extra):
    """Write a finished run whose label and texts may hold a name; return its folder."""
    header = records.Header(
        at_ns=1, wall=f"2026-03-0{number}T10:00:00.000Z", boot="b", label=label,
        files=(records.FileRecord.of("plans/x.toml", PLAN),),
    )  # fmt: skip
    writer = JournalWriter.create(runs, header)
    for record in extra:
        writer.append(record)
    writer.append(records.End(at_ns=9, outcome="over", exit=0))
    assert not writer.close()
    return writer.folder


@pytest.fixture
def runs(tmp_path):
    run(tmp_path, "with ann other", 1, records.Note(at_ns=2, what="safety", text="ANN OTHER said yes"))
    run(tmp_path, "nobody", 2, records.MarkRecord(at_ns=3, label="contact", begin_ns=3, by="us", source="key c"))
    return tmp_path


def everything(folder):
    """Return all that stands on the disk below a folder: paths and bytes."""
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"" for path in folder.rglob("*")}


def test_traces_are_found_whatever_their_case_and_where_they_stand(runs):
    found = traces(runs, Name("Ann Other")).traces
    assert {trace.text for trace in found} == {
        "with ann other", "ANN OTHER said yes", "Plan of Ann Other", "with-ann-other",
    }  # fmt: skip
    assert {trace.line for trace in found if "said yes" in trace.text} == {2}
    assert traces(runs, Name("An Other")).traces == ()


def test_nothing_is_left_and_the_journals_still_read(runs):
    before = everything(runs)
    assert rewrite(runs, Name("Ann Other")) == 3
    after = everything(runs)
    for path, data in after.items():
        assert "ann-other" not in path
        assert b"ann other" not in data.lower()
    assert traces(runs, Name("Ann Other")).traces == ()
    journals = [read(folder) for folder in runs.iterdir()]
    assert {journal.header.label for journal in journals} == {f"with {REMOVED}", "nobody"}
    assert all(not journal.flaws and not journal.torn and journal.end for journal in journals)
    assert all(file.intact() for journal in journals for file in journal.header.files)
    notes = [record for journal in journals for record in journal.records if isinstance(record, records.Note)]
    assert [note.text for note in notes] == [f"{REMOVED} said yes"]
    kept = [line for path, data in before.items() if "nobody" in path for line in data.split(b"\n")[1:] if line]
    assert all(any(line in data for data in after.values()) for line in kept), "other lines stay as they were"


def test_a_name_within_a_word_is_another_word(runs):
    run(runs, "announcer", 3)
    rewrite(runs, Name("ann"))
    assert any("announcer" in path for path in everything(runs))


def test_a_torn_line_loses_the_name_too(runs):
    folder = next(folder for folder in runs.iterdir() if "nobody" in folder.name)
    with (folder / "journal.jsonl").open("ab") as file:
        file.write(b'{"kind":"note","at_ns":5,"text":"Ann Other wa')
    rewrite(runs, Name("Ann Other"))
    assert b"Ann Other" not in (folder / "journal.jsonl").read_bytes()


def test_people_are_random_keys_and_names_stand_in_one_file(tmp_path):
    people = People(tmp_path)
    key = people.keep("  Ann Other ")
    assert People(tmp_path).keep("ann other") == key
    assert People(tmp_path).names == {key: "Ann Other"}
    assert people.keep("Bo") != key
    assert "ann" not in key.lower()
    assert people.forget("ANN OTHER") == key
    assert set(json.loads((tmp_path / PEOPLE_NAME).read_text("utf-8"))["people"].values()) == {"Bo"}
    assert People(tmp_path).key_of("Ann Other") == ""
    assert people.forget("Ann Other") == ""


@pytest.mark.skipif(os.name != "posix", reason="modes as POSIX has them")
def test_names_are_for_their_user_alone_and_those_of_earlier_versions_too(tmp_path):
    path = tmp_path / "runs" / PEOPLE_NAME
    People(path.parent).keep("Bo")
    assert [stat.S_IMODE(one.stat().st_mode) for one in (path.parent, path)] == [0o700, 0o600]
    path.chmod(0o644)
    People(path.parent).keep("Ann")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_broken_file_of_names_is_said_and_kept(tmp_path):
    (tmp_path / PEOPLE_NAME).write_text("{", "utf-8")
    with pytest.raises(JournalError, match="names cannot be read"):
        People(tmp_path)
    assert (tmp_path / PEOPLE_NAME).read_text("utf-8") == "{"
