"""``--board`` of run, drill and evening: what is refused, and that without it there is no socket and no web server."""

import importlib.machinery
import json
import subprocess
import sys
from pathlib import Path

import pytest

from tocsin.cli.main import main

Output = pytest.CaptureFixture[str]
RUN = ["run", "--start", "now", "--rate", "100", "--screen", "none"]
# What the program does itself is told by Python's audit events (PEP 578), and by what it has loaded at the end.
AUDITED = """
import json, sys
sockets = []
sys.addaudithook(lambda event, args: sockets.append(event) if event.startswith("socket.") else None)
from tocsin.cli.main import main
code = main(sys.argv[1:])
loaded = [name for name in sys.modules if name.split(".")[0] in ("tornado", "segno")]
ours = [name for name in sys.modules if name.startswith(("tocsin.runner.boards.link", "tocsin.export"))]
print(json.dumps([code, sockets, loaded, ours]), file=sys.stderr)
"""


def refused(capsys: Output, *arguments: str) -> list[str]:
    """Return what a refused call says on stderr; nothing else is said."""
    try:
        code = main(list(arguments))
    except SystemExit as left:
        code = int(left.code or 0)
    captured = capsys.readouterr()
    assert (code, captured.out) == (2, "")
    return captured.err.splitlines()


@pytest.mark.parametrize("command", [["run"], ["drill", "break_off"]])
def test_what_is_no_address_is_refused(command: list[str], capsys: Output) -> None:
    lines = refused(capsys, *command, "--board", "wlan0")
    assert "'wlan0' is no address; write --board lan" in " ".join(lines)


def test_a_drill_behind_the_option_is_told_where_to_stand(capsys: Output) -> None:
    assert "--board as the last word" in " ".join(refused(capsys, "drill", "--board", "break_off"))


@pytest.mark.parametrize("board", [["--board"], ["--board", "lan"]])
def test_at_an_event_there_are_no_boards(board: list[str], capsys: Output) -> None:
    lines = refused(capsys, "run", "--at", "event", "--match", "3", *board)
    assert "other people share the network" in lines[0]
    assert "leave --board out" in " ".join(lines)


def test_new_tokens_without_boards_are_a_mistake(capsys: Output) -> None:
    assert "--new-token goes with --board" in refused(capsys, "run", "--new-token")[0]


def test_an_address_of_another_laptop_is_refused_before_anything_is_opened(
    capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    # TEST-NET-1 (RFC 5737) is nobody's.
    lines = refused(capsys, *RUN, "--rig", "nothing", "--runs", str(tmp_path / "runs"), "--board", "192.0.2.77")
    assert "no such address" in lines[0]
    assert not (tmp_path / "state" / "tocsin" / "boards.json").exists()


@pytest.mark.parametrize("missing", ["tornado", "segno"])
def test_without_the_extra_the_one_command_is_told(
    missing: str, capsys: Output, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    finds = importlib.machinery.PathFinder.find_spec

    def find_spec(name, path=None, target=None):
        return None if name == missing else finds(name, path, target)

    monkeypatch.setattr(importlib.machinery.PathFinder, "find_spec", find_spec)
    monkeypatch.delitem(sys.modules, missing, raising=False)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    lines = refused(capsys, *RUN, "--runs", str(tmp_path / "runs"), "--board")
    assert 'pip install "tocsin[board]"' in " ".join(lines)


@pytest.mark.devices
def test_without_it_no_socket_is_opened_and_no_web_server_loaded(tmp_path: Path) -> None:
    command = [*RUN, "--runs", str(tmp_path / "runs"), "--only", "light"]
    done = subprocess.run(
        [sys.executable, "-c", AUDITED, *command], capture_output=True, text=True, timeout=200, check=False,
    )  # fmt: skip
    code, sockets, loaded, ours = json.loads(done.stderr.splitlines()[-1])
    assert code in (0, 21), done.stderr
    assert (sockets, loaded, ours) == ([], [], [])
