"""The time of day of a run: where it was played, whatever the laptop's zone is now."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from freezegun import freeze_time

from tocsin import monotime
from tocsin.journal import records
from tocsin.journal.local_time import local_begin, offset_at

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a zone is chosen by TZ")

# Rules in POSIX's own form, so that no list of zones is needed: summer time from the last Sunday of March, 01:00 UTC,
# to that of October; and one without summer time, west.
CENTRAL = "CET-1CEST,M3.5.0,M10.5.0/3"
WEST = "PST8"


@contextmanager
def zone(name: str) -> Iterator[None]:
    """Move the laptop."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", name)
        time.tzset()
        yield
    time.tzset()


def header(wall: str, offset_s: int | None = None) -> records.Header:
    return records.Header(at_ns=0, wall=wall, boot="b", utc_offset_s=offset_s)


def told(wall: str, offset_s: int | None = None) -> str:
    found = local_begin(header(wall, offset_s))
    return "" if found is None else f"{found:%Y-%m-%d %H:%M %z}"


@pytest.mark.parametrize(
    ("wall", "local"),
    [
        ("2031-03-30T00:59:59.000Z", "2031-03-30 01:59 +0100"), ("2031-03-30T01:00:00.000Z", "2031-03-30 03:00 +0200"),
        ("2031-10-26T00:30:00.000Z", "2031-10-26 02:30 +0200"), ("2031-10-26T01:30:00.000Z", "2031-10-26 02:30 +0100"),
        ("2031-03-14T22:59:59.999Z", "2031-03-14 23:59 +0100"), ("2031-03-14T23:00:00.000Z", "2031-03-15 00:00 +0100"),
    ],
)  # fmt: skip
def test_summer_time_is_that_of_the_day_itself(wall: str, local: str) -> None:
    with zone(CENTRAL):
        assert told(wall) == local


def test_a_run_keeps_the_time_of_where_it_was_played_when_the_laptop_moves() -> None:
    wall = "2031-07-14T21:30:00.000Z"
    with zone(CENTRAL):
        there = offset_at(wall)
        assert there == 7200
    with zone(WEST):
        assert told(wall, there) == "2031-07-14 23:30 +0200"
        assert told(wall) == "2031-07-14 13:30 -0800", "one of an earlier version is taken for this place"


def test_what_is_written_is_the_offset_of_that_moment_where_the_laptop_is() -> None:
    with zone(CENTRAL), freeze_time("2031-07-14T21:30:00Z"):
        assert offset_at(monotime.wall_text()) == 7200
    with zone(CENTRAL), freeze_time("2031-12-14T21:30:00Z"):
        assert offset_at(monotime.wall_text()) == 3600


def test_a_process_notices_that_the_laptop_moved() -> None:
    with pytest.MonkeyPatch.context() as patch:
        for name, offset_s in ((CENTRAL, 7200), (WEST, -8 * 3600)):
            patch.setenv("TZ", name)           # without tzset: it is for the program to look
            assert offset_at("2031-07-14T21:30:00.000Z") == offset_s
    time.tzset()


@pytest.mark.parametrize(
    "wall", ["", "yesterday", "2031-02-30T00:00:00Z", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z"]
)
def test_a_text_that_is_no_moment_or_none_that_can_be_told_breaks_nothing(wall: str) -> None:
    for name in (CENTRAL, WEST):
        with zone(name):
            assert told(wall) == "" or wall[:4] in ("0001", "9999")
            assert told(wall, -86_399) == "" or wall.startswith("9999")


@pytest.mark.parametrize("offset_s", [86_400, -86_400, 1.5, "3600"])
def test_an_offset_that_no_place_has_is_none(offset_s: object) -> None:
    line = records.encode(header("2031-03-14T22:59:59.999Z")).replace(b'"utc_offset_s":null', b'"utc_offset_s":%s')
    with pytest.raises(records.msgspec.ValidationError):
        records.decode(line % (f'"{offset_s}"' if isinstance(offset_s, str) else str(offset_s)).encode())
