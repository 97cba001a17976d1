"""Files of one's own: copies that work together, and a first plan from two answers."""

from pathlib import Path

import pytest

from tocsin.config import bundle
from tocsin.config.checking import check
from tocsin.config.load import ProblemsError, load
from tocsin.config.starter import copy_bundled, first_plan
from tocsin.config.writing import write_new
from tocsin.errors import UsageError
from tocsin.units import NS_PER_S, ClockValueError


def test_copies_are_complete_and_without_mistakes(tmp_path: Path) -> None:
    found = copy_bundled(tmp_path)
    assert len(found.written) == sum(len(bundle.names(kind)) for kind in bundle.KINDS)
    assert check([str(tmp_path)]) == ()


def test_a_copied_plan_takes_the_copied_game(tmp_path: Path) -> None:
    copy_bundled(tmp_path)
    game = tmp_path / "games" / "harbour_haul.toml"
    game.write_text(game.read_text(encoding="utf-8").replace("Harbour Haul", "Our Haul"), encoding="utf-8")
    assert load(None, [str(tmp_path / "plans" / "quiet.toml")], "nothing").game.name == "Our Haul"


def test_files_that_are_there_are_kept_and_named(tmp_path: Path) -> None:
    copy_bundled(tmp_path)
    mine = tmp_path / "rigs" / "nothing.toml"
    mine.write_text("mine", encoding="utf-8")
    found = copy_bundled(tmp_path)
    assert (found.written, mine in found.kept) == ((), True)
    assert mine.read_text(encoding="utf-8") == "mine"
    assert not list(tmp_path.rglob("*.part"))


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(UsageError, match="cannot be written"):
        write_new(tmp_path / "file" / "plan.toml", "text")


@pytest.mark.parametrize("game", bundle.names("games"))
def test_a_first_plan_loads_for_every_bundled_game(game: str, tmp_path: Path) -> None:
    path = tmp_path / "first.toml"
    assert write_new(path, first_plan("7s", 4 * NS_PER_S, game))
    assert any(firing.cue == "home" for firing in load(None, [str(path)], "nothing").plans[0].timeline.firings)


def test_home_is_called_ahead_of_the_window_or_earlier_if_the_way_is_long(tmp_path: Path) -> None:
    for travel, match_s in (("7s", 134), ("25s", 129)):        # 158 - 20 - 4, and 158 - 25 - 4
        path = tmp_path / f"{travel}.toml"
        write_new(path, first_plan(travel, "4s", "harbour_haul"))
        firings = load(None, [str(path)], "nothing").plans[0].timeline.firings
        assert {f.match_ns for f in firings if f.cue == "home" and f.match_ns} == {match_s * NS_PER_S}


def test_answers_that_are_no_times_or_leave_no_room_are_refused() -> None:
    with pytest.raises(ClockValueError):
        first_plan("seven", "4s", "harbour_haul")
    with pytest.raises(ProblemsError, match="before the match"):
        first_plan("7s", "9min", "harbour_haul")
