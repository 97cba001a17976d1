"""The number of the match that comes, by what the runs of the day say."""

import time
from datetime import date
from pathlib import Path

import pytest

from tocsin.features.event.number import next_number
from tocsin.journal import records
from tocsin.journal.writer import JournalWriter

DAY = date(2031, 3, 14)
pytestmark = pytest.mark.skipif(not hasattr(time, "tzset"), reason="POSIX alone sets a zone for one process")


def recorded(
    runs: Path, wall: str, *, outcome: str = "over", utc_offset_s: int | None = None, **options: object
) -> None:
    header = records.Header(at_ns=1, wall=wall, boot="", options=options, utc_offset_s=utc_offset_s)
    writer = JournalWriter.create(runs, header)
    if outcome:
        writer.append(records.End(at_ns=2, outcome=outcome, exit=0))       # type: ignore[arg-type]
    assert writer.close() == ""


@pytest.fixture(autouse=True)
def utc(monkeypatch):
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(("outcome", "number"), [("over", 15), ("scrapped", 14), ("crashed", 14), ("", 14)])
def test_a_match_that_was_played_is_counted_and_one_that_was_not_comes_again(tmp_path, outcome, number):
    recorded(tmp_path, "2031-03-14T09:00:00.000Z", at="event", match=3)
    recorded(tmp_path, "2031-03-14T10:00:00.000Z", at="event", match=14, outcome=outcome)
    assert next_number(tmp_path, DAY) == number


def test_practice_between_and_runs_without_a_number_do_not_count(tmp_path):
    recorded(tmp_path, "2031-03-14T10:00:00.000Z", at="event", match=14)
    recorded(tmp_path, "2031-03-14T11:00:00.000Z", at="practice")
    recorded(tmp_path, "2031-03-14T11:01:00.000Z", at="event", match=None)
    recorded(tmp_path, "2031-03-14T11:02:00.000Z", at="event", match="7")
    (tmp_path / "2031-03-14_11-03-00.000Z").mkdir()
    assert next_number(tmp_path, DAY) == 15


@pytest.mark.parametrize("wall", ["2031-03-13T23:00:00.000Z", "2030-03-14T10:00:00.000Z", "no time"])
def test_another_days_number_is_not_offered(tmp_path, wall):
    recorded(tmp_path, wall, at="event", match=14)
    assert next_number(tmp_path, DAY) is None


def test_the_day_is_the_local_one(tmp_path, monkeypatch):
    recorded(tmp_path, "2031-03-13T23:00:00.000Z", at="event", match=14)
    monkeypatch.setenv("TZ", "TST-2")                  # two hours ahead of UTC
    time.tzset()
    assert next_number(tmp_path, DAY) == 15


@pytest.mark.parametrize(("ahead_h", "number"), [(2, 15), (-2, None)])
def test_the_day_is_that_of_the_place_where_it_was_played_as_in_the_list_of_runs(tmp_path, ahead_h, number):
    recorded(tmp_path, "2031-03-13T23:00:00.000Z", utc_offset_s=ahead_h * 3600, at="event", match=14)
    recorded(tmp_path, "2031-03-14T01:00:00.000Z", utc_offset_s=-2 * 3600, at="event", match=50)
    assert next_number(tmp_path, DAY) == number


def test_the_last_number_stays_the_last_and_no_folder_has_none(tmp_path):
    assert next_number(tmp_path / "none", DAY) is None
    recorded(tmp_path, "2031-03-14T10:00:00.000Z", at="event", match=999)
    assert next_number(tmp_path, DAY) == 999
