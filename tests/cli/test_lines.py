"""Lines for people on terminals of any width, and where no terminal is."""

import contextlib
import io
import os
import re
import struct
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tocsin.cli.lines import fitted, tell, tell_groups
from tocsin.cli.main import COMMANDS, main

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")]

WORDS = "  CAUTION. Screen and strip light up without warning,\nand sounds come suddenly: look for it in "
PATH = "/media/stick/of/our/team/that/has/a/long/name/and/is/full/2026-03-14_15-09-26"


def written(arguments: list[str], columns: int, folder: Path, typed: str = "", *, as_process: bool = False) -> str:
    """Return what ``tocsin`` writes to a terminal so many columns wide; its process takes half a second to begin, so
    most are functions of this one."""
    import fcntl  # POSIX only
    import termios

    master, slave = os.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    os.write(master, typed.encode())
    with ThreadPoolExecutor(1) as pool:
        text = pool.submit(_read, master)
        try:
            (_run if as_process else _call)(arguments, slave, folder)
        finally:
            os.close(slave)                # then who reads is at the end
        told = text.result()
    os.close(master)
    return told.decode().replace("\r\n", "\n")


def _read(master: int) -> bytes:
    text = b""
    with contextlib.suppress(OSError):     # Linux says so at the end
        while data := os.read(master, 4096):
            text += data
    return text


def _run(arguments: list[str], terminal: int, folder: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "tocsin", *arguments], stdin=terminal, stdout=terminal, stderr=terminal, cwd=folder,
        timeout=60, check=False,
    )  # fmt: skip


def _call(arguments: list[str], terminal: int, folder: Path) -> None:
    with (
        open(terminal, encoding="utf-8", closefd=False) as typed,
        open(terminal, "w", encoding="utf-8", closefd=False) as told,
        pytest.MonkeyPatch.context() as patched,
        contextlib.chdir(folder),
        contextlib.suppress(SystemExit),
    ):
        patched.setattr(sys, "stdin", typed)
        for name in ("stdout", "stderr", "__stdout__"):
            patched.setattr(sys, name, told)
        main(arguments)


@pytest.mark.parametrize("columns", [40, 90])
@pytest.mark.parametrize(
    ("arguments", "typed"),
    [
        (["run", "--resume", "--plan", "full", "--rig", "nothing", "--label", "x"], ""),
        (["run", "--plan", "fulll"], ""),
        (["measure", "--only", "light"], ""),
        (["init", "team"], "\x04"),
        (["run", "--rate", "1000"], ""),
    ],
    ids=["an error", "an unknown name", "a device", "a question", "an argument"],
)
def test_no_terminal_cuts_a_word(arguments: list[str], typed: str, columns: int, tmp_path: Path) -> None:
    text = written(arguments, columns, tmp_path, typed)
    lines = text.splitlines()
    fitting = [line for line in lines if max(map(len, line.split()), default=0) < columns - len("    ")]
    assert fitting
    assert [line for line in fitting if len(line) >= columns] == []
    assert text.split() == written(arguments, 1000, tmp_path, typed).split(), "not a word is lost"


def test_where_no_terminal_is_lines_stay_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert fitted(WORDS + PATH, io.StringIO()) == WORDS + PATH
    assert fitted(WORDS, None) == WORDS
    tell(WORDS + PATH)
    assert capsys.readouterr().out == f"{WORDS}{PATH}\n"


def test_what_goes_on_hangs_and_a_path_stays_whole() -> None:
    import fcntl
    import termios

    master, slave = os.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 40, 0, 0))
    with os.fdopen(slave, "w") as terminal:
        found = fitted(f"{WORDS}{PATH}? ", terminal)
    os.close(master)
    assert found == (
        "  CAUTION. Screen and strip light up\n    without warning,\nand sounds come suddenly: look for it\n"
        f"  in {PATH}? "
    )


def test_groups_of_a_table_share_columns_and_words_break_before_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [["knvb", "Break off 12", "clean, not counted (driven at half speed)", "+17.6"]]
    heads = {"run": False, "what": False, "clean": False, "home s": True}
    tell_groups(heads, [("Friday", rows), ("Thursday", [["pq9g", "Turn 1", "clean", "-0.5"]])], 60)
    lines = [line.rstrip() for line in capsys.readouterr().out.splitlines()]
    first, last = (lines[lines.index(day) + 1] for day in ("Friday", "Thursday"))
    assert first.index("clean") == last.index("clean")
    assert first.endswith("+17.6")
    assert last.endswith(" -0.5")
    tell_groups(heads, [("", rows)], 200)
    assert len(capsys.readouterr().out.splitlines()) == 2, "where there is room nothing breaks"


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_the_help_of_every_command_fits_a_usual_terminal(command: str, tmp_path: Path) -> None:
    told = written([*filter(None, [command]), "--help"], 80, tmp_path).split("\n")
    assert [line for line in told if len(line) > 79] == []


def test_what_is_said_beside_a_command_stays_in_its_column_or_stands_below_it(tmp_path: Path) -> None:
    told = written(["--help"], 80, tmp_path, as_process=True)
    beside = " " * 47
    assert re.search(rf"  tocsin init my_team +your own game, plans and drills,\n{beside}from ten short", told)
    below = written(["run", "--help"], 80, tmp_path, as_process=True)
    assert "  tocsin run --from 0:35\n      the same, by what the official display shows in the last period\n" in below


def test_a_paragraph_of_help_is_filled_anew_and_a_pipe_gets_it_as_it_is(tmp_path: Path) -> None:
    told = written(["--help"], 80, tmp_path)
    assert "all commands use what that file\nnames, and say so; options win over it." in told
    piped = subprocess.run(
        [sys.executable, "-m", "tocsin", "--help"], capture_output=True, text=True, timeout=60, check=False
    ).stdout
    assert max(map(len, piped.splitlines())) > 100
