"""Every bundled file loads, and does what its words promise."""

import pytest

from tocsin.config import bundle
from tocsin.config.checking import check
from tocsin.config.load import load, load_texts


@pytest.mark.parametrize("kind", ["games", "plans", "patterns", "rigs"])
def test_every_bundled_file_of_a_kind_is_without_mistakes(kind: bundle.Kind) -> None:
    assert bundle.names(kind)
    assert check([str(path) for path in sorted((bundle.root() / kind).glob("*.toml"))]) == ()


@pytest.mark.parametrize("rig", bundle.names("rigs"))
@pytest.mark.parametrize("plan", bundle.names("plans"))
def test_every_bundled_plan_loads_with_every_bundled_rig(plan: str, rig: str) -> None:
    loaded = load(None, [plan], rig)
    assert loaded.plans[0].timeline.firings
    assert load_texts(loaded.files) == loaded


def test_every_bundled_file_is_an_invented_scenario_that_says_so() -> None:
    for name in bundle.names("games"):
        assert "invented" in (bundle.root() / "games" / f"{name}.toml").read_text(encoding="utf-8")


def test_the_rig_of_a_beside_robot_does_not_disturb_it() -> None:
    rig = load(None, ["quiet"], "beside_robot").rig
    assert rig.drives_robot
    assert rig.priority != "realtime"
    assert all(not pad.buttons and not pad.hidapi for pad in rig.pads)
