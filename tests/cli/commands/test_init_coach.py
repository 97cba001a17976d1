"""A new coach and ``tocsin init``: from an empty folder to a checked project, whatever the game is like."""

import contextlib
import io
import os
import re
import sys
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.config.teams import Team, teams
from tests.support.people.new_coach import NewCoach, facts_of
from tocsin.cli.main import main
from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.config.project import find_project
from tocsin.config.write.answers import GameAnswers
from tocsin.config.write.new_game import answers_in
from tocsin.config.write.starter import answered_in


@contextlib.contextmanager
def at_terminal(coach: NewCoach, folder: Path):
    """Let the coach sit at the terminal, in a folder; the keyboard and the folder are given back at the end."""
    before, here = sys.stdin, Path.cwd()
    sys.stdin = coach
    os.chdir(folder)
    try:
        with contextlib.redirect_stdout(coach.screen), contextlib.redirect_stderr(coach.screen):
            yield
    finally:
        sys.stdin = before
        os.chdir(here)


@settings(deadline=None, max_examples=settings.default.max_examples // 5)      # each checks a project twice
@given(teams(), st.integers(0, 3))
def test_whatever_the_game_a_checked_project_stands_after_the_questions(team: Team, style: int) -> None:
    with tempfile.TemporaryDirectory() as there:
        folder = Path(there)
        coach = NewCoach(facts_of(team, style), io.StringIO())
        with at_terminal(coach, folder):
            assert main(["init", "team"]) == 0, coach.screen.getvalue()
            os.chdir("team")
            checked = main(["check"])
        said = coach.screen.getvalue()
        assert checked == 0, said
        assert re.search(r"Checked: 1[23] files without a mistake", said), said      # those of no evening too
        assert len(set(coach.asked)) <= 10
        # The answer that could not be was asked again, each once.
        again = {name for name in coach.asked if coach.asked.count(name) > 1}
        assert again == {"driver", "windows", "home"} | ({"off"} if team.game.spans else set())
        holds_what_was_said(folder / "team", team)


def holds_what_was_said(folder: Path, team: Team) -> None:
    """Assert that game and plans of a project hold a team's answers, and that its drills can be played."""
    project = find_project(folder, {})
    assert project is not None
    assert project.rig is not None
    assert project.event_plan is not None
    assert list(project.project.crews) == ["A", "B"]
    for plan in (*project.plans, project.event_plan):
        loaded = load(None, [plan], project.rig)
        assert answers_in(loaded.game) == team.game
        off_ns = team.times.off_ns if team.game.spans else None
        assert answered_in(loaded.plans[0].plan) == (team.times.home_ns, off_ns)
    names = [Path(drill).stem for drill in project.drills]
    assert names[:2] == ["words", "turn"]
    assert len(list((folder / "drills").glob("*.toml"))) >= 5
    game = load(None, project.plans, project.rig).game
    assert all(load_drill(drill, project.rig).files.game == game for drill in project.drills[1:])


def test_a_usual_team_is_done_after_ten_short_answers(tmp_path: Path) -> None:
    """Counted as a person would: prompts and keys, from an empty folder to a checked project."""
    says = {
        "autonomous": ["28s"], "pause": ["11s"], "driver": ["1:37"], "digits": ["0:20"], "counts": ["period"],
        "windows": ["0:18"], "contact": ["9"], "home": ["9s"], "off": ["4s"], "who": ["Ann, Ben; Cleo, Dan"],
    }  # fmt: skip
    coach = NewCoach(says, io.StringIO())
    with at_terminal(coach, tmp_path):
        assert main(["init", "team"]) == 0
        os.chdir("team")
        assert main(["check"]) == 0
    assert "no mistakes and no findings" in coach.screen.getvalue()
    assert coach.asked == list(says)
    commands = len("tocsin init team\n") + len("cd team\n") + len("tocsin check\n")
    # Two minutes are 240 keys at two keys a second, which is slow; reading ten lines takes the rest.
    assert commands + coach.keys <= 120
    assert find_project(tmp_path / "team", {}) is not None


def test_enter_alone_makes_a_project_too(tmp_path: Path) -> None:
    coach = NewCoach({}, io.StringIO())
    with at_terminal(coach, tmp_path):
        assert main(["init", "team"]) == 0
        os.chdir("team")
        assert main(["check"]) == 0
    assert len(coach.asked) == coach.keys == 10
    found = find_project(tmp_path / "team", {})
    assert found is not None
    assert answers_in(load(None, found.plans, "nothing").game) == GameAnswers(
        28_000_000_000, 0, 97_000_000_000, spans=((18_000_000_000, 0),), contact=9,   # type: ignore[arg-type]
    )  # fmt: skip
