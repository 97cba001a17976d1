"""``tocsin init``: what it writes, keeps and asks."""

import contextlib
import os
import shlex
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tocsin.cli.main import main
from tocsin.config import bundle
from tocsin.config.checking import check
from tocsin.config.load import load
from tocsin.units import NS_PER_S

Output = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def home_s(plan: Path) -> set[float]:
    """Return when a plan calls home, in seconds of the match."""
    firings = load(None, [str(plan)], "nothing").plans[0].timeline.firings
    return {firing.match_ns / NS_PER_S for firing in firings if firing.cue == "home" and firing.match_ns is not None}


def test_all_files_are_written_and_have_no_mistakes(folder: Path, capsys: Output) -> None:
    assert main(["init", "our team", "--home", "7s", "--off", "4s"]) == 0
    out = capsys.readouterr().out
    team = folder / "our team"
    assert check([f"{team}/"]) == ()
    assert len(list(team.rglob("*.toml"))) == 1 + sum(len(bundle.names(kind)) for kind in bundle.KINDS)
    assert home_s(team / "plans" / "first.toml") == {158 - 20 - 4}      # common practice, no source: window 20 s, 158 s
    assert out.count("wrote ") == len(list(team.rglob("*.toml")))
    assert "no times were written" not in out


@pytest.mark.parametrize(
    ("home", "says", "lead"),
    [
        # 20 s of the window and 5 s before it hold the way home and 4 s to notice and turn, up to 21 s.
        ("7s", "as long as it does, it changes nothing", 'break_off = "5s"'),
        ("21s", "as long as it does, it changes nothing", 'break_off = "5s"'),
        ("21.1s", "The 5s to break off a push stand nowhere in the plan", 'home = "25.1s"'),
    ],
)
def test_what_followed_from_the_answers_is_said(home: str, says: str, lead: str, folder: Path, capsys: Output) -> None:
    assert main(["init", "team", "--home", home, "--off", "5s"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    name, _, value = lead.partition(" = ")
    assert says in words
    assert f"the lead {name}" in words
    assert f"Home is called {value.strip(chr(34))} before" in words
    assert lead in (folder / "team" / "plans" / "first.toml").read_text(encoding="utf-8")
    assert main(["init", "team", "--home", home, "--off", "5s"]) == 0
    assert "Home is called" not in capsys.readouterr().out             # the plan that stood there was kept


@pytest.mark.skipif(sys.platform == "win32", reason="shlex reads a POSIX command line")
def test_the_next_commands_can_be_typed_as_they_stand(capsys: Output) -> None:
    main(["init", "our team", "--home", "7s", "--off", "4s"])
    lines = capsys.readouterr().out.splitlines()
    commands = [shlex.split(line) for line in lines if line.startswith("  tocsin ")]
    assert [command[1] for command in commands] == ["check", "run"]
    assert main(commands[0][1:]) == 0
    assert load(None, [commands[1][3]], "nothing")


def test_without_a_terminal_the_examples_are_taken_and_that_is_said(
    folder: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        assert main(["init", "team", "--off", "6s"]) == 0
    out = capsys.readouterr().out
    assert "7s is taken; --home TIME sets it" in out
    assert "--off" not in out
    assert home_s(folder / "team" / "plans" / "first.toml") == {158 - 20 - 6}


def piped(typed: bytes, *arguments: str) -> tuple[int, str, str]:
    """Return exit code, stdout and stderr of ``tocsin init team`` with a pipe as its input."""
    command = [sys.executable, "-m", "tocsin", "init", "team", *arguments]
    strict = {**os.environ, "PYTHONIOENCODING": "utf-8:strict"}            # as where the locale is a usual one
    done = subprocess.run(command, input=typed, capture_output=True, env=strict, timeout=60, check=False)
    return done.returncode, done.stdout.decode(), done.stderr.decode()


@pytest.mark.devices
@pytest.mark.parametrize(
    ("typed", "arguments", "off"),
    [
        (b"25s\n5s\n", (), "5s"),
        (b"25\r\n6 s", (), "6s"),
        (b"25s\n", (), "4s"),
        (b"5s\n", ("--home", "25s"), "5s"),
    ],
    ids=["both", "plain seconds, no last line end", "the input ends before the second", "only what is missing"],
)
def test_answers_that_are_piped_in_are_taken(
    typed: bytes, arguments: tuple[str, ...], off: str, folder: Path
) -> None:
    code, out, err = piped(typed, *arguments)
    assert (code, err) == (0, "")
    assert ("robot need home?" in out) == ("--home" not in arguments)
    assert "7s is taken" not in out
    assert ("4s is taken; --off TIME sets it" in out) == (off == "4s")
    assert main(["init", "same", "--home", "25s", "--off", off]) == 0
    assert main(["init", "other", "--home", "7s", "--off", off]) == 0
    plan, same, other = ((folder / name / "plans" / "first.toml").read_bytes() for name in ("team", "same", "other"))
    assert plan == same
    assert plan != other                           # the way home takes longer than the window, so it counts


@pytest.mark.devices
@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (b"seven\n5s\n", "'seven'"),
        (b"9s\n9 sec\n", "did you mean 9s?"),
        (b"\n", "The line is empty"),
        (b"0s\n", "--home 0s is no time to get home in"),
        (b"\xff\xfe9\x00\n", "The input is no text"),
    ],
)
def test_what_is_piped_in_and_is_no_time_is_refused_and_nothing_is_written(
    typed: bytes, says: str, folder: Path
) -> None:
    code, _, err = piped(typed)
    assert code == 2
    assert says in err
    assert len(err.splitlines()) == 2
    assert list(folder.iterdir()) == []


def test_files_that_are_there_are_kept_unless_they_are_to_be_overwritten(folder: Path, capsys: Output) -> None:
    main(["init", "team", "--home", "7s", "--off", "4s"])
    mine = folder / "team" / "plans" / "first.toml"
    mine.write_text("mine", encoding="utf-8")
    capsys.readouterr()
    assert main(["init", "team", "--home", "7s", "--off", "5s"]) == 0
    out = capsys.readouterr().out
    assert mine.read_text(encoding="utf-8") == "mine"
    assert f"kept {Path('team', 'plans', 'first.toml')}" in out
    assert f"So no times were written: {Path('team', 'plans', 'first.toml')} has those" in out
    assert "wrote" not in out
    assert main(["init", "team", "--home", "7s", "--off", "5s", "--overwrite"]) == 0
    assert home_s(mine) == {158 - 20 - 5}


def test_the_first_plan_is_for_the_game_that_stands_beside_it(folder: Path) -> None:
    main(["init", "team", "--home", "7s", "--off", "4s"])
    (folder / "team" / "plans" / "first.toml").unlink()
    game = folder / "team" / "games" / "harbour_haul.toml"
    game.write_text(game.read_text(encoding="utf-8").replace("driver.end-20s", "driver.end-30s"), encoding="utf-8")
    assert main(["init", "team", "--home", "7s", "--off", "4s"]) == 0
    assert home_s(folder / "team" / "plans" / "first.toml") == {158 - 30 - 4}


@pytest.mark.parametrize("game", [*bundle.names("games"), "mine.toml"])
def test_a_first_plan_for_any_game(game: str, folder: Path) -> None:
    text = (bundle.root() / "games" / "harbour_haul.toml").read_text(encoding="utf-8")
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    assert main(["init", "team", "--home", "7s", "--off", "4s", "--game", game]) == 0
    assert home_s(folder / "team" / "plans" / "first.toml")


def test_a_game_that_lies_elsewhere_is_copied_to_where_a_plan_may_name_it(folder: Path, capsys: Output) -> None:
    text = (bundle.root() / "games" / "harbour_haul.toml").read_text(encoding="utf-8")
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    new = ["init", "team", "--home", "7s", "--off", "4s", "--game", str(folder / "mine.toml")]
    assert main(new) == 0
    copy = folder / "team" / "games" / "mine.toml"
    assert copy.read_text(encoding="utf-8") == text
    assert f"wrote {Path('team', 'games', 'mine.toml')}" in capsys.readouterr().out
    (folder / "team" / "plans" / "first.toml").unlink()
    assert main(new) == 0
    (folder / "team" / "plans" / "first.toml").unlink()
    copy.write_text(text + "# changed\n", encoding="utf-8")
    assert main(new) == 2
    assert "is another game" in capsys.readouterr().err
    assert copy.read_text(encoding="utf-8").endswith("# changed\n")


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["team", "--home", "7s", "--off", "9min"], 2, "--off 9min is too long: 'Driver-controlled' has run for 100s"),
        (["team", "--home", "0s", "--off", "4s"], 2, "--home 0s is no time to get home in"),
        (["team", "--home", "7s", "--off", "4s", "--game", "harbor"], 2, "bundled games"),
        (["file", "--home", "7s", "--off", "4s"], 2, "no folder"),
        (["file/below", "--home", "7s", "--off", "4s"], 2, "cannot be written"),
        (["", "--home", "7s", "--off", "4s"], 2, "no folder"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(
    arguments: list[str], code: int, says: str, folder: Path, capsys: Output
) -> None:
    (folder / "file").write_text("mine", encoding="utf-8")
    assert main(["init", *arguments]) == code
    captured = capsys.readouterr()
    assert says in captured.err
    assert "Traceback" not in captured.err
    assert [path.name for path in folder.rglob("*")] == ["file"]


def test_an_option_that_is_no_time_is_refused_with_the_likely_fix(folder: Path, capsys: Output) -> None:
    with pytest.raises(SystemExit) as left:
        main(["init", "team", "--home", "7"])
    assert left.value.code == 2
    assert "did you mean 7s?" in capsys.readouterr().err
    assert list(folder.iterdir()) == []


class Asked:
    """``tocsin init`` with a person at its terminal, here a pseudo-terminal."""

    def __init__(self, *arguments: str) -> None:
        self._master, slave = os.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tocsin", "init", "team", *arguments],
            stdin=slave, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
        )  # fmt: skip
        os.close(slave)

    def type(self, text: str) -> None:
        """Type; what is typed ahead waits in the terminal."""
        os.write(self._master, text.encode())

    def await_question(self) -> None:
        """Wait until something is asked."""
        assert self.process.stdout is not None
        assert os.read(self.process.stdout.fileno(), 4096)

    def interrupt(self) -> None:
        """Press Ctrl-C, as people do: again if the first one came before the answer was waited for."""
        while self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(0.5)

    def end(self) -> tuple[int, str, str]:
        """Return exit code, stdout and stderr."""
        out, err = self.process.communicate(timeout=60)
        return self.process.returncode, out.decode(), err.decode()

    def close(self) -> None:
        """Leave nothing behind."""
        self.process.kill()
        self.process.communicate(timeout=10)
        os.close(self._master)


@pytest.fixture
def asked() -> Iterator[type[Asked]]:
    """Give people at terminals; all of them leave at the end."""
    if sys.platform == "win32":
        pytest.skip("there are no pseudo-terminals")
    there: list[Asked] = []

    class Kept(Asked):
        def __init__(self, *arguments: str) -> None:
            super().__init__(*arguments)
            there.append(self)

    yield Kept
    for one in there:
        one.close()


@pytest.mark.devices
def test_bad_answers_are_asked_again_with_the_likely_fix(folder: Path, asked: type[Asked]) -> None:
    person = asked()
    person.type("seven\n9 sec\n9s\n\n5s\n")
    code, out, err = person.end()
    assert (code, err) == (0, "")
    assert "write a time with its unit" in out
    assert "did you mean 9s?" in out
    assert out.count("How long does the robot need home?") == 3
    assert out.count("How early must a call come so that a push is broken off?") == 2
    assert home_s(folder / "team" / "plans" / "first.toml") == {158 - 20 - 5}


@pytest.mark.devices
@pytest.mark.parametrize(("answer", "taken", "off_s"), [("5", "5s", 5), ("5 s", "5s", 5), ("4,5", "4.5s", 4.5)])
def test_an_answer_in_plain_seconds_is_taken_and_that_is_said(
    answer: str, taken: str, off_s: float, folder: Path, asked: type[Asked]
) -> None:
    person = asked("--home", "7s")
    person.type(f"{answer}\n")
    code, out, err = person.end()
    assert (code, err) == (0, "")
    assert f"  {answer} is taken as {taken}\n" in out
    assert home_s(folder / "team" / "plans" / "first.toml") == {158 - 20 - off_s}


@pytest.mark.devices
def test_only_what_is_missing_is_asked(folder: Path, asked: type[Asked]) -> None:
    person = asked("--home", "7s")
    person.type("6s\n")
    code, out, _ = person.end()
    assert (code, "robot need home" in out) == (0, False)
    assert home_s(folder / "team" / "plans" / "first.toml") == {158 - 20 - 6}


@pytest.mark.devices
def test_only_the_answer_that_does_not_fit_is_asked_again(folder: Path, asked: type[Asked]) -> None:
    person = asked()
    person.type("0s\n7s\n9min\n4s\n")
    code, out, _ = person.end()
    assert code == 0
    assert "  0s is no time to get home in\n" in out
    assert "  9min is too long: 'Driver-controlled' has run for 100s when 'Keep off their berth' begins\n" in out
    assert out.count("How long does the robot need home?") == 2
    assert out.count("How early must a call come so that a push is broken off?") == 2
    assert home_s(folder / "team" / "plans" / "first.toml") == {158 - 20 - 4}


@pytest.mark.devices
@pytest.mark.parametrize("way", ["ctrl_d", "ctrl_c"])
def test_leaving_at_a_question_writes_nothing(way: str, folder: Path, asked: type[Asked]) -> None:
    person = asked()
    person.await_question()
    if way == "ctrl_d":
        person.type("\x04")
    else:
        person.interrupt()
    code, out, err = person.end()
    assert (code, err) == (130, "")
    assert "Nothing was written." in out
    assert list(folder.iterdir()) == []


@pytest.mark.devices
def test_of_two_at_once_one_writes_all_and_the_other_says_so(folder: Path) -> None:
    def begun(home: str) -> subprocess.Popen[str]:
        command = [sys.executable, "-m", "tocsin", "init", "team", "--home", home, "--off", "4s"]
        return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    both = [begun("6s"), begun("9s"), begun("8s"), begun("7s")]
    ended = [(*process.communicate(timeout=100), process.returncode) for process in both]
    whole = [out for out, err, code in ended if code == 0 and "kept" not in out]
    assert len(whole) == 1, ended
    assert whole[0].count("wrote") == len(list((folder / "team").rglob("*.toml")))
    for out, err, code in ended:
        if out not in whole:                   # it came in between, or after: either is said
            assert (code == 2 and "was made by another program just now: nothing was written" in err) or "kept" in out
            assert "Traceback" not in err
    assert [path.name for path in folder.iterdir()] == ["team"]
