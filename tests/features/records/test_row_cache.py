"""Rows that are kept beside runs: the same as those of the journals, whatever became of the file or of a run."""

import os
import random
import threading
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace

from tests.support.journal.recorded_rounds import record_rounds
from tests.support.journal.recorded_runs import record_push
from tocsin.analysis.seasons.row import Row
from tocsin.features.records.added_marks import add_marks
from tocsin.features.records.forgetting import forget, sought
from tocsin.features.records.round_files import DROPPED, append_note
from tocsin.features.records.row_cache import State, keep_rows, kept_rows
from tocsin.features.records.season_rows import season_rows
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.place import ROWS_NAME, run_folders
from tocsin.journal.reader import read
from tocsin.journal.writer import JournalWriter
from tocsin.model.mark import Mark
from tocsin.units import NS_PER_S

ROUNDS = 12


@pytest.fixture
def runs(tmp_path: Path) -> Path:
    record_rounds(tmp_path / "runs", "break_off", ROUNDS)
    return tmp_path / "runs"


def rows_and_reads(*folders: Path) -> tuple[tuple[Row, ...], int]:
    """Return the rows, and how many journals were read for them."""
    told: list[tuple[int, int]] = []
    found = season_rows(folders, pytest.fail, lambda read, of: told.append((read, of)))
    assert told == [(place, len(told)) for place in range(len(told))]
    return found, len(told)


def test_a_journal_is_read_once_and_the_kept_rows_are_the_same(runs: Path) -> None:
    cold, first = rows_and_reads(runs)
    warm, second = rows_and_reads(runs)
    assert (first, second) == (ROUNDS, 0)
    assert warm == cold
    assert {type(row) for row in warm} == {Row}
    if os.name == "posix":
        assert (runs / ROWS_NAME).stat().st_mode & 0o777 == 0o600


def test_a_run_that_was_added_to_is_read_anew_alone(runs: Path) -> None:
    rows_and_reads(runs)
    folder = run_folders(runs)[0]
    append_note(folder, records.Note(at_ns=6_000 * NS_PER_S, what=DROPPED, text="Anna was tired"))
    found, reads = rows_and_reads(runs)
    assert (reads, [row.folder for row in found if row.taken_out]) == (1, [str(folder)])
    journal = read(folder)
    add_marks(journal, [Mark(label="contact", begin_ns=1, end_ns=2)], "later")
    assert rows_and_reads(runs)[1] == 1
    assert rows_and_reads(runs)[1] == 0


def test_a_run_that_came_or_went_or_has_another_name_now_is_told_so(runs: Path) -> None:
    before, _ = rows_and_reads(runs)
    newest, *_ = run_folders(runs)
    renamed = newest.with_name(f"{newest.name}_practice")
    newest.rename(renamed)
    found, reads = rows_and_reads(runs)
    assert (reads, found[-1]) == (0, replace(before[-1], folder=str(renamed)))
    for path in renamed.iterdir():
        path.unlink()
    renamed.rmdir()
    size = (runs / ROWS_NAME).stat().st_size
    assert rows_and_reads(runs) == (before[:-1], 0)
    assert len(kept_rows(runs)) == ROUNDS - 1
    assert (runs / ROWS_NAME).stat().st_size < size
    record_push(runs, 1, 3.0)
    assert rows_and_reads(runs)[1] == 1


def test_two_runs_that_nobody_can_tell_apart_are_both_read(runs: Path) -> None:
    """Of two laptops, as one may have begun a run in the same millisecond: equal but for the label's letters."""
    newest, *_ = run_folders(runs)
    twin = newest.with_name(f"{newest.name}_x")
    twin.mkdir()
    for path in newest.iterdir():
        (twin / path.name).write_bytes(path.read_bytes())
        os.utime(twin / path.name, ns=(1, path.stat().st_mtime_ns))
    for _ in range(2):
        found, reads = rows_and_reads(runs)
        assert len(found) == ROUNDS
    assert reads == 2


def test_no_other_row_is_made_by_what_is_broken(runs: Path) -> None:
    """Cut at every length of some, and with bytes changed: the same rows, and the file is whole again."""
    wanted, _ = rows_and_reads(runs)
    path, chance = runs / ROWS_NAME, random.Random(7)
    whole = path.read_bytes()
    cuts = [whole[: round(len(whole) * part / 10)] for part in range(10)]
    flips = []
    for _ in range(40):
        changed = bytearray(whole)
        changed[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        flips.append(bytes(changed))
    for data in (*cuts, *flips, b"", b"\x00" * 100, b"[]", os.urandom(500), b"\x91" * 100_000):
        path.write_bytes(data)
        assert rows_and_reads(runs)[0] == wanted
        assert rows_and_reads(runs) == (wanted, 0)


def packed(change: Callable[[list[Any]], None]) -> Callable[[bytes], bytes]:
    """Return what changes the entries of a file: lists of name, size, time of change, row."""

    def changed(data: bytes) -> bytes:
        version, blocks = msgspec.msgpack.decode(data)
        entries = msgspec.msgpack.decode(zlib.decompress(blocks[0]))
        change(entries)
        return msgspec.msgpack.encode([version, [zlib.compress(msgspec.msgpack.encode(entries))]])

    return changed


def with_row(**fields: object) -> Callable[[bytes], bytes]:
    return packed(lambda entries: entries[0][3].update(fields))


@pytest.mark.parametrize(
    "change",
    [
        lambda data: msgspec.msgpack.encode(["00000000", msgspec.msgpack.decode(data)[1]]),
        with_row(turn_s=float("nan")), with_row(contact_s=float("inf")), with_row(leads_s={"home": float("nan")}),
        with_row(scribe_lags_s=[float("inf")]), with_row(turn_s="2"), with_row(kind="nothing known"),
        packed(lambda entries: entries[0].pop()), packed(lambda entries: entries.append(7)),
        lambda data: msgspec.msgpack.encode([msgspec.msgpack.decode(data)[0], [zlib.compress(bytes(1 << 28))]]),
    ],
    ids=["version", "nan", "inf", "nan lead", "inf lag", "type", "kind", "short", "foreign", "swells"],
)  # fmt: skip
def test_a_file_of_another_version_or_of_anybody_is_not_taken(
    runs: Path, change: Callable[[bytes], bytes]
) -> None:
    wanted, _ = rows_and_reads(runs)
    path = runs / ROWS_NAME
    assert len(kept_rows(runs)) == ROUNDS
    path.write_bytes(change(path.read_bytes()))
    assert kept_rows(runs) == {}
    assert rows_and_reads(runs) == (wanted, ROUNDS)
    assert rows_and_reads(runs) == (wanted, 0)


def test_a_row_with_another_begin_than_a_moment_has_no_evening(runs: Path) -> None:
    rows_and_reads(runs)
    path = runs / ROWS_NAME
    path.write_bytes(with_row(local="someday")(path.read_bytes()))
    found, reads = rows_and_reads(runs)
    assert (reads, sum(not row.evening for row in found)) == (0, 1)


@pytest.mark.skipif(os.name != "posix", reason="links and pipes")
@pytest.mark.parametrize("kind", ["link", "pipe", "folder"])
def test_what_is_no_ordinary_file_is_left_alone(runs: Path, tmp_path: Path, kind: str) -> None:
    path, elsewhere = runs / ROWS_NAME, tmp_path / "elsewhere"
    elsewhere.write_bytes(b"a book")
    if kind == "link":
        path.symlink_to(elsewhere)
    elif kind == "pipe":
        os.mkfifo(path)
    else:
        path.mkdir()
    for _ in range(2):
        assert rows_and_reads(runs)[1] == ROUNDS
    assert elsewhere.read_bytes() == b"a book"


def test_a_folder_without_runs_gets_no_file(tmp_path: Path) -> None:
    assert rows_and_reads(tmp_path, tmp_path / "nowhere") == ((), 0)
    assert list(tmp_path.iterdir()) == []


def test_a_journal_that_changes_while_rows_are_made_is_not_kept(runs: Path) -> None:
    """As one out of which a name is taken at this moment."""
    oldest = run_folders(runs)[-1]

    def change(done: int, of: int) -> None:
        if done == of - 1:
            append_note(oldest, records.Note(at_ns=6_000 * NS_PER_S, what=DROPPED))

    season_rows([runs], pytest.fail, change)
    assert len(kept_rows(runs)) == ROUNDS - 1
    assert rows_and_reads(runs)[1] == 1


def test_of_two_at_once_both_say_the_same_and_what_is_kept_is_whole(runs: Path) -> None:
    wanted, _ = rows_and_reads(runs)
    states = dict(zip([State.of(folder) for folder in reversed(run_folders(runs))], wanted, strict=True))
    some = {state: row for state, row in list(states.items())[:5] if state is not None}
    rest = {state: row for state, row in list(states.items())[5:] if state is not None}
    found: list[tuple[Row, ...]] = []

    def write() -> None:
        for part in (some, rest) * 20:
            keep_rows(runs, part)

    writers = [threading.Thread(target=write) for _ in range(2)]
    for one in writers:
        one.start()
    while any(one.is_alive() for one in writers):
        found.append(season_rows([runs], pytest.fail))
    for one in writers:
        one.join()
    assert all(one == wanted for one in found)
    assert rows_and_reads(runs)[0] == wanted
    assert not [path for path in runs.iterdir() if path.name.endswith(".part")]


def test_a_forgotten_name_is_nowhere_even_if_only_the_kept_rows_had_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    runs = tmp_path / "runs"
    key = People(runs).keep("Ann Other")
    record_rounds(runs, "break_off", 2)
    plain = read(run_folders(runs)[0]).header
    assert plain.timeline is not None
    header = replace(
        plain, label="ann other drives", wall="2031-03-02T10:00:00.000Z",
        timeline=replace(plain.timeline, plan="Ann Other's"), options={**plain.options, "people": {"driver": key}},
    )  # fmt: skip
    writer = JournalWriter.create(runs, header)
    writer.append(records.Note(at_ns=header.at_ns, what=DROPPED, text="Ann Other was late"))
    assert not writer.close()
    found, _ = rows_and_reads(runs)
    assert (found[-1].people, found[-1].plan) == ({"driver": key}, "Ann Other's")
    raw = b"".join(zlib.decompress(block) for block in msgspec.msgpack.decode((runs / ROWS_NAME).read_bytes())[1])
    assert b"ann other" not in raw.lower().replace(b"ann other's", b""), "no label, no note; a plan may be called so"
    assert b"ann-other" not in raw
    with sought(runs, "Ann Other") as what:
        assert not (runs / ROWS_NAME).exists(), "gone as soon as anybody asks: runs that are gone may stand in it"
        rows_and_reads(runs)                           # by another program, meanwhile
        forget(what, frozenset())
    rest = {path: path.read_bytes() for path in runs.rglob("*") if path.is_file()}
    assert ROWS_NAME not in {path.name for path in rest}
    assert not [path for path, data in rest.items() if b"ann other" in data.lower() or "ann-other" in str(path)]
    assert rows_and_reads(runs)[0][-1].plan == "(removed)'s"
