"""A plan that is saved in standby: loaded with what changed, or every mistake while the last good one stays."""

import os
from pathlib import Path

import pytest

from tests.support.config.own_project import make_project
from tocsin.config.file_cache import FileCache
from tocsin.config.load import load
from tocsin.config.write.starter import copy_bundled
from tocsin.runner.options import RunOptions
from tocsin.runner.reload import LOOK_NS, PlanWatch

S = 10**9


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    copy_bundled(tmp_path)
    return tmp_path / "plans" / "full.toml"


@pytest.fixture
def watch(plan: Path) -> PlanWatch:
    options = RunOptions(plans=(str(plan),))
    return PlanWatch(options, load(None, options.plans, options.rig))


def save(path: Path, text: str) -> None:
    """Save as an editor does, with a time of its own: files saved within one tick of the clock look alike."""
    path.write_text(text, encoding="utf-8")
    stat = path.stat()
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns + S))


def test_nothing_saved_is_nothing_to_say(watch: PlanWatch) -> None:
    assert watch.look(S) is None
    assert watch.look(2 * S) is None


def test_a_lead_that_was_changed_is_told_by_how_much(plan: Path, watch: PlanWatch) -> None:
    save(plan, plan.read_text("utf-8").replace('break_off = "4s"', 'break_off = "6s"'))
    found = watch.look(S)
    assert found is not None
    assert found.files is not None
    assert found.files.plans[0].plan.leads["break_off"] == 6 * S
    assert found.notice == "reloaded: Full (coach_call 2 s earlier; home 2 s earlier)"
    assert watch.look(2 * S) is None, "told once"


@pytest.mark.parametrize(
    ("good", "bad", "told"),
    [('game = ', 'language = "de"\ngame = ', "patterns, periods or language"),
     ('for = ["coach"]\nlight = "last_five"', 'for = ["driver"]\nlight = "last_five"', "last_five changed")],
)  # fmt: skip
def test_what_only_says_who_speaks_in_which_language_counts_too(
    plan: Path, watch: PlanWatch, good: str, bad: str, told: str
) -> None:
    save(plan, plan.read_text("utf-8").replace(good, bad, 1))
    found = watch.look(S)
    assert found is not None
    assert found.notice == f"reloaded: Full ({told})"
    assert found.files is not None


def test_it_looks_at_the_disk_at_most_some_times_a_second(plan: Path, watch: PlanWatch) -> None:
    assert watch.look(S) is None
    save(plan, plan.read_text("utf-8").replace('break_off = "4s"', 'break_off = "5s"'))
    assert watch.look(S + LOOK_NS - 1) is None
    assert watch.look(S + LOOK_NS) is not None


def test_all_mistakes_are_told_and_the_last_good_plan_stays(plan: Path, watch: PlanWatch) -> None:
    good = plan.read_text("utf-8")
    save(plan, good.replace('rumble = "triple"', 'rumble = "tripel"').replace("priority = 3", "priority = 30"))
    found = watch.look(S)
    assert found is not None
    assert found.files is None
    assert len(found.mistakes) == 2
    assert all("full.toml, line" in line for line in found.mistakes)
    assert any("triple" in line for line in found.mistakes)
    save(plan, good.replace('say = "No touch"', 'say = "Off"'))
    fixed = watch.look(2 * S)
    assert fixed is not None
    assert fixed.files is not None
    assert fixed.notice == "reloaded: Full (no_touch changed)"


def test_a_game_beside_the_plan_counts_too(plan: Path, watch: PlanWatch) -> None:
    game = plan.parent.parent / "games" / "casting_day.toml"
    save(game, game.read_text("utf-8").replace('lasts = "01:37"', 'lasts = "01:27"'))
    found = watch.look(S)
    assert found is not None
    assert "earlier" in found.notice


def test_a_match_that_has_lost_the_moment_at_which_the_run_begins_is_not_loaded(plan: Path) -> None:
    options = RunOptions(plans=(str(plan),), from_moment="no_contact.begin-5s")
    watch = PlanWatch(options, load(None, options.plans, options.rig))
    game = plan.parent.parent / "games" / "casting_day.toml"
    for path in (game, plan):
        save(path, path.read_text("utf-8").replace("no_contact", "keep_away"))
    found = watch.look(S)
    assert found is not None
    assert found.files is None
    assert "--from" in found.notice
    assert "the old plan stays" in found.notice


def test_a_file_that_is_gone_for_a_moment_changes_nothing(plan: Path, watch: PlanWatch) -> None:
    text = plan.read_text("utf-8")
    plan.unlink()
    found = watch.look(S)
    assert found is not None
    assert found.files is None
    assert "stays" in found.notice
    save(plan, text)
    assert watch.look(2 * S) is None, "it is as it was"


def test_patterns_that_plans_share_are_loaded_anew_too(tmp_path: Path) -> None:
    make_project(tmp_path)
    ours = tmp_path / "patterns" / "ours.toml"
    options = RunOptions(plans=(str(tmp_path / "plans" / "first.toml"),), patterns=(str(ours),), language="de")
    watch = PlanWatch(options, load(None, options.plans, options.rig, FileCache(options.shared)))
    save(ours, ours.read_text("utf-8").replace("orange", "blue"))
    found = watch.look(S)
    assert found is not None
    assert found.notice == "reloaded: First (patterns, periods or language)"
    save(ours, ours.read_text("utf-8").replace("blue", "bleu"))
    found = watch.look(2 * S)
    assert found is not None
    assert found.files is None
    assert any("ours.toml, line 5" in line for line in found.mistakes)
