"""The command line's frame: help, version, what is not there, and how little of it is loaded for that."""

import logging
import os
import subprocess
import sys
from pathlib import Path

import pytest

import tocsin
from tocsin.cli.main import COMMANDS, main

HEAVY = ("pydantic", "pygame", "numpy", "rich", "serial")


def leaves(arguments: list[str]) -> object:
    """Return the exit code of a call that ends the program by itself."""
    with pytest.raises(SystemExit) as left:
        main(arguments)
    return left.value.code


def test_help_names_every_command_and_shows_examples(capsys: pytest.CaptureFixture[str]) -> None:
    assert leaves(["--help"]) == 0
    out = capsys.readouterr().out
    assert "examples:" in out
    assert all(f"\n    {command}" in out for command in COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_shows_examples_that_begin_with_it(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert leaves([command, "--help"]) == 0
    assert f"examples:\n  tocsin {command}" in capsys.readouterr().out


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert leaves(["--version"]) == 0
    assert capsys.readouterr().out == f"tocsin {tocsin.__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [(["qqq"], "s: run, "), (["chek"], "did you mean `tocsin check`?"), (["frobnicate"], "no command 'frobnicate'")],
)
def test_a_command_that_is_not_there_is_one_line_and_a_hint(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert says in captured.err
    assert captured.err.startswith("tocsin: ")
    assert len(captured.err.splitlines()) == 2


def test_without_a_command_a_script_reads_help_and_is_told_that_it_does_not_fit(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main([]) == 2
    captured = capsys.readouterr()
    assert all(f"\n    {command}" in captured.out for command in COMMANDS)
    assert captured.err == ""


@pytest.mark.parametrize(
    "arguments", [["--nix"], ["check", "--nix"], ["init"], ["init", "x", "--home"], ["devices", "x"]]
)
def test_arguments_that_do_not_fit_are_one_line_and_a_hint(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert leaves(arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 2


@pytest.mark.devices
@pytest.mark.parametrize("arguments", [["--help"], ["--version"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    script = (
        "import sys\n"
        "from tocsin.cli.main import main\n"
        "try:\n"
        f"    main({arguments!r})\n"
        "finally:\n"
        f"    print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "[]\n")


@pytest.mark.devices
@pytest.mark.parametrize("module", ["argparse", "tocsin.cli.lines", "tocsin.cli.parser", "tocsin.errors"])
def test_an_interrupt_while_the_command_line_itself_is_loaded_ends_it_quietly(module: str) -> None:
    script = (
        "import runpy, signal, sys\n"
        "def struck(event, facts):\n"
        f"    if event == 'import' and facts[0] == {module!r}: signal.raise_signal(signal.SIGINT)\n"
        "sys.addaudithook(struck)\n"
        "runpy.run_module('tocsin', run_name='__main__')\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.devices
def test_a_reader_that_goes_away_is_no_fault() -> None:
    reading = subprocess.Popen([sys.executable, "-c", "pass"], stdin=subprocess.PIPE)
    reading.wait(30)
    writing = subprocess.run(
        [sys.executable, "-m", "tocsin", "check", "full", "--json"],
        stdout=reading.stdin, stderr=subprocess.PIPE, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert reading.stdin is not None
    reading.stdin.close()
    assert (writing.returncode, writing.stderr) == (0, "")


@pytest.mark.devices
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a file that is always full")
@pytest.mark.parametrize(
    "arguments",
    [
        ["--help"], ["check", "--help"], ["--version"], ["check", "full"], ["preview", "--plan", "full"],
        ["devices", "--rig", "nothing"], ["runs"], ["export", "--to", "json"], ["export", "--to", "page"],
    ],
)  # fmt: skip
@pytest.mark.parametrize("at_once", ["", "1"], ids=["kept back", "written at once"])
def test_an_output_that_is_full_is_one_line_and_a_hint(arguments: list[str], at_once: str, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONUNBUFFERED": at_once, "XDG_DATA_HOME": str(tmp_path)}
    with Path("/dev/full").open("wb") as full:             # full(4): writes fail with ENOSPC
        done = subprocess.run(
            [sys.executable, "-m", "tocsin", *arguments],
            stdout=full, stderr=subprocess.PIPE, text=True, timeout=60, check=False, env=env,
        )  # fmt: skip
    assert done.stderr.splitlines() == [
        "tocsin: the output cannot be written: no space left on device",
        "  it is full: make room, or send it to another place",
    ]
    assert done.returncode == 22


@pytest.mark.devices
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a file that is always full")
def test_where_no_error_can_be_told_the_exit_code_tells_it() -> None:
    with Path("/dev/full").open("wb") as full:
        command = [sys.executable, "-m", "tocsin", "chek"]
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=full, timeout=60, check=False)
    assert (done.returncode, done.stdout) == (2, b"")


@pytest.mark.devices
@pytest.mark.skipif(sys.platform == "win32", reason="os.kill ends a process there")
@pytest.mark.parametrize(
    ("arguments", "begins", "says"),
    [
        (["react"], "_find_and_load", ""),
        (["drill", "words", "--screen", "none"], "_find_and_load", ""),
        (["init", "team"], "_piped", "\nNothing was written.\n"),
    ],
    ids=["while libraries are loaded", "while fewer are loaded", "at a question"],
)
def test_a_hail_of_interrupts_ends_it_quietly(arguments: list[str], begins: str, says: str, tmp_path: Path) -> None:
    # The hail begins once Ctrl-C is taken and the function named is at work, and lasts until python waits for threads.
    script = (
        "import os, signal, sys, threading, time\n"
        "from tocsin.cli.main import main\n"
        "def at_work():\n"
        "    frame = sys._current_frames()[threading.main_thread().ident]\n"
        "    while frame and frame.f_code.co_name != sys.argv[1]: frame = frame.f_back\n"
        "    return frame and signal.getsignal(signal.SIGINT) is not signal.default_int_handler\n"
        "def hail():\n"
        "    while not at_work(): time.sleep(0.001)\n"
        "    for _ in range(400):\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "        time.sleep(0.002)\n"
        "threading.Thread(target=hail).start()\n"
        "sys.exit(main(sys.argv[2:]))\n"
    )
    silent, unsaid = os.pipe()
    try:
        done = subprocess.run(
            [sys.executable, "-c", script, begins, *arguments],
            stdin=silent, capture_output=True, text=True, timeout=60, check=False, cwd=tmp_path,
        )  # fmt: skip
    finally:
        os.close(silent)
        os.close(unsaid)
    assert (done.returncode, done.stdout, done.stderr) == (130, says, "")
    assert list(tmp_path.iterdir()) == []


def test_what_a_library_says_of_its_font_cache_reaches_nobody(capsys: pytest.CaptureFixture[str]) -> None:
    """It warns so where its cache is built for the first time, which takes longer than five seconds."""
    assert leaves(["--version"]) == 0
    capsys.readouterr()
    assert not logging.getLogger("matplotlib.font_manager").isEnabledFor(logging.WARNING)
