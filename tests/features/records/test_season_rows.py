"""Rows of a season: those that `tocsin runs` lists, the oldest first, without what people wrote, over all folders."""

from pathlib import Path

import msgspec
import pytest

from tests.support.journal.recorded_rounds import record_rounds
from tests.support.journal.recorded_runs import record_push
from tocsin.analysis.seasons.row import Row
from tocsin.errors import BrokenRunError
from tocsin.features.records.added_marks import add_marks
from tocsin.features.records.importing import Import, take_in
from tocsin.features.records.round_files import DROPPED, append_note
from tocsin.features.records.run_list import rows
from tocsin.features.records.season_rows import season_rows
from tocsin.journal import records
from tocsin.journal.place import run_folders
from tocsin.journal.reader import read
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_MS, NS_PER_S

WORDS = "Anna was tired"


def season(*folders: Path) -> tuple[Row, ...]:
    return season_rows(folders, pytest.fail)


def fields(row: Row) -> dict[str, object]:
    return {name: getattr(row, name) for name in Row.__struct_fields__}


def test_they_are_those_of_the_list_without_words_of_people(tmp_path: Path) -> None:
    record_rounds(tmp_path, "break_off", 12)
    append_note(sorted(tmp_path.iterdir())[5], records.Note(at_ns=6_000 * NS_PER_S, what=DROPPED, text=WORDS))
    found = season(tmp_path)
    listed = [fields(row) for row in reversed(list(rows(tmp_path, pytest.fail)))]
    assert [row["taken_out"] for row in listed].count(WORDS) == 1
    assert [fields(row) for row in found] == [
        one | {"taken_out": DROPPED} if one["taken_out"] else one for one in listed
    ]
    assert {type(row) for row in found} == {Row}
    assert WORDS.encode() not in msgspec.msgpack.encode(found)


def test_evenings_go_on_over_folders_and_each_folder_counts_once(tmp_path: Path) -> None:
    one, other = tmp_path / "one", tmp_path / "other"
    record_push(one, 1, 3.0)
    record_push(other, 20, 3.0)
    assert [row.evening for row in season(one, other, one)] == ["2031-03-01", "2031-03-01"]
    assert {row.evening for row in (*season(one), *season(other))} == {"2031-03-01"}


def test_a_run_that_lies_in_two_folders_counts_once_as_the_one_with_more_marks(tmp_path: Path) -> None:
    one, other = tmp_path / "one", tmp_path / "other"
    record_rounds(one, "break_off", 3)
    done = Import()
    take_in(other, one, done)
    assert len(run_folders(other)) == 3
    marked = read(run_folders(other)[0])
    add_marks(marked, [Mark(label="contact", begin_ns=1, end_ns=2)], "later")
    found = season(one, other)
    folders = {Path(row.folder).parent.name for row in found}
    assert (len(found), found[-1].folder, folders) == (3, str(marked.path.parent), {"one", "other"})
    assert [row.evening for row in found] == [row.evening for row in season(one)]


def test_a_mark_that_comes_later_is_seen_and_who_noted_what_is_said(tmp_path: Path) -> None:
    record_rounds(tmp_path, "break_off", 1)
    (before,) = season(tmp_path)
    assert (before.break_off_by, before.turn_by, before.home_by, before.scribe_lags_s) == ("key", "key", "key", ())
    (folder,) = run_folders(tmp_path)
    journal = read(folder)
    (push,) = (mark for mark in journal.marks if mark.label == "contact")
    assert push.end_ns is not None
    early_ns = 600 * NS_PER_MS
    add_marks(journal, [Mark(label="contact", begin_ns=push.begin_ns, end_ns=push.end_ns - early_ns)], "video")
    (after,) = season(tmp_path)
    assert before.break_off_at_most_s is not None
    assert after.break_off_at_most_s == pytest.approx(before.break_off_at_most_s - 0.6)
    assert (after.break_off_by, after.turn_by, after.scribe_lags_s) == ("video", "key", (0.6,))


def test_a_broken_run_is_told_and_left_out(tmp_path: Path) -> None:
    record_push(tmp_path, 1, 3.0)
    record_push(tmp_path, 2, 3.0)
    next(tmp_path.glob("*10-02*")).joinpath("journal.jsonl").write_text("{}\n", "utf-8")
    told: list[BrokenRunError] = []
    assert len(season_rows([tmp_path], told.append)) == 1
    assert len(told) == 1


def test_a_drill_that_asks_for_no_window_free_of_contact_counts_none_either(tmp_path: Path) -> None:
    """Turn has only turns and the way home marked: 0 contacts would be a figure that nobody looked for."""
    record_rounds(tmp_path / "turn", "turn", 5)
    record_rounds(tmp_path / "push", "break_off", 5)
    (turn, push) = (season(tmp_path / name)[-1] for name in ("turn", "push"))
    assert (turn.contacts, turn.contacts_unclear, turn.contact_s) == (None, None, None)
    assert (turn.turn_s is not None, push.contacts is not None) == (True, True)
