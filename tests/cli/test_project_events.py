"""What a project says about events: their plan, and their days."""

from datetime import date
from pathlib import Path

import pytest

from tocsin.cli.project import Meant
from tocsin.config.project import find_project

PROJECT = """
format = "tocsin-project/1"
name = "Bell crew"
plan = ["full"]
[event]
{event}
"""
DAY = date(2031, 3, 14)


def meant(folder: Path, event: str) -> Meant:
    (folder / "tocsin.toml").write_text(PROJECT.format(event=event))
    return Meant(find_project(folder, {}))


@pytest.mark.parametrize(
    ("event", "given", "plans"),
    [
        ('plan = "quiet"', None, ("quiet",)), ("", None, ("full",)),
        ('plan = "quiet"', ["full", "quiet"], ("full", "quiet")),
    ],
)  # fmt: skip
def test_an_event_has_the_plan_of_events_and_the_command_line_overrules(tmp_path, event, given, plans):
    assert meant(tmp_path, event).event_plans(given) == plans
    assert Meant(None).event_plans(None) == ("full",)


def test_a_day_of_an_event_is_known_with_the_plan_that_it_would_have(tmp_path):
    found = meant(tmp_path, 'plan = "quiet"\ndates = [2031-03-14, 2031-03-15]')
    assert found.event_today(DAY) == "quiet"
    assert found.event_today(date(2031, 3, 16)) == ""
    assert meant(tmp_path, "dates = [2031-03-14]").event_today(DAY) == "full"
    assert Meant(None).event_today(DAY) == ""


def test_which_plan_was_taken_is_told(tmp_path, capsys):
    found = meant(tmp_path, 'plan = "quiet"')
    found.event_plans(None)
    found.tell()
    assert capsys.readouterr().err.endswith("plan of events quiet\n")
