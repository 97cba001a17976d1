"""Folders of runs: named by UTC time and label, found newest first."""

import errno
import os
from pathlib import Path

import pytest
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from tocsin import monotime
from tocsin.errors import JournalError
from tocsin.journal.place import (
    boot_text,
    cannot_write,
    folder_name,
    probe,
    run_folders,
    runs_folder,
    same_boot,
    slug,
    state_folder,
)


@pytest.mark.parametrize(
    ("moment", "name"),
    [
        ("2026-03-14 15:09:26.535", "2026-03-14_15-09-26.535Z_practice-3"),
        ("2026-12-31 23:59:59.999", "2026-12-31_23-59-59.999Z_practice-3"),
        ("2028-02-29 00:00:00", "2028-02-29_00-00-00.000Z_practice-3"),
    ],
)
def test_a_folder_is_named_by_utc_time_and_label(moment, name):
    with freeze_time(moment):
        assert folder_name(monotime.wall_text(), "Practice 3") == name


@pytest.mark.parametrize(
    ("label", "expected"),
    [
        ("", ""),
        ("Practice 3, left early!", "practice-3-left-early"),
        ("../../etc/passwd", "etc-passwd"),
        ("a\\b:c*d?\n", "a-b-c-d"),
        ("Übung", "übung"),
        ("练习", "练习"),
        ("x" * 100, "x" * 40),
    ],
)
def test_a_label_becomes_part_of_a_name(label, expected):
    assert slug(label) == expected


@given(label=st.text(), number=st.integers(1, 9))
def test_any_label_makes_a_name_that_every_system_takes(label, number):
    name = folder_name("2026-03-14T15:09:26.535Z", label, number)
    assert not set(name) & set('<>:"/\\|?*\n\r\t\0')     # refused by Windows (from memory)
    assert len(name.encode()) <= 255                       # NAME_MAX of common file systems (from memory)
    assert not name.endswith((".", " ", "-"))


def test_runs_are_found_newest_first(tmp_path):
    walls = ["2026-03-14T15:09:26.535Z", "2026-03-14T15:09:26.536Z", "2025-12-31T23:59:59.000Z"]
    names = [folder_name(wall, "z") for wall in walls] + [folder_name(walls[0], "a", 2), folder_name(walls[0], "", 10)]
    for name in [*names, "not a run"]:
        (tmp_path / name).mkdir()
        (tmp_path / name / "journal.jsonl").touch()
    empty = folder_name(walls[1], "without a journal")         # its reader says what is wrong with it
    (tmp_path / empty).mkdir()
    (tmp_path / folder_name(walls[1], "a file")).touch()
    found = [folder.name for folder in run_folders(tmp_path)]
    assert found == [names[1], empty, names[4], names[3], names[0], names[2]]


def test_a_folder_that_is_not_there_holds_no_runs(tmp_path):
    assert run_folders(tmp_path / "none") == []


@pytest.mark.parametrize(
    ("number", "fix"),
    [
        (errno.EROFS, "read-only"), (errno.EACCES, "you may not write there"), (errno.ENOSPC, "make room"),
        (errno.ENOTDIR, "a file is in the way"), (errno.EIO, "choose another folder"),
    ],
)  # fmt: skip
def test_a_place_that_cannot_be_written_gets_the_fix_that_fits(number, fix):
    error = cannot_write(Path("runs"), OSError(number, os.strerror(number)))
    assert fix in error.hint
    assert "--runs DIR" in error.hint
    assert ("make room" in error.hint) == (number == errno.ENOSPC)


@pytest.mark.parametrize("below", ["", "runs"])
def test_a_file_in_the_way_is_named_as_such(tmp_path, below):
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(JournalError) as raised:
        probe(tmp_path / "file" / below)
    assert raised.value.hint.startswith("a file is in the way")


def test_runs_go_where_they_are_asked_to_and_else_to_the_users_own_folders(tmp_path):
    assert runs_folder(tmp_path) == tmp_path
    assert runs_folder().name == "runs"
    assert "tocsin" in str(runs_folder()).lower()
    assert "tocsin" in str(state_folder()).lower()


def test_this_start_of_the_machine_is_one():
    assert boot_text()
    assert same_boot(boot_text(), boot_text())


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("1700000000", "1700000059", True),
        ("1700000000", "1700000060", False),
        ("a-b", "a-b", True),
        ("a-b", "a-c", False),
    ],
)
def test_starts_of_the_machine_are_told_apart(one, other, same):
    assert same_boot(one, other) is same
