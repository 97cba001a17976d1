"""Delays from tables of film pictures: simulated films of known delays, and tables with mistakes."""

import random
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.analysis.csv_table import TableError
from tocsin.analysis.delays.film import FilmRow, Reference, cue_times_ns, film_delays, film_rate, film_text, read_film
from tocsin.units import NS_PER_MS

TRUE_MS = {"light": 18.0, "screen": 47.3, "sound": 131.0, "driver": 92.6}
DEVICES = tuple(TRUE_MS)
REFERENCE = Reference("light", 18.0)
# what a vigilance test's device may be off by (Basner and Dinges, Sleep 34:581, 2011).
BIAS_MS, SPREAD_MS = 5.0, 10.0


def filmed(rng, fps, *, cues=12, spread_ms=2.0, missed=0.0, misread=0.0, exact_fps=None):
    """Return the table of a film, from the definition alone: a thing is first seen in the first picture after it.

    Calls come up to 3 ms late, which the table tells. ``misread`` is the share of pictures that were counted wrongly.
    """
    rows = []
    began_s = rng.random() * 10
    for cue, at_ns in enumerate(cue_times_ns(cues), 1):
        for device, delay_ms in TRUE_MS.items():
            called_ms = at_ns / NS_PER_MS + rng.random() * 3
            seen_s = began_s + (called_ms + rng.gauss(delay_ms, spread_ms if device != "light" else 0)) / 1000
            frame = float(np.ceil(seen_s * (exact_fps or fps)))
            if rng.random() < misread:
                frame += rng.choice([-30, -10, 10, 30, 100])
            rows.append(FilmRow(cue, device, called_ms, None if rng.random() < missed else frame))
    return rows


def measured(rows, fps):
    return {delay.device: delay.reading for delay in film_delays(rows, fps, REFERENCE)}


@pytest.mark.parametrize("fps", [60, 120, 240])
def test_known_delays_are_recovered_from_many_films(fps):
    rng = random.Random(fps)
    films = [measured(filmed(rng, fps, missed=0.1, misread=0.02), fps) for _ in range(300)]
    for device in ("screen", "sound", "driver"):
        errors_ms = [film[device].median_ms - TRUE_MS[device] for film in films]
        assert abs(statistics.fmean(errors_ms)) < BIAS_MS / 5
        assert statistics.stdev(errors_ms) < SPREAD_MS / 3
        sure = [film[device] for film in films if film[device].error_ms is not None]
        assert len(sure) > 0.97 * len(films)       # a twelfth of cues missing, few films have less than six left
        held = statistics.fmean(one.low_ms <= TRUE_MS[device] <= one.high_ms for one in sure)
        assert held >= 0.93, device


@pytest.mark.parametrize("fps", [60, 120, 240])
def test_cues_meet_all_phases_of_a_film_alike(fps):
    """Else pictures would all be late by the same part, and the mean of a dozen no better than one."""
    phases = [at_ns * fps / 1e9 % 1 for at_ns in cue_times_ns(12)]
    counts, _ = np.histogram(phases, bins=4, range=(0, 1))
    assert counts.min() >= 1
    gaps_ns = np.diff(cue_times_ns(12))
    assert gaps_ns.min() > 1.5e9                   # no second holds two flashes


def test_a_misread_picture_of_one_device_spoils_that_reading_alone():
    rows = filmed(random.Random(1), 240, spread_ms=0.5)
    clean = measured(rows, 240)
    at = next(n for n, row in enumerate(rows) if row.device == "driver")
    rows[at] = rows[at]._replace(frame=rows[at].frame + 24)
    found = measured(rows, 240)
    assert (found["driver"].n, found["driver"].refused) == (11, 1)
    assert found["driver"].median_ms == pytest.approx(clean["driver"].mean_ms, abs=1)
    assert found["sound"] == clean["sound"]


def test_a_misread_picture_of_the_reference_is_refused_in_all():
    rows = filmed(random.Random(1), 240, spread_ms=0.5)
    rows[0] = rows[0]._replace(frame=rows[0].frame + 24)
    assert rows[0].device == "light"
    assert {name: one.refused for name, one in measured(rows, 240).items()} == {
        "light": 0, "screen": 1, "sound": 1, "driver": 1
    }  # fmt: skip


def test_a_picture_that_the_next_can_explain_is_not_refused():
    """All but one in one picture: the middle deviation is nothing, and still the next picture is no mistake."""
    after = {"light": 0, "driver": 9}
    rows = [FilmRow(cue, device, None, 100.0 * cue + by) for cue in range(1, 13) for device, by in after.items()]
    rows[-1] = rows[-1]._replace(frame=rows[-1].frame + 1)
    assert measured(rows, 120)["driver"].refused == 0
    rows[-1] = rows[-1]._replace(frame=rows[-1].frame + 2)
    assert measured(rows, 120)["driver"].refused == 1


def test_fewer_than_six_cues_do_not_tell_how_sure_a_delay_is():
    few, enough = (measured(filmed(random.Random(4), 240, cues=cues), 240) for cues in (5, 6))
    for device in ("screen", "sound", "driver"):
        assert few[device].error_ms is None
        assert enough[device].error_ms is not None


def test_calls_that_were_late_are_taken_off():
    """By hand: at 100 a second the pictures are 8 apart, so 80 ms, of which the call was 30 ms late."""
    rows = [FilmRow(1, "light", 2000.0, 300), FilmRow(1, "driver", 2030.0, 308)]
    assert measured(rows, 100)["driver"].median_ms == pytest.approx(18 + 50)
    untold = [row._replace(called_ms=None) for row in rows]
    assert measured(untold, 100)["driver"].median_ms == pytest.approx(18 + 80)


def test_a_film_that_is_a_little_faster_than_it_says_is_measured_by_its_own_cues():
    rows = filmed(random.Random(2), 240, exact_fps=239.2)
    assert film_rate(rows, "light", 240) == pytest.approx(239.2, rel=2e-4)
    assert measured(rows, 240)["sound"].median_ms == pytest.approx(131.0, abs=3)


def test_a_film_whose_pictures_were_counted_in_another_way_is_refused():
    """A player that shows every second picture of 240 counts 120 a second: all delays would come out halved."""
    rows = [row._replace(frame=row.frame // 2) for row in filmed(random.Random(3), 240)]
    with pytest.raises(TableError, match=r"120\.0 frames a second, not 240: write --fps 120"):
        film_delays(rows, 240, REFERENCE)
    assert measured(rows, 120)["sound"].median_ms == pytest.approx(131.0, abs=5)


def test_a_short_and_slow_film_is_not_taken_for_one_of_another_rate():
    """Three cues at 30 a second lie some hundred pictures apart: a single picture is a hundredth of that."""
    for seed in range(200):
        rows = filmed(random.Random(seed), 30, cues=3)
        assert film_rate(rows, "light", 30) == pytest.approx(30, rel=0.02)


def test_what_is_not_on_the_film_is_not_measured():
    rows = [row if row.device != "driver" else row._replace(frame=None) for row in filmed(random.Random(4), 120)]
    assert set(measured(rows, 120)) == {"light", "screen", "sound"}


def test_without_the_reference_nothing_is_measured():
    rows = [row for row in filmed(random.Random(4), 120) if row.device != "light"]
    with pytest.raises(TableError, match="no frame of light"):
        film_delays(rows, 120, REFERENCE)
    with pytest.raises(TableError, match="no cue shows light and another"):
        film_delays([FilmRow(1, "light", 0.0, 5), FilmRow(2, "screen", 0.0, 9)], 120, REFERENCE)


HEAD = "cue,device,called_ms,frame"


def problems(*lines):
    with pytest.raises(TableError) as error:
        read_film("\n".join(lines), DEVICES)
    return list(error.value.problems)


def test_a_table_with_several_mistakes_tells_all_of_them_with_their_lines():
    found = problems(
        HEAD, "1,light,0,12", "0,light,0,12", "1,lamp,0,13", "", "1,light,0,14", "2,sound,soon,15", "2,driver,0,-3",
        "2,lamp,0,17", "x,lamp,0,18",
    )
    assert found == [
        "line 3: '0' is not a cue; write the number that the screen shows, from 1",
        "line 4 and 2 more: 'lamp' is not a device of this rig, which has light, screen, sound, driver: is it the "
        "right rig?",
        "line 6: cue 1 of light is in line 2 too; keep one",
        "line 7: 'soon' is not a time in ms; leave this column as Tocsin wrote it",
        "line 8: '-3' is not a frame number; write a number, or leave it empty if it was not seen",
        "line 10: 'x' is not a cue; write the number that the screen shows, from 1",
    ]


def test_a_film_for_a_rig_without_devices_takes_a_line_for_each_of_its_devices():
    rows = [f"{cue},{device},0,{cue}" for cue in range(1, 13) for device in DEVICES]
    with pytest.raises(TableError) as error:
        read_film("\n".join([HEAD, *rows]), ())
    assert list(error.value.problems) == [
        f"line {line} and 11 more: '{device}' is not a device of this rig, which has none: is it the right rig?"
        for line, device in enumerate(DEVICES, 2)
    ]


def test_a_table_without_its_columns_or_without_a_frame_says_so():
    assert problems("cue,channel,frame", "1,light,2") == [
        "line 1: no column device; the first line must read: cue,device,called_ms,frame"
    ]
    assert "no frame is filled in" in problems(HEAD, "1,light,0,")[0]


@pytest.mark.parametrize("parted", [";", "\t"])
def test_a_table_that_came_back_from_a_spreadsheet_is_read(parted):
    lines = ["Cue;Device;called_ms;Frame", "1;light;2000,250;812", "1;screen;2000,300;812,5", ";;;", "2;light;3700,9;"]
    text = "\ufeff" + "\r\n".join(lines).replace(";", parted)
    assert read_film(text, DEVICES) == (
        FilmRow(1, "light", 2000.25, 812.0), FilmRow(1, "screen", 2000.3, 812.5), FilmRow(2, "light", 3700.9, None)
    )  # fmt: skip


ROWS = st.builds(
    FilmRow, st.integers(1, 30), st.sampled_from(DEVICES), st.integers(0, 10**6).map(lambda n: n / 8),
    st.one_of(st.none(), st.integers(0, 99_999).map(float)),
)  # fmt: skip


@given(st.lists(ROWS, min_size=1, unique_by=lambda row: row[:2]))
def test_a_written_table_is_read_as_it_was(rows):
    if all(row.frame is None for row in rows):
        rows = [*rows, FilmRow(31, "light", 0.0, 1.0)]
    assert read_film(film_text(rows), DEVICES) == tuple(rows)
