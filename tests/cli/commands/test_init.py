"""``tocsin init``: what it writes, keeps, asks and brings up to date."""

import contextlib
import os
import shlex
import signal
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.config.own_project import PATTERNS
from tocsin.cli.main import main
from tocsin.config import bundle
from tocsin.config.checking import check
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.config.project import find_project
from tocsin.journal.people import People
from tocsin.units import NS_PER_S

Output = pytest.CaptureFixture[str]
# All questions about an invented game of 136 s, contact costs in its last 18 s; both times come with each test.
GAME = shlex.split(
    "--autonomous 28s --pause 11s --driver 1:37 --digits 0:20 --counts period --windows 0:18 --contact 9"
)
NOBODY = ["--who", "none"]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def init(*arguments: str, home: str = "7s", off: str = "4s") -> int:
    """Return the exit code of ``tocsin init`` with an option for each question."""
    return main(["init", *arguments, *GAME, *NOBODY, "--home", home, "--off", off])


def home_s(plan: Path) -> set[float]:
    """Return when a plan calls home, in seconds of the match."""
    firings = load(None, [str(plan)], "nothing").plans[0].timeline.firings
    return {firing.match_ns / NS_PER_S for firing in firings if firing.cue == "home" and firing.match_ns is not None}


def first(team: Path) -> Path:
    """Return a team's first plan."""
    return team / "plans" / "first.toml"


def leads(plan: Path) -> dict[str, str]:
    """Return a plan's leads as they are written."""
    found: dict[str, str] = tomllib.loads(plan.read_text(encoding="utf-8"))["lead"]
    return found


def texts(folder: Path) -> dict[str, str]:
    """Return the text of each TOML file in a folder, by its path there."""
    paths = sorted(folder.rglob("*.toml"))
    return {path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8") for path in paths}


def test_a_project_is_written_whose_files_point_to_each_other(folder: Path, capsys: Output) -> None:
    assert init("our team") == 0
    out = capsys.readouterr().out
    team = folder / "our team"
    assert check([f"{team}/"]) == ()
    assert out.count("wrote ") == len(texts(team)) == 13
    assert "Checked: 13 files without a mistake." in out
    project = find_project(team, {})
    assert project is not None
    assert project.project.name == "Our team"
    assert project.plans == (str(first(team)),)
    assert project.event_plan == str(team / "plans" / "quiet.toml")
    assert project.runs == team / "runs"
    found = load(None, project.plans, str(project.rig))
    assert found.game.name == "Our team's game"
    assert home_s(first(team)) == {136 - 18 - 4}               # 28, 11 and 97 s; the last 18 s; 4 s ahead
    for drill in project.drills:
        loaded = load_drill(drill, str(project.rig))
        assert loaded.drill.name == "Words" or loaded.files.game == found.game
    assert [Path(drill).stem for drill in project.drills] == ["words", "turn", "break_off"]


def test_commands_mean_the_project_that_was_written(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    assert init("team") == 0
    monkeypatch.delenv("TOCSIN_PROJECT", raising=False)
    monkeypatch.chdir(folder / "team")
    capsys.readouterr()
    assert main(["check"]) == 0
    captured = capsys.readouterr()
    assert "no mistakes and no findings" in captured.out
    assert "project Team (tocsin.toml)" in captured.err
    assert main(["preview"]) == 0
    captured = capsys.readouterr()
    assert "Team's game" in captured.out
    assert "plan first" in captured.err


def test_this_folder_can_be_the_project(folder: Path, capsys: Output) -> None:
    here = folder / "bell-crew"
    here.mkdir()
    (here / "pyproject.toml").write_text("[project]\nname = \"mine\"\n", encoding="utf-8")
    os.chdir(here)
    assert init(".") == 0                                      # TOML of other tools is none of ours
    assert 'name = "Bell crew"' in (here / "tocsin.toml").read_text(encoding="utf-8")
    assert "  cd" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("home", "says", "lead"),
    [
        # 18 s of the window and 5 s before it hold the way home and 4 s to notice and turn, up to 19 s.
        ("7s", "are left: enough for the way home", ("break_off", "5s")),
        ("19s", "are left: enough for the way home", ("break_off", "5s")),
        ("19.1s", "No call uses the 5s to break off a push", ("home", "23.1s")),
    ],
)
def test_what_followed_from_the_answers_is_said(
    home: str, says: str, lead: tuple[str, str], folder: Path, capsys: Output
) -> None:
    assert init("team", home=home, off="5s") == 0
    words = " ".join(capsys.readouterr().out.split())
    name, value = lead
    assert says in words
    assert f"the lead {name}" in words
    assert f"Home is called {value} before" in words
    assert leads(first(folder / "team"))[name] == value


@pytest.mark.skipif(sys.platform == "win32", reason="shlex reads a POSIX command line")
def test_the_next_commands_can_be_typed_as_they_stand(capsys: Output) -> None:
    init("our team")
    lines = capsys.readouterr().out.splitlines()
    typed = [shlex.split(line) for line in lines if line.startswith("  ")]
    assert typed == [["cd", "our team"], ["tocsin"]]


def test_without_a_terminal_the_usual_answers_are_taken_and_that_is_said(
    folder: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        assert main(["init", "team", "--off", "6s"]) == 0
    out = capsys.readouterr().out
    assert "7s is used; --home sets it" in out
    assert "--off" not in out
    assert out.count(" is used; --") == 9
    assert home_s(first(folder / "team")) == {28 + 97 - 18 - 6}


def test_with_all_options_nothing_is_asked(folder: Path, capsys: Output) -> None:
    assert init("team") == 0                                   # what is captured here cannot be read from
    assert "is taken" not in capsys.readouterr().out


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
        (b"25s\n\n", (), "4s"),
        (b"5s\n", ("--home", "25s"), "5s"),
    ],
    ids=["both", "plain seconds, no last line end", "the input ends", "an empty line", "only what is missing"],
)
def test_answers_that_are_piped_in_are_taken(
    typed: bytes, arguments: tuple[str, ...], off: str, folder: Path
) -> None:
    code, out, err = piped(typed, *GAME, *NOBODY, *arguments)
    assert (code, err) == (0, "")
    assert ("robot's way home?" in out) == ("--home" not in arguments)
    assert "7s is taken" not in out
    assert ("4s is used; --off sets it" in out) == (off == "4s")
    assert init("same", home="25s", off=off) == 0
    assert init("other", home="7s", off=off) == 0
    plan, same, other = (first(folder / name).read_text("utf-8") for name in ("team", "same", "other"))
    assert plan.replace("Team's", "Same's") == same
    assert plan.replace("Team's", "Other's") != other          # the way takes longer than the window, so it counts


@pytest.mark.devices
@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (b"seven\n5s\n", "'seven'"),
        (b"9s\n9 sec\n", "did you mean 9s?"),
        (b"0s\n", "--home 0s cannot be the way home"),
        (b"\xff\xfe9\x00\n", "The input is no text"),
    ],
)
def test_what_is_piped_in_and_is_no_time_is_refused_and_nothing_is_written(
    typed: bytes, says: str, folder: Path
) -> None:
    code, _, err = piped(typed, *GAME, *NOBODY)
    assert code == 2
    assert says in err
    assert len(err.splitlines()) == 2
    assert list(folder.iterdir()) == []


# -- who plays ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", [["--who", "Ann, Ben; Cleo"],
                                 ["--who", "A.driver=Ann", "--who", "operator=Ben", "--who", "B.driver=Cleo"]])
def test_people_stand_in_the_project_by_key_and_by_name_in_one_private_file(who: list[str], folder: Path) -> None:
    assert main(["init", "team", *GAME, *who, "--home", "7s", "--off", "4s"]) == 0
    project = find_project(folder / "team", {})
    assert project is not None
    names = People(folder / "team" / "runs").names
    crews = project.project.crews
    assert {crew: {role: names[key] for role, key in people.items()} for crew, people in crews.items()} == {
        "A": {"driver": "Ann", "operator": "Ben"}, "B": {"driver": "Cleo"},
    }  # fmt: skip
    written = [path for path in (folder / "team").rglob("*") if path.is_file() and b"Cleo" in path.read_bytes()]
    assert written == [folder / "team" / "runs" / "people.json"]
    if os.name == "posix":
        assert written[0].stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("who", "says"),
    [
        ("A; B; C; D", "are 4 crews"),
        ("pilot=Ann", "roles: driver"),
        ("Ann, driver=Ben", "driver of crew A is given twice"),
    ],
)
def test_people_who_cannot_be_are_refused_and_nothing_is_written(
    who: str, says: str, folder: Path, capsys: Output
) -> None:
    assert main(["init", "team", *GAME, "--who", who, "--home", "7s", "--off", "4s"]) == 2
    assert says in " ".join(capsys.readouterr().err.split())
    assert list(folder.iterdir()) == []


# -- a project that is there ----------------------------------------------------------------------------------------


def test_a_second_init_sees_the_answers_and_keeps_what_people_changed(folder: Path, capsys: Output) -> None:
    init("team", home="9s", off="5s")
    before = texts(folder / "team")
    capsys.readouterr()
    assert main(["init", "team"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "In plans/first.toml: 9s for the way home and 5s to break off a push." in out
    assert "wrote" not in out
    assert texts(folder / "team") == before


def test_the_same_command_again_changes_nothing(folder: Path, capsys: Output) -> None:
    assert init("team") == 0
    before = texts(folder / "team")
    capsys.readouterr()
    assert init("team") == 0
    assert "wrote" not in capsys.readouterr().out
    assert texts(folder / "team") == before


def test_other_times_are_written_into_plans_and_drills(folder: Path) -> None:
    init("team", home="9s", off="5s")
    assert main(["init", "team", "--home", "30s"]) == 0        # longer than the window: another lead calls home
    init("new", "--name", "Team", home="30s", off="5s")
    assert texts(folder / "team") == texts(folder / "new")
    assert not list((folder / "team").rglob("*.before"))       # nobody had changed what was replaced


def test_in_a_changed_plan_only_the_leads_are_written(folder: Path) -> None:
    init("team")
    plan = first(folder / "team")
    mine = plan.read_text(encoding="utf-8").replace('say = "Home"', 'say = "Home now"  # ours')
    plan.write_text(mine, encoding="utf-8")
    assert main(["init", "team", "--home", "8s", "--off", "5s"]) == 0
    assert leads(plan) == {"break_off": "5s", "home": "12s"}
    assert 'say = "Home now"  # ours' in plan.read_text(encoding="utf-8")
    assert home_s(plan) == {136 - 18 - 5}
    assert check([f"{folder / 'team'}/"]) == ()


def test_other_people_are_written_into_the_project(folder: Path) -> None:
    init("team")
    file = folder / "team" / "tocsin.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("# dates = [", "dates = ["), encoding="utf-8")
    assert main(["init", "team", "--who", "Ann"]) == 0
    assert main(["init", "team", "--who", "B.operator=Ben", "--name", "Bell crew"]) == 0
    project = find_project(folder / "team", {})
    assert project is not None
    assert [(crew, list(people)) for crew, people in project.project.crews.items()] == [
        ("A", ["driver"]), ("B", ["operator"]),
    ]  # fmt: skip
    assert project.project.event.dates == ("2031-03-14",)
    assert project.project.name == "Bell crew"


def test_what_is_about_the_game_is_not_written_over_it_unasked(folder: Path, capsys: Output) -> None:
    init("team")
    before = texts(folder / "team")
    assert main(["init", "team", "--driver", "2:30"]) == 2
    assert "--driver is about the game, which is in team/games/ours.toml" in capsys.readouterr().err
    assert texts(folder / "team") == before


def test_overwriting_asks_anew_keeps_rigs_and_a_copy_of_each_replaced_file(folder: Path) -> None:
    init("team")
    team = folder / "team"
    rig, plan, project = team / "rigs" / "nothing.toml", first(team), team / "tocsin.toml"
    rig.write_text(rig.read_text("utf-8") + "# ours\n", encoding="utf-8")
    mine = plan.read_text("utf-8") + "# ours\n"
    plan.write_text(mine, encoding="utf-8")
    project.write_text(project.read_text("utf-8").replace("# dates = [", "dates = ["), encoding="utf-8")
    assert init("team", "--overwrite", off="5s") == 0
    assert leads(plan)["break_off"] == "5s"
    assert plan.with_name("first.toml.before").read_text("utf-8") == mine
    assert rig.read_text("utf-8").endswith("# ours\n")
    assert "\ndates = [" in project.read_text("utf-8")
    assert init("team", "--overwrite", off="4s") == 0
    assert plan.with_name("first.toml.before2").is_file()
    assert plan.with_name("first.toml.before").read_text("utf-8") == mine


def test_a_game_that_holds_more_than_the_questions_ask_stays(folder: Path, capsys: Output) -> None:
    init("team")
    game = folder / "team" / "games" / "ours.toml"
    more = game.read_text("utf-8") + '\n[[stake]]\nid = "home"\npoints = 10\nto = "us"\n'
    game.write_text(more, encoding="utf-8")
    assert init("team", "--overwrite") == 0
    assert "The game stays as it is in" in capsys.readouterr().out
    assert game.read_text("utf-8") == more


# -- another game ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("game", [*bundle.names("games"), "mine.toml"])
def test_a_project_for_any_game(game: str, folder: Path) -> None:
    text = (bundle.root() / "games" / "casting_day.toml").read_text(encoding="utf-8")
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    assert main(["init", "team", "--home", "7s", "--off", "4s", "--game", game, *NOBODY]) == 0
    assert home_s(first(folder / "team"))
    assert check([f"{folder / 'team'}/"]) == ()


def test_a_game_that_lies_elsewhere_is_copied_to_where_a_plan_may_name_it(folder: Path, capsys: Output) -> None:
    text = (bundle.root() / "games" / "casting_day.toml").read_text(encoding="utf-8")
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    new = ["init", "team", "--home", "7s", "--off", "4s", "--game", str(folder / "mine.toml"), *NOBODY]
    assert main(new) == 0
    copy = folder / "team" / "games" / "mine.toml"
    assert copy.read_text(encoding="utf-8") == text
    assert f"wrote {Path('team', 'games', 'mine.toml')}" in capsys.readouterr().out
    copy.write_text(text + "# changed\n", encoding="utf-8")
    for file in ("tocsin.toml", "plans/first.toml"):
        (folder / "team" / file).unlink()
    assert main(new) == 2
    assert "is another game" in capsys.readouterr().err
    assert copy.read_text(encoding="utf-8").endswith("# changed\n")


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["team", "--off", "9min"], 2, "--off 9min is too long: 'Driver-controlled' has run for 79s"),
        (["team", "--home", "0s"], 2, "--home 0s cannot be the way home"),
        (["team", "--windows", "2:30"], 2, "--windows 2:30 is never shown: the drivers have 1:37"),
        (["team", "--windows", "1:30,0:20"], 2, "say until when it lasts: 1:30-0:55"),
        (["team", "--driver", "3s"], 2, "--driver 3s cannot be its length"),
        (["team", "--digits", "0:21"], 2, "write 0:20 or 0:19"),
        (["team", "--counts", "laps"], 2, "write period or match"),
        (["team", "--contact", "-5"], 2, "--contact"),
        (["team", "--game", "bels"], 2, "bundled games"),
        (["file"], 2, "is not a folder"),
        (["file/below"], 2, "cannot be written"),
        ([""], 2, "is not a folder"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(
    arguments: list[str], code: int, says: str, folder: Path, capsys: Output
) -> None:
    (folder / "file").write_text("mine", encoding="utf-8")
    where, *options = arguments
    usual = {**dict(zip(GAME[::2], GAME[1::2], strict=True)), "--home": "7s", "--off": "4s", "--who": "none"}
    usual |= dict(zip(options[::2], options[1::2], strict=True))
    assert main(["init", where, *(f"{name}={value}" for name, value in usual.items())]) == code
    captured = capsys.readouterr()
    assert says in captured.err
    assert "Traceback" not in captured.err
    assert [path.name for path in folder.rglob("*")] == ["file"]


@pytest.mark.parametrize("text", ["seven", "9 sec"])
def test_an_option_that_is_no_time_is_refused_with_the_likely_fix(text: str, folder: Path, capsys: Output) -> None:
    assert init("team", home=text) == 2
    err = capsys.readouterr().err
    assert "--home" in err
    assert "e.g. 7s" in err or "did you mean 9s?" in err
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
    person = asked(*GAME, *NOBODY)
    person.type("seven\n9 sec\n9s\nfive\n5s\n")
    code, out, err = person.end()
    assert (code, err) == (0, "")
    assert "write a time with its unit" in out
    assert "did you mean 9s?" in out
    assert out.count("How long is the robot's way home?") == 3
    assert out.count("How early must a call come to break off a push?") == 2
    assert home_s(first(folder / "team")) == {136 - 18 - 5}


@pytest.mark.devices
@pytest.mark.parametrize(("answer", "taken", "off_s"), [("5", "5s", 5), ("5 s", "5s", 5), ("4,5", "4.5s", 4.5)])
def test_an_answer_in_plain_seconds_is_taken_and_that_is_said(
    answer: str, taken: str, off_s: float, folder: Path, asked: type[Asked]
) -> None:
    person = asked(*GAME, *NOBODY, "--home", "7s")
    person.type(f"{answer}\n")
    code, out, err = person.end()
    assert (code, err) == (0, "")
    assert f"  {answer} means {taken}\n" in out
    assert home_s(first(folder / "team")) == {136 - 18 - off_s}


@pytest.mark.devices
def test_only_what_is_missing_is_asked(folder: Path, asked: type[Asked]) -> None:
    person = asked(*GAME, *NOBODY, "--home", "7s")
    person.type("6s\n")
    code, out, _ = person.end()
    assert (code, "robot's way home" in out) == (0, False)
    assert home_s(first(folder / "team")) == {136 - 18 - 6}


@pytest.mark.devices
def test_only_the_answer_that_does_not_fit_is_asked_again(folder: Path, asked: type[Asked]) -> None:
    person = asked(*GAME, *NOBODY)
    person.type("0s\n7s\n9min\n4s\n")
    code, out, _ = person.end()
    assert code == 0
    assert "  0s cannot be the way home\n" in out
    assert "  9min is too long: 'Driver-controlled' has run for 79s when 'No contact' begins\n" in out
    assert out.count("How long is the robot's way home?") == 2
    assert out.count("How early must a call come to break off a push?") == 2
    assert home_s(first(folder / "team")) == {136 - 18 - 4}


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
    def begun() -> subprocess.Popen[str]:
        command = [sys.executable, "-m", "tocsin", "init", "team", *GAME, *NOBODY, "--home", "7s", "--off", "4s"]
        return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    both = [begun() for _ in range(4)]
    ended = [(*process.communicate(timeout=100), process.returncode) for process in both]
    whole = [out for out, err, code in ended if code == 0 and "wrote" in out]
    assert len(whole) == 1, ended
    assert whole[0].count("wrote") == len(list((folder / "team").rglob("*.toml")))
    for out, err, code in ended:
        if out not in whole:                   # it came in between, or after: either is said
            too_late = code == 2 and "was made by another program just now: nothing was written" in err
            assert too_late or "is there" in out or "kept" in out
            assert "Traceback" not in err
    assert [path.name for path in folder.iterdir()] == ["team"]


def test_other_times_are_written_into_plans_that_share_patterns(folder: Path, capsys: Output) -> None:
    assert init("team") == 0
    project, plan = folder / "team" / "tocsin.toml", first(folder / "team")
    (folder / "team" / "patterns").mkdir()
    (folder / "team" / "patterns" / "ours.toml").write_text(PATTERNS, "utf-8")
    text = project.read_text("utf-8")
    project.write_text(text.replace('rig = "', 'patterns = "patterns/ours.toml"\nrig = "', 1), "utf-8")
    plan.write_text(plan.read_text("utf-8").replace('light = "home"', 'light = "ours"', 1), "utf-8")
    assert main(["init", "team", "--home", "9s"]) == 0, capsys.readouterr().err
    assert 'light = "ours"' in plan.read_text("utf-8")
