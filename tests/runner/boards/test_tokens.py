"""The file of tokens: kept for twelve hours, closed to others, without a name, and never in the way of a match."""

import os
import stat
import sys
import threading

import msgspec
import pytest

from tests.support.stands.stand import wait_for
from tocsin.errors import UsageError
from tocsin.runner.boards.tokens import NAME, PORT, TokenFile, forget_tokens
from tocsin.service.messages import Board

MORNING, EVENING, NEXT_DAY = "2031-03-01T09:00:00.000Z", "2031-03-01T20:59:59.000Z", "2031-03-01T21:00:00.000Z"
BOARD = Board(number=2, right="mark", token="t" * 22, here=True, id="f" * 32)


def written(folder):
    return msgspec.json.decode((folder / NAME).read_bytes())


def test_tokens_are_of_128_bits_and_all_differ(tmp_path):
    tokens = msgspec.structs.astuple(TokenFile(tmp_path, MORNING).kept.tokens)
    assert len(set(tokens)) == 3
    assert all(len(token) == 22 for token in tokens)       # base64 without padding, RFC 4648


def test_without_a_folder_nothing_is_kept(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    file = TokenFile(None, MORNING)
    file.keep((BOARD,), 9000, "http://127.0.0.1:9000/")
    assert file.kept.port == 9000
    assert file.trouble == ""
    assert list(tmp_path.iterdir()) == []
    assert TokenFile(None, MORNING).kept.tokens != file.kept.tokens


def test_they_are_kept_for_twelve_hours_with_boards_and_port(tmp_path):
    first = TokenFile(tmp_path, MORNING)
    first.keep([BOARD], 40001, "http://10.0.0.5:40001/")
    wait_for(lambda: written(tmp_path)["port"] == 40001)
    again = TokenFile(tmp_path, EVENING)
    assert again.kept == first.kept
    assert again.kept.boards == (msgspec.structs.replace(BOARD, here=False),)
    anew = TokenFile(tmp_path, NEXT_DAY)
    assert anew.kept.tokens != first.kept.tokens
    assert (anew.kept.boards, anew.kept.port) == ((), PORT)


def test_of_a_disk_that_hangs_one_waits_and_writes_the_newest(tmp_path):
    file = TokenFile(tmp_path, MORNING)
    with file._writing:                    # as if the disk took its time
        for port in range(40000, 40050):
            file.keep([BOARD], port)
        assert sum(thread.name == "boards-file" for thread in threading.enumerate()) == 1
    wait_for(lambda: written(tmp_path)["port"] == 40049)


def test_a_clock_that_was_set_back_makes_new_ones(tmp_path):
    first = TokenFile(tmp_path, EVENING)
    assert TokenFile(tmp_path, MORNING).kept.tokens != first.kept.tokens


@pytest.mark.skipif(sys.platform == "win32", reason="a user's own folders are closed to others there anyway")
def test_nobody_else_on_this_laptop_reads_them(tmp_path):
    folder = tmp_path / "state"
    before = os.umask(0)
    try:
        TokenFile(folder, MORNING)
    finally:
        os.umask(before)
    assert stat.S_IMODE((folder / NAME).stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.parametrize(
    "damage",
    [b"", b"{", b"[1]", b"\xff\xfe", b'{"format":"tocsin-boards/2"}', b"[" * 100_000,
     b'{"made":"2031-03-01T09:00:00Z","tokens":{"watch":"","mark":"","steer":""}}',
     b'{"made":"yesterday","tokens":{"watch":"wwwwwwwwwwwwwwwwwwwwww","mark":"m","steer":"s"}}'],
)  # fmt: skip
def test_a_damaged_file_is_replaced(tmp_path, damage):
    (tmp_path / NAME).write_bytes(damage)
    kept = TokenFile(tmp_path, MORNING).kept
    assert all(msgspec.structs.astuple(kept.tokens))
    assert written(tmp_path)["tokens"]["steer"] == kept.tokens.steer


def test_a_folder_that_cannot_be_written_costs_a_sentence_and_nothing_else(tmp_path):
    (tmp_path / "state").write_text("a file in the way", "utf-8")
    kept = TokenFile(tmp_path / "state", MORNING)
    assert "boards scan the code again" in kept.trouble
    assert kept.kept.tokens.watch


def test_what_it_keeps_is_nobodys_name(tmp_path):
    TokenFile(tmp_path, MORNING).keep([BOARD], 8737)
    wait_for(lambda: written(tmp_path)["boards"])
    found = written(tmp_path)
    assert set(found) == {"format", "made", "tokens", "boards", "port", "address"}
    assert set(found["boards"][0]) == {"number", "right", "token", "here", "id"}


def test_the_newest_is_what_stands_in_the_end(tmp_path):
    file = TokenFile(tmp_path, MORNING)
    for port in range(20_000, 20_050):
        file.keep([], port)
    wait_for(lambda: not [one for one in threading.enumerate() if one.name == "boards-file"])
    assert written(tmp_path)["port"] == 20_049


def test_forgotten_tokens_are_made_anew_and_what_is_not_there_is_forgotten_too(tmp_path):
    forget_tokens(tmp_path)
    first = TokenFile(tmp_path, MORNING)
    forget_tokens(tmp_path)
    assert TokenFile(tmp_path, MORNING).kept.tokens != first.kept.tokens


def test_a_folder_in_its_place_is_told_with_its_fix(tmp_path):
    (tmp_path / NAME).mkdir()
    with pytest.raises(UsageError) as told:
        forget_tokens(tmp_path)
    assert told.value.hint
