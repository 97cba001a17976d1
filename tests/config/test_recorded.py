"""What judges a run is read from its header's files alone: the game of the plan that was played, and its drill."""

import pytest
from msgspec.structs import replace

from tocsin.config import bundle
from tocsin.config.drills import load_drill
from tocsin.config.files import file_text
from tocsin.config.load import load
from tocsin.config.recorded import rules_of
from tocsin.errors import MistakeError


def bundled(kind, name):
    return file_text(kind.removesuffix("s"), f"{name}.toml", (bundle.root() / kind / f"{name}.toml").read_text("utf-8"))


BELLS, POUR = bundled("games", "casting_day"), bundled("games", "short_pour")
FULL, WORDS, RIG = bundled("plans", "full"), bundled("plans", "words"), bundled("rigs", "nothing")


@pytest.mark.parametrize(("plan_no", "name"), [(0, "Casting Day"), (1, "Casting Day"), (2, "Short Pour")])
def test_each_plan_is_for_the_last_game_before_it(plan_no, name):
    files = [BELLS, FULL, FULL, POUR, WORDS, RIG]
    assert rules_of(files, plan_no, of_drill=False).game.name == name


def test_a_single_game_is_that_of_a_plan_that_this_version_does_not_even_know_for_one():
    assert rules_of([BELLS, RIG], 0, of_drill=False).game.name == "Casting Day"


def test_the_game_is_the_one_that_loading_all_files_gives():
    loaded = load(None, ["full"], "practice_bench")
    assert rules_of(loaded.files, 0, of_drill=False) == (loaded.game, None)
    drill = load_drill("break_off", "practice_bench")
    assert rules_of(drill.files.files, 0, of_drill=True) == (drill.files.game, drill.drill)


@pytest.mark.parametrize(
    ("files", "of_drill", "told"),
    [
        ([FULL, RIG], False, "the run kept no file for game"),
        ([BELLS, POUR, RIG], False, "the run kept no file for game"),
        ([BELLS, FULL], True, "the run kept no file for drill"),
        ([replace(BELLS, text=BELLS.text.replace("points = 9", "points = nine")), FULL], False, "points"),
    ],
)
def test_what_is_missing_or_wrong_is_told(files, of_drill, told):
    with pytest.raises(MistakeError, match=told):
        rules_of(files, 0, of_drill=of_drill)
