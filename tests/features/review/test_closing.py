"""What the end of a drill and of an evening leaves: a sentence, and a page without names beside the runs."""

from pathlib import Path

from tests.support.journal.recorded_rounds import record_rounds
from tocsin import monotime
from tocsin.cli.commands.drill import tell_closing
from tocsin.features.evening.evening import EveningRequest, lead_evening
from tocsin.features.records.forgetting import forget, sought
from tocsin.features.review.closing import closing_of, sentence
from tocsin.journal.people import People
from tocsin.journal.place import REVIEW_PAGES, is_kept_name
from tocsin.journal.tonight import Tonight, keep_tonight
from tocsin.runner.options import RunOptions


def evening(runs: Path) -> str:
    """Record an evening of two drills, after an earlier one; return the key of who drives."""
    key = People(runs).keep("Ann")
    record_rounds(runs, "break_off", 12, day=8)
    record_rounds(runs, "turn", 12, seed=2, day=15, people={"driver": key})
    record_rounds(runs, "break_off", 3, seed=3, day=15, minute=30)
    return key


def test_it_is_of_the_newest_evening_of_the_drill_played_last_or_most(tmp_path: Path) -> None:
    evening(tmp_path)
    of_all, of_last = (closing_of(tmp_path, of_newest_drill=newest) for newest in (False, True))
    assert of_all
    assert of_last
    assert of_all.sentence == sentence(tmp_path, "Turn")
    assert of_last.sentence == sentence(tmp_path, "Break off")
    assert (of_all.drill, of_last.drill) == ("Turn", "Break off")
    assert Path(of_all.page) == tmp_path / "review_2031-03-15.png"
    assert Path(of_all.page).read_bytes().startswith(b"\x89PNG")
    assert is_kept_name(Path(of_all.page).name)
    assert of_all.lines == (f"This evening, Turn: {of_all.sentence}", f"Its page: {of_all.page}")


def test_equal_evenings_leave_equal_pages(tmp_path: Path) -> None:
    pages = []
    for name in ("one", "two"):
        evening(tmp_path / name)
        found = closing_of(tmp_path / name, of_newest_drill=False)
        assert found
        pages.append(Path(found.page).read_bytes())
    assert pages[0] == pages[1]


def test_where_nothing_was_played_nothing_is_left(tmp_path: Path) -> None:
    assert closing_of(tmp_path, of_newest_drill=True) is None
    assert sentence(tmp_path, "turn") == ""
    assert list(tmp_path.glob("*.png")) == []


def test_a_page_that_cannot_be_written_is_told_beside_the_sentence(tmp_path: Path) -> None:
    evening(tmp_path)
    (tmp_path / "review_2031-03-15.png").mkdir()
    found = closing_of(tmp_path, of_newest_drill=False)
    assert found
    assert found.page == ""
    assert found.lines[0].startswith("This evening, Turn: ")
    assert found.lines[1].startswith("The page cannot be written: ")


def test_pages_hold_no_names_and_go_with_a_name_all_the_same(tmp_path: Path) -> None:
    """A plan may be called by a name."""
    key = evening(tmp_path)
    found = closing_of(tmp_path, of_newest_drill=False)
    assert found
    data = Path(found.page).read_bytes()
    assert key.encode() not in data
    other = tmp_path / "review_party.png"
    other.write_bytes(b"somebody's own")
    with sought(tmp_path, "Ann") as what:
        forget(what, frozenset())
    assert list(tmp_path.glob(REVIEW_PAGES)) == []
    assert other.exists()


def test_the_end_of_a_drill_says_both(tmp_path: Path) -> None:
    evening(tmp_path)
    said: list[str] = []
    tell_closing(tmp_path, said.append)
    assert len(said) == 2
    assert said[0].startswith("This evening, Break off: ")
    assert said[1] == f"Its page: {tmp_path / 'review_2031-03-15.png'}"
    tell_closing(tmp_path / "none", said.append)
    assert len(said) == 2


def test_the_end_of_a_drill_in_which_nothing_counts_says_why(tmp_path: Path) -> None:
    record_rounds(tmp_path, "break_off", 12, day=8)
    record_rounds(tmp_path, "break_off", 2, day=15)
    said: list[str] = []
    tell_closing(tmp_path, said.append)
    assert said == ["No round counted tonight: driven at half speed, as the drill wants it."]
    assert list(tmp_path.glob("*.png")) == []


def test_the_end_of_an_evening_says_it_beside_its_own_picture(tmp_path: Path) -> None:
    evening(tmp_path)
    now = monotime.wall_text()
    keep_tonight(tmp_path, Tonight(began=now, step="result"), now)
    request = EveningRequest(
        project="Bell crew", rig="nothing", runs=tmp_path, drills=(), others=(), crews={},
        options_of=lambda drill, roster: RunOptions(),
    )  # fmt: skip
    said: list[str] = []
    end = lead_evening(request, said.append, lambda question: "")
    assert end.result
    assert end.result.sentence == sentence(tmp_path, "Turn")
    assert end.result.page == str(tmp_path / "review_2031-03-15.png")
    assert f"This evening, Turn: {end.result.sentence}" in said
    assert f"Pictures: {end.result.picture}, {end.result.page}" in said
    assert len([line for line in said if "evening goes on" not in line]) <= 10
