"""How far apart devices land, and whether that is noticed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.analysis.delays.estimates import Estimate
from tocsin.analysis.delays.landing import Delay, apart_ms, landings, latencies_ms, verdict


def delays(**found_ms):
    return [
        Delay(
            device=device, method="film",
            reading=Estimate(mean_ms=ms, median_ms=ms, error_ms=1.0, spread_ms=1.0, n=10),
        )
        for device, ms in found_ms.items()
    ]


def said(found, **rig_ms):
    return " ".join(verdict(landings(found, rig_ms)))


def test_latencies_are_the_delays():
    assert latencies_ms(delays(light=18.2, driver=92.6)) == {"light": 18, "driver": 93}


def test_all_are_moved_up_where_one_would_be_below_nothing():
    assert latencies_ms(delays(light=9.0, screen=-6.0)) == {"light": 15, "screen": 0}


def test_landings_are_what_latencies_leave_of_the_delays():
    found = landings(delays(light=18.0, sound=140.0), {"light": 4, "sound": 12})
    assert [(one.device, one.now_ms, one.then_ms) for one in found] == [("light", 14, 0), ("sound", 128, 0)]


# ITU-R BT.1359-1: sound is noticed from 45 ms before the picture to 125 ms after it.
@pytest.mark.parametrize(
    ("sound_ms", "noticed"),
    [(125, True), (124, False), (-45, True), (-44, False)],
)
def test_sound_against_light_is_judged_by_the_recommendation(sound_ms, noticed):
    text = said(delays(screen=100.0, sound=100.0 + sound_ms), screen=0, sound=0)
    assert ("people notice sound" in text) == noticed


def test_light_stands_for_the_picture_where_no_screen_was_measured():
    assert "people notice sound 128 ms after light" in said(delays(light=18.0, sound=140.0), light=18, sound=12)


def test_pads_are_judged_by_our_own_yardstick():
    assert "may notice that" in said(delays(light=18.0, driver=93.0), light=18, driver=0)
    assert "hardly anybody" in said(delays(light=18.0, driver=93.0), light=18, driver=80)


def test_the_verdict_says_how_far_apart_now_and_then():
    text = said(delays(light=18.0, screen=47.0, driver=92.6), light=4, screen=16, driver=0)
    assert "they come 79 ms apart, light first, driver last" in text
    assert "With the measured delays they come 0 ms apart" in text


def test_one_device_alone_has_no_verdict():
    text = said(delays(sound=140.0), sound=12)
    assert "sound comes 128 ms after its time" in text
    assert "Measure the others too" in text
    assert "sound comes 12 ms before its time" in said(delays(sound=0.0), sound=12)


@given(st.dictionaries(st.sampled_from(["light", "screen", "sound", "driver"]), st.floats(-50, 400), min_size=1))
def test_written_latencies_let_all_land_within_a_millisecond(found_ms):
    found = landings(delays(**found_ms), dict.fromkeys(found_ms, 0))
    assert apart_ms([one.then_ms for one in found]) <= 1 + 1e-6
    assert all(ms >= 0 for ms in latencies_ms(delays(**found_ms)).values())
