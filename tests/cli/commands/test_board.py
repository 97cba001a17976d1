"""``tocsin board``: addresses for programs, new tokens, and what it refuses."""

import re
import stat
import sys

import pytest

from tocsin.cli.main import main
from tocsin.journal.place import state_folder
from tocsin.runner.boards.tokens import NAME, kept_tokens
from tocsin.service.messages import RIGHTS

WALL = "2031-03-01T10:00:00.000Z"


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return state_folder()


def address(capsys, right):
    assert main(["board", "--address", right]) == 0
    return capsys.readouterr()


def test_each_right_has_an_address_of_its_own_alone_on_stdout_and_who_may_have_it_beside(capsys):
    told = {right: address(capsys, right) for right in RIGHTS}
    found = [re.fullmatch(r"http://127\.0\.0\.1:8737/#t=([\w-]{22})\n", told[right].out) for right in RIGHTS]
    assert len({match[1] for match in found}) == 3
    for right in RIGHTS:
        assert "Whoever has this address may" in told[right].err
        assert "It holds until" in told[right].err
    assert "only for programs and laptops that you trust" in " ".join(told["steer"].err.split())


def test_it_is_the_same_until_new_tokens_are_asked_for(capsys):
    first = address(capsys, "steer").out
    assert address(capsys, "steer").out == first
    assert main(["board", "--new-token"]) == 0
    assert "scans the code again" in capsys.readouterr().out
    assert address(capsys, "steer").out != first


@pytest.mark.skipif(sys.platform == "win32", reason="modes of files are POSIX")
def test_tokens_are_closed_to_others(state, capsys):
    address(capsys, "watch")
    assert stat.S_IMODE((state / NAME).stat().st_mode) == 0o600


def test_the_address_is_where_boards_were_served_last_and_reading_it_writes_nothing(state):
    from tocsin.runner.boards.tokens import TokenFile

    file = TokenFile(state, WALL)
    file.keep((), 49152, "http://192.0.2.5:49152/")
    file.keep((), 49152)                       # while the service is not there
    before = (state / NAME).read_bytes()
    assert file.kept.address == "http://192.0.2.5:49152/"
    assert kept_tokens(state, WALL).tokens == file.kept.tokens
    assert (state / NAME).read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "--try --address --new-token"), (["--address", "all"], "watch"), (["--try", "brek"], "break_off"),
        (["--try", "--new-token"], "not allowed with"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_one_line_and_a_hint(arguments, says, capsys):
    try:
        code = main(["board", *arguments])
    except SystemExit as left:
        code = left.code
    assert code == 2
    assert says in capsys.readouterr().err
