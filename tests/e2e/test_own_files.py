"""Plans and rigs of one's own that do not know each other, run as real processes."""

import pytest

from tests.support.stands.stand import Run, firings

pytestmark = pytest.mark.devices

PLAN = """
format = "tocsin-plan/1"
name = "Own"
game = "short_pour"

[[cue]]
id = "back"
at = "driver.end-4s"
light = "home"
sound = "rising"
late_limit = "1500ms"
"""
RIG = """
format = "tocsin-rig/1"
name = "Own"
[keys]
call = { home = ["h"] }
"""
QUICK = ("--from", "driver.end-5s", "--rate", "5")


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(PLAN, "utf-8")
    return str(path)


def test_a_plan_without_a_cue_home_runs_with_the_rig_that_comes_with_tocsin(tmp_path, plan):
    run = Run(tmp_path, "--plan", plan, *QUICK)
    code, summary, err = run.finish()
    assert (code, summary["outcome"]) == (0, "over"), err
    assert [r["cue"] for r in firings(run.records(), "sound", "played")] == ["back"]
    assert "'home'" not in err
    assert "Match over" in err
    assert "Press " not in err                      # nobody can: no terminal, no window


def test_a_key_of_ones_own_rig_that_calls_nothing_here_is_said_in_one_line(tmp_path, plan):
    (tmp_path / "rig.toml").write_text(RIG, "utf-8")
    code, summary, err = Run(tmp_path, "--plan", plan, *QUICK, rig=str(tmp_path / "rig.toml")).finish()
    assert (code, summary["outcome"]) == (0, "over"), err
    assert "the key h does nothing here, since no plan has a cue 'home' to call" in err
