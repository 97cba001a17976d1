"""The drills that `init` makes for a team's game: whatever its periods, rounds begin shortly before the call home, and
play to a result."""

from pathlib import Path

import pytest

from tests.support.config.teams import S
from tests.support.runner.stage_stand import Desk, stage_for
from tocsin.config.drills import load_drill
from tocsin.config.write.answers import GameAnswers, Span
from tocsin.config.write.new_game import game_text
from tocsin.config.write.own_drills import ON_FIELD
from tocsin.config.write.starter import game_in
from tocsin.config.write.team import Times, team_files
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.journal import records
from tocsin.runner.options import RunOptions

GAMES = {
    "usual": GameAnswers(28 * S, 11 * S, 97 * S, spans=(Span(18 * S, 0),), contact=9),
    "one period": GameAnswers(0, 0, 60 * S, spans=(Span(15 * S, 0),), contact=5),
    "a person ends the pause": GameAnswers(28 * S, None, 97 * S, counts="match", spans=(Span(18 * S, 0),), contact=9),
    "no window": GameAnswers(22 * S, 0, 110 * S),
    "in the midst and at the end": GameAnswers(22 * S, 0, 110 * S, spans=(Span(90 * S, 60 * S), Span(18 * S, 0))),
    "contact always costs": GameAnswers(22 * S, 5 * S, 90 * S, spans=(Span(90 * S, 0),), contact=9),
    "short": GameAnswers(0, 0, 14 * S, spans=(Span(5 * S, 0),), contact=9),
}
OPTIONS = RunOptions(plans=("full",), rig="nothing", rate=1.0, start="key")


@pytest.mark.parametrize("game", GAMES)
def test_a_round_begins_before_the_call_home_and_plays_to_its_result(game: str, tmp_path: Path) -> None:
    text = game_text(GAMES[game], "Invented")
    files = {"games/ours.toml": text} | team_files(game_in(text), "../games/ours.toml", Times(6 * S, 3 * S))
    for name, own in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(own, encoding="utf-8")
    # Three in a row plays whole matches, so there is no moment to fit.
    drills = [name for name in ON_FIELD if f"drills/{name}.toml" in files and name != "three_in_a_row"]
    assert ("break_off" in drills) == (game not in ("no window", "contact always costs"))
    for name in drills:
        loaded = load_drill(str(tmp_path / "drills" / f"{name}.toml"), "nothing")
        programme = Rounds(loaded, OPTIONS, Session(name=name, key="k", seed=7))
        desk = Desk(programme, stage_for(programme, OPTIONS, tmp_path / name))
        desk.press(*"y" * 9)
        desk.press("f", "s")
        while desk.phase != "running":
            desk.after(0.25)
        ahead_s = call_ns(desk) / S - desk.now_ns / S
        # Eight seconds, up to four more by lot, one less or more where the lot moves the call; fewer in a short game.
        assert (1 if game == "short" else 6) <= ahead_s <= 13, (name, ahead_s)
        desk.press("9")
        assert desk.end_match(), name
        assert not desk.stage.ending


def call_ns(desk: Desk) -> int:
    """Return when home is called in the round that runs."""
    match = desk.stage.match
    home = next(one for one in match.timeline.firings if one.cue == "home" and not one.begin.anchor.startswith("call."))
    origins = [one for one in match.record.kept if isinstance(one, records.OriginRecord)]
    origin_ns = next(one.origin_ns for one in reversed(origins) if one.anchor == home.begin.anchor)
    assert origin_ns is not None
    return origin_ns + home.begin.offset_ns


def test_drills_of_a_team_name_no_place_of_another_game_and_contradict_themselves_nowhere(tmp_path: Path) -> None:
    text = game_text(GAMES["usual"], "Invented")
    files = team_files(game_in(text), "../games/ours.toml", Times(6 * S, 3 * S))
    drills = {name: own for name, own in files.items() if name.startswith("drills/")}
    assert "push at the edge of their protected area" in drills["drills/break_off.toml"]
    for name, own in drills.items():
        assert "their floor" not in own, name
        assert "at the far wall" not in own, name
        trains = next(line for line in own.splitlines() if line.startswith("trains"))
        assert ":" not in trains, "the drill's name stands before it with a colon"
