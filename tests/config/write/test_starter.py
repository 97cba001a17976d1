"""Files of one's own: copies that work together, and first plans from two answers."""

import re
import tomllib
from pathlib import Path

import pytest

from tocsin.config import bundle
from tocsin.config.checking import check, examine
from tocsin.config.load import load
from tocsin.config.write.starter import copy_bundled, first_plan
from tocsin.config.writing import Written, demand_writable, fill_folder, write_new
from tocsin.errors import UsageError
from tocsin.features.check.findings import found_in
from tocsin.model.clock.origins import Origin
from tocsin.model.clock.schedule import Schedule
from tocsin.model.display.view_model import foremost
from tocsin.units import NS_PER_S, ClockValueError


def test_copies_are_complete_and_without_mistakes(tmp_path: Path) -> None:
    found = copy_bundled(tmp_path)
    assert len(found.written) == sum(len(bundle.names(kind)) for kind in bundle.KINDS)
    assert check([str(tmp_path)]) == ()


def test_a_copied_plan_takes_the_copied_game(tmp_path: Path) -> None:
    copy_bundled(tmp_path)
    game = tmp_path / "games" / "casting_day.toml"
    game.write_text(game.read_text(encoding="utf-8").replace("Casting Day", "Our Bells"), encoding="utf-8")
    assert load(None, [str(tmp_path / "plans" / "quiet.toml")], "nothing").game.name == "Our Bells"


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
    with pytest.raises(UsageError, match="cannot be written") as raised:
        write_new(tmp_path / "file" / "plan.toml", "text")
    assert raised.value.hint == "a file is in the way: move it, or choose another place"


def test_a_folder_that_cannot_be_filled_is_called_by_its_own_name(tmp_path: Path) -> None:
    def fill(folder: Path) -> Written:
        raise UsageError(f"{folder / 'plan.toml'} cannot be written", hint=f"look at {folder}")

    with pytest.raises(UsageError) as raised:
        fill_folder(tmp_path / "team", fill)
    assert str(raised.value) == f"{tmp_path / 'team' / 'plan.toml'} cannot be written"
    assert raised.value.hint == f"look at {tmp_path / 'team'}"
    assert list(tmp_path.iterdir()) == []


def test_trying_whether_a_file_can_be_written_leaves_what_is_there(tmp_path: Path) -> None:
    path = tmp_path / "below" / "plan.toml"
    demand_writable(path)
    assert list(path.parent.iterdir()) == []
    path.write_text("mine", encoding="utf-8")
    demand_writable(path)
    assert [(file.name, file.read_text(encoding="utf-8")) for file in path.parent.iterdir()] == [("plan.toml", "mine")]


@pytest.mark.parametrize("game", bundle.names("games"))
def test_a_first_plan_loads_for_every_bundled_game(game: str, tmp_path: Path) -> None:
    path = tmp_path / "first.toml"
    assert write_new(path, first_plan("7s", 4 * NS_PER_S, game))
    assert any(firing.cue == "home" for firing in load(None, [str(path)], "nothing").plans[0].timeline.firings)


def test_home_is_called_ahead_of_the_window_or_earlier_if_the_way_is_long(tmp_path: Path) -> None:
    for travel, match_s in (("7s", 114), ("25s", 107)):        # 136 - 18 - 4, and 136 - 25 - 4
        path = tmp_path / f"{travel}.toml"
        write_new(path, first_plan(travel, "4s", "casting_day"))
        firings = load(None, [str(path)], "nothing").plans[0].timeline.firings
        assert {f.match_ns for f in firings if f.cue == "home" and f.match_ns} == {match_s * NS_PER_S}


BELLS = (bundle.root() / "games" / "casting_day.toml").read_text(encoding="utf-8")
# The bundled game with its no-contact window elsewhere, and with a driver period that a person begins.
GAMES = {
    "as it is": BELLS,
    "a long window": BELLS.replace('begin = "driver.end-18s"', 'begin = "driver.begin+10s"'),
    "all of a period": BELLS.replace('begin = "driver.end-18s"', 'begin = "driver.begin"'),
    "begun by hand": BELLS.replace('begins = "itself"', 'begins = "key"'),
    "begun by hand, all of it": BELLS.replace('begins = "itself"', 'begins = "key"').replace(
        'begin = "driver.end-18s"', 'begin = "driver.begin"'
    ),
}


@pytest.mark.parametrize("game", GAMES)
@pytest.mark.parametrize(("travel", "off"), [("7s", "3s"), ("7s", "4s"), ("1s", "1s"), ("25s", "4s"), ("60s", "2s")])
def test_no_touch_shows_when_its_window_begins(game: str, travel: str, off: str, tmp_path: Path) -> None:
    """Whatever the answers: at that instant nothing that was called before covers it."""
    mine = tmp_path / "mine.toml"
    mine.write_text(GAMES[game], encoding="utf-8")
    write_new(tmp_path / "first.toml", first_plan(travel, off, str(mine), "mine.toml"))
    timeline = load(None, [str(tmp_path / "first.toml")], "nothing").plans[0].timeline
    no_touch = next(firing for firing in timeline.firings if firing.cue == "no_touch")
    for channel in ("light", "screen"):
        own = [firing for firing in timeline.firings if firing.channel == channel]
        schedule = Schedule(own, [segment.anchor for segment in timeline.segments])
        for segment in timeline.segments:
            schedule.set_origin(Origin(anchor=segment.anchor, origin_ns=segment.match_ns))
        assert no_touch.match_ns is not None
        schedule.due(no_touch.match_ns - NS_PER_S)
        schedule.due(no_touch.match_ns)
        showing = foremost(schedule.live)
        assert showing is not None
        assert showing.firing.cue == "no_touch"


@pytest.mark.parametrize("game", [*bundle.names("games"), *GAMES])
@pytest.mark.parametrize("travel", ["7s", "25s"])
def test_every_cue_has_a_reason_and_both_answers_are_leads(game: str, travel: str, tmp_path: Path) -> None:
    if game in GAMES:
        (tmp_path / "mine.toml").write_text(GAMES[game], encoding="utf-8")
        game = str(tmp_path / "mine.toml")
    text = first_plan(travel, "4s", game, Path(game).name)
    plan = tomllib.loads(text)
    assert [cue["id"] for cue in plan["cue"] if not cue.get("why")] == []
    moments = " ".join(cue["at"] for cue in plan["cue"])
    assert any(f"-{lead}" in moments for lead in plan["lead"])
    # Both answers stand in the plan, whether a call goes by them or not: 4 s to notice, to turn and in hand.
    assert plan["lead"] == {"break_off": "4s", "home": f"{int(travel[:-1]) + 4}s"}
    (tmp_path / "first.toml").write_text(text, encoding="utf-8")
    assert "unused_lead" not in [one.finding.code for one in found_in(examine([str(tmp_path / "first.toml")]))]


def test_answers_that_are_no_times_are_refused() -> None:
    with pytest.raises(ClockValueError):
        first_plan("seven", "4s", "casting_day")


@pytest.mark.parametrize(
    ("travel", "off", "says"),
    [
        ("0s", "4s", "0s cannot be the way home"),
        ("7s", "0s", "0s is too late"),
        # The bundled game's driver period lasts 97 s, its window begins 18 s before the end.
        ("94s", "4s", "94s is too long: 'Hands on' lasts 97s; noticing and turning take 4s of it"),
        ("7s", "80s", "80s is too long: 'Hands on' has run for 79s when 'No-touch time' begins"),
    ],
)
def test_answers_that_do_not_fit_are_refused_with_their_own_figure(travel: str, off: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        first_plan(travel, off, "casting_day")


def test_the_longest_answers_that_fit_are_taken() -> None:
    assert first_plan("93s", "79s", "casting_day")


def test_in_a_game_without_a_window_home_is_called_by_the_way_home(tmp_path: Path) -> None:
    path = tmp_path / "open.toml"
    path.write_text(BELLS.split("# A window is a time")[0], encoding="utf-8")
    (tmp_path / "first.toml").write_text(first_plan("7s", "4s", str(path), "open.toml"), encoding="utf-8")
    plan = load(None, [str(tmp_path / "first.toml")], "nothing").plans[0]
    assert {f.match_ns for f in plan.timeline.firings if f.cue == "home" and f.match_ns} == {(136 - 7 - 4) * NS_PER_S}
    assert dict(plan.plan.leads) == {"home": 11 * NS_PER_S}


def test_ahead_of_a_window_in_midst_of_play_nobody_is_sent_home(tmp_path: Path) -> None:
    """Contact costs from 1:20 to 0:50, and in the last 18 s: BACK OFF is called for the one, HOME for the other."""
    game = re.sub(
        r'(id = "no_contact".*?)begin = .*?\nend = [^\n]*', r'\1begin = ["driver.end-80s", "driver.end-18s"]\n'
        r'end = ["driver.end-50s", "driver.end"]', BELLS, flags=re.DOTALL,
    )  # fmt: skip
    (tmp_path / "mine.toml").write_text(game, encoding="utf-8")
    (tmp_path / "first.toml").write_text(first_plan("7s", "4s", str(tmp_path / "mine.toml"), "mine.toml"), "utf-8")
    firings = load(None, [str(tmp_path / "first.toml")], "nothing").plans[0].timeline.firings
    begins = {(f.cue, f.match_ns // NS_PER_S) for f in firings if f.match_ns is not None and f.channel == "light"}
    assert begins >= {("back_off", 136 - 84), ("no_touch", 136 - 80), ("home", 136 - 22), ("no_touch", 136 - 18)}
    assert len([cue for cue, _ in begins if cue in ("home", "back_off")]) == 2
