"""All files of a team from its answers: they fit together, and hold what was answered."""

from pathlib import Path

import pytest
from hypothesis import given, settings

from tests.support.config.teams import S, Team, teams
from tocsin.config.checking import examine
from tocsin.config.write.answers import GameAnswers, Span
from tocsin.config.write.new_game import answers_in, game_text
from tocsin.config.write.starter import built, game_in
from tocsin.config.write.team import Times, team_files
from tocsin.features.check.findings import found_in
from tocsin.lint.messages import message


@settings(deadline=None)
@given(teams())
def test_a_game_file_holds_the_answers_that_it_was_written_from(team: Team) -> None:
    found = answers_in(built(game_in(game_text(team.game, "Invented"))))
    assert found == team.game


@pytest.mark.parametrize("pause_ns", [0, 11 * S, None])
@pytest.mark.parametrize("spans", [(), (Span(18 * S, 0),), (Span(80 * S, 50 * S), Span(18 * S, 0))])
def test_a_usual_game_gives_no_finding_at_all(pause_ns: int | None, spans: tuple[Span, ...], tmp_path: Path) -> None:
    game = GameAnswers(28 * S, pause_ns, 97 * S, spans=spans, contact=9 if spans else 0)
    text = game_text(game, "Invented")
    files = team_files(game_in(text), "../games/ours.toml", Times(7 * S, 4 * S))
    for name, own in {"games/ours.toml": text, **files}.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(own, encoding="utf-8")
    checked = examine([f"{tmp_path}/"])
    assert len(checked.plans) == 2
    assert checked.problems == ()
    assert [message(one.finding) for one in found_in(checked)] == []
