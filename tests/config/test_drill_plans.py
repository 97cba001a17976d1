"""A drill with a team's plan and game in place of its own, and a drill that deals several plans by lot."""

import re
from pathlib import Path

import pytest

from tests.support.config.bundled_copies import copied
from tocsin.analysis.rounds.variation import Condition, conditions
from tocsin.config.checking import examine
from tocsin.config.drills import load_drill, load_drill_texts
from tocsin.config.load import DiagnosticsError
from tocsin.config.toml.diagnostic import render
from tocsin.errors import UsageError

QUIET = '"quiet", '
OURS = ('name = "Full"', 'name = "Ours"')


@pytest.fixture
def team(tmp_path: Path) -> Path:
    """A team's folder: a plan and a game of its own, copies of bundled ones with another name."""
    copied(tmp_path / "ours.toml", "plans/full.toml", OURS, ('"casting_day"', '"game.toml"'))
    copied(tmp_path / "game.toml", "games/casting_day.toml")
    return tmp_path


def names(found) -> list[str]:
    return [Path(file.name).name for file in found.files.files if file.kind in ("game", "plan", "drill")]


def test_a_given_plan_is_drilled_in_its_own_game_and_the_journal_gets_both(team: Path) -> None:
    found = load_drill("break_off", "nothing", str(team / "ours.toml"))
    assert found.files.plans[0].plan.name == "Ours"
    assert names(found) == ["game.toml", "ours.toml", "break_off.toml"]
    assert load_drill_texts(found.files.files) == found, "a drill goes on without its files on disk"


def test_a_given_game_is_played_by_the_plan_of_the_drill_and_by_a_given_one(team: Path) -> None:
    for plan in (None, str(team / "ours.toml")):
        found = load_drill("break_off", "nothing", plan, str(team / "game.toml"))
        assert names(found)[0] == "game.toml"


def test_the_game_of_a_drill_gives_way_to_that_of_a_given_plan(team: Path) -> None:
    stated = ('plan = "full"', 'plan = "full"\ngame = "casting_day"')
    drill = copied(team / "drill.toml", "drills/break_off.toml", stated)
    assert names(load_drill(str(drill), "nothing"))[0] == "casting_day.toml"
    assert names(load_drill(str(drill), "nothing", str(team / "ours.toml")))[0] == "game.toml"


def told(team: Path, *, file: str, plan: str | None, game: str | None, drill: str = "break_off") -> str:
    """Return what a drill with these files is told, by `drill` and by `check` alike: one mistake, in ``file``."""
    with pytest.raises(DiagnosticsError) as caught:
        load_drill(drill, "nothing", plan, game)
    (problem,) = caught.value.problems
    checked = examine([drill], game, plan=plan)
    assert caught.value.exit_code == 20
    assert checked.problems == (problem,)
    assert Path(problem.file).name == file
    assert problem.line > 0
    return " ".join(render(problem).split())


def test_a_lead_that_only_the_given_plan_lacks_is_the_mistake_of_the_plan(team: Path) -> None:
    plan = copied(team / "ours.toml", "plans/full.toml", ("break_off", "let_go"))
    text = told(team, file="ours.toml", plan=str(plan), game=None)
    assert "This plan has no lead 'break_off', which the drill drills/break_off.toml moves." in text
    assert 'Add below [lead]: break_off = "4s"' in text


def test_a_window_that_only_the_given_game_lacks_is_the_mistake_of_the_game(team: Path) -> None:
    game = copied(team / "game.toml", "games/casting_day.toml", ("no_contact", "hands_off"))
    plan = copied(team / "ours.toml", "plans/full.toml", ("no_contact", "hands_off"))
    text = told(team, file="game.toml", plan=str(plan), game=str(game))
    assert "This game has no window 'no_contact', where the drill drills/break_off.toml keeps robots off" in text
    assert "hands_off" in text


def test_a_moment_that_only_the_given_game_lacks_is_the_mistake_of_the_game(team: Path) -> None:
    renamed = ('"driver"', '"teleop"'), ('kind = "teleop"', 'kind = "driver"'), (r"\bdriver\.", "teleop.")
    game = copied(team / "game.toml", "games/casting_day.toml", *renamed)
    plan = copied(team / "ours.toml", "plans/full.toml", (r"\bdriver\.", "teleop."))
    text = told(team, file="game.toml", plan=str(plan), game=str(game))
    assert re.search(r"no driver\.end-\d+s, where rounds of the drill drills/break_off\.toml begin\.", text)


def test_what_neither_plan_has_is_the_mistake_of_the_drill(team: Path) -> None:
    drill = copied(team / "drill.toml", "drills/break_off.toml", ('lead = "break_off"', 'lead = "break_of"'))
    text = told(team, file="drill.toml", plan=str(team / "ours.toml"), game=None, drill=str(drill))
    assert "ours.toml has no lead 'break_of'" in text
    assert 'lead = "break_off"' in text


def test_a_shift_with_which_the_given_plan_cannot_be_played_is_told_before_the_evening(team: Path) -> None:
    plan = copied(team / "ours.toml", "plans/full.toml", (r'(?m)^break_off *= *"[^"]*"', 'break_off = "01:50"'))
    drill = copied(team / "drill.toml", "drills/break_off.toml", (r"\+1s", "+10s"))
    text = told(team, file="drill.toml", plan=str(plan), game=None, drill=str(drill))
    assert "With the lead 'break_off' moved so far, the plan" in text


# -- plans by lot


@pytest.fixture
def dealt(team: Path) -> Path:
    return copied(team / "dealt.toml", "drills/break_off.toml", (r"\[vary\]", '[vary]\nplan = ["full", "ours.toml"]'))


def test_plans_are_dealt_evenly_and_leave_the_order_of_all_the_rest(team: Path, dealt: Path) -> None:
    copied(team / "ours.toml", "plans/full.toml", OURS)
    with_plans, without = load_drill(str(dealt), "nothing"), load_drill("break_off", "nothing")
    for seed in range(20):
        found = conditions(with_plans.drill, seed)
        assert [one.plan for one in found].count("full") == 6
        assert all({found[n].plan, found[n + 1].plan} == {"full", "ours.toml"} for n in range(0, 12, 2))
        bare = [Condition(**{**_fields(one), "plan": ""}) for one in found]
        assert tuple(bare) == conditions(without.drill, seed)
    assert len({tuple(one.plan for one in conditions(with_plans.drill, seed)) for seed in range(20)}) > 5
    assert [found.plan.name for found in with_plans.files.plans] == ["Full", "Ours"]
    assert load_drill_texts(with_plans.files.files) == with_plans


def _fields(one: Condition) -> dict:
    return {name: getattr(one, name) for name in one.__struct_fields__}


def test_plans_of_two_games_are_not_dealt(dealt: Path) -> None:
    with pytest.raises(DiagnosticsError, match="Expected plans of one game") as caught:
        load_drill(str(dealt), "nothing")
    assert caught.value.problems[0].source.startswith("plan = [")
    assert load_drill(str(dealt), "nothing", None, "casting_day").files.plans[1].plan.name == "Ours"


def test_the_plan_of_a_drill_is_one_of_those_it_deals(team: Path, dealt: Path) -> None:
    drill = copied(team / "odd.toml", "drills/break_off.toml", (r"\[vary\]", '[vary]\nplan = ["quiet", "quiet"]'))
    with pytest.raises(DiagnosticsError, match=r"No round gets the plan 'full'"):
        load_drill(str(drill), "nothing")


def test_a_plan_that_is_nowhere_is_told_where_it_is_dealt(team: Path) -> None:
    drill = copied(team / "odd.toml", "drills/break_off.toml", (r"\[vary\]", '[vary]\nplan = ["full", "quite"]'))
    with pytest.raises(DiagnosticsError, match=r"There is no plan 'quite'") as caught:
        load_drill(str(drill), "nothing")
    assert re.search(r'Write: plan = \["full", "quiet"\]', str(caught.value))


@pytest.mark.parametrize(
    ("dealt", "told"),
    [
        ('"quiet"', "No round gets the plan 'full'."), ("[1]", "This is a number."),
        ('["/etc/full.toml"]', "may not be named here"), (f"[{13 * QUIET}]", "The list has 13 entries."),
    ],
)  # fmt: skip
def test_what_is_no_list_of_plans_is_told_once(dealt: str, told: str, team: Path) -> None:
    drill = copied(team / "odd.toml", "drills/break_off.toml", (r"\[vary\]", f"[vary]\nplan = {dealt}"))
    with pytest.raises(DiagnosticsError) as caught:
        load_drill(str(drill), "nothing")
    (problem,) = caught.value.problems
    assert told in " ".join(render(problem).split())


def test_one_plan_does_not_take_the_place_of_several(team: Path, dealt: Path) -> None:
    with pytest.raises(UsageError, match="picks its plans at random"):
        load_drill(str(dealt), "nothing", "quiet", "casting_day")
    with pytest.raises(UsageError, match="--plan is for drills"):
        examine(["full"], plan="quiet")
