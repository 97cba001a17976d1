"""Whole matches in the page: each cue once, in order, in time; and what people do to its clock."""

import json
import re
import statistics

import pytest

from tests.support.export.exported_plans import bundled, source
from tests.support.export.page_sources import by_hand
from tests.support.export.page_stand import EARS, EYES, FAKE_PADS, FRAME_NS, MS, S, opened, write_page
from tocsin.model.plan import Plan
from tocsin.model.safety import BLACK, flicker

pytestmark = pytest.mark.devices

FULL = bundled("full")
# As generous as can be: the machine may be busy, so punctuality is printed, and gated by the latest limit of any cue.
BOUND_NS = 1_500 * MS + FRAME_NS
ROLES = ("driver", "operator")


@pytest.fixture(scope="module", autouse=True)
def last_seconds(running, address):
    """A match that runs beside the other tests of this file: the last one looks at it."""
    with opened(running, f"{address}?start=now&from=105", FAKE_PADS, EARS, EYES) as page:
        yield page


def expected(channel, since_ns=0):
    """Return the firings of a channel that a page with two pads gives from a moment of the match on."""
    return [
        firing
        for firing in FULL.timeline.firings
        if firing.channel == channel
        and firing.match_ns is not None
        and firing.begin.offset_ns >= since_ns
        and firing.role in (None, *ROLES)
    ]


def real_ns(page, firing, rate):
    return page.origin_ns() + round(firing.begin.offset_ns / rate)


def seen_words(page):
    return [(entry["at"] * MS, entry["word"].replace("\n", " ").strip()) for entry in page.ask("window.words")]


def seen_colours(page):
    """Return what stood around the words: (time in ns, the two colours of the field, the two of the frame)."""
    frames = []
    for look in page.ask("window.looks"):
        found = [tuple(map(int, rgb)) for rgb in re.findall(r"rgb\((\d+), ?(\d+), ?(\d+)\)", look["colours"])]
        frame = [found[0], found[-1]] if found else [BLACK, BLACK]
        frames.append((round(look["at"] * MS), [*(frame if look["full"] else [BLACK, BLACK]), *frame]))
    assert len({tuple(colours) for _, colours in frames}) > 6
    return frames


def assert_all_given(page, rate, since_ns, capsys):
    """Each cue once, in order, none early; printed how late they were."""
    late_ms = []
    for channel in ("rumble", "screen", "sound"):
        told = [line for line in page.firings(channel) if line["role"] in (None, *ROLES)]
        found = [line for line in told if line["why"] not in ("crossed", "absent")]
        wanted = expected(channel, since_ns)
        assert [line["no"] for line in found] == [firing.no for firing in wanted]
        for line, firing in zip(found, wanted, strict=True):
            if line["outcome"] == "played":
                late_ns = line["at_ns"] - real_ns(page, firing, rate)
                assert -FRAME_NS <= late_ns <= BOUND_NS, (firing.cue, channel)
                late_ms.append(line["late_ms"])
            else:
                # At twenty times the speed a long pattern covers what comes within it, but that is told.
                if (line["outcome"], line["why"]) == ("skipped", "late"):
                    pytest.skip("the machine was too busy: a cue came beyond its limit and was left out, as it must")
                if line["outcome"] == "resumed":
                    pytest.skip("the machine was too busy: a cue came beyond its limit, and what was left of it showed")
                assert (rate, line["outcome"], line["why"]) == (20, "skipped", "outranked")
    ninety_nine = statistics.quantiles(late_ms, n=100, method="inclusive")[98]
    with capsys.disabled():
        late = f"p99 {ninety_nine:.2f} worst {max(late_ms):.2f}"
        print(f"\n  page at rate {rate}: {len(late_ms)} signals, late ms {late}")


def test_a_whole_match_at_twenty_times_the_speed(running, address, capsys):
    with opened(running, f"{address}?start=now&rate=20", FAKE_PADS, EYES) as page:
        page.await_that("page.match.phase === 'over'", 60)
        assert_all_given(page, 20, 0, capsys)
        assert page.records("end")[-1]["outcome"] == "over"
        assert flicker(seen_colours(page)).within(2)
        order = [word for _, word in seen_words(page) if word]
        assert [word for word in order if word in ("PADS", "HOME", "OVER")] == ["PADS", "HOME", "OVER"]


def test_what_a_blocked_page_misses_is_skipped_and_held_cues_resume_without_a_burst(running, address):
    """Three seconds in which no timer runs, as in a tab in the background, over the call home."""
    block = """(() => {
      const matchNs = () => page.match.reading(nowNanos()).matchNs;
      const look = () => {
        if (page.match.phase !== 'running' || matchNs() < 112.6e9) { setTimeout(look, 5); return; }
        window.blockedNs = matchNs();
        while (matchNs() < 115.8e9);
      };
      look();
    })()"""
    with opened(running, f"{address}?from=111.5", FAKE_PADS, EARS, EYES) as page:
        page.ask(block)
        page.start()
        page.await_match(117.5)
        if page.ask("window.blockedNs") > 113.9e9:
            pytest.skip("the machine was too busy: the page stood still before the test let it")
        outcomes = {(f["cue"], f["channel"], f["role"]): (f["outcome"], f["why"]) for f in page.firings()}
        assert outcomes["coach_call", "screen", None] == ("skipped", "late")
        assert outcomes["home", "screen", None] == ("resumed", "")
        assert outcomes["home", "rumble", "driver"] == ("resumed", "")
        assert outcomes["home", "sound", None] == ("played", "")       # set on the audio clock before the page hung
        assert [f["cue"] for f in page.firings("screen")].count("home") == 1
        pulses = [call for call in page.ask("window.motors") if call["type"] == "dual-rumble" and call["pad"] == 0]
        before = [call for call in pulses if call["at"] * MS < page.origin_ns() + 117.9 * S]         # NO TOUCH
        assert 0 < len(before) <= 3                                    # one triple at most, not all that was missed
        assert "CALL HOME" not in [word for _, word in seen_words(page)]
        assert "2 signals came too late to be given: keep this page in front" in page.ask("page.record.result()")


def test_count_in_scrap_hold_and_nudge(running, address):
    with opened(running, address, EARS) as page:
        page.tab.keyboard.press("s")
        assert page.phase() == "waiting"
        began_ns = page.records("header")[-1]["at_ns"]
        assert 0 <= page.origin_ns() + 1 - began_ns <= 5 * S           # five seconds from the key, none later
        page.await_that("""(() => {
          const read = (id) => document.querySelector(id).textContent;
          if (read('#title') === 'Match begins in' && read('#digits') <= '3') { window.counted = true; }
          return window.counted || page.match.phase === 'running';
        })()""")
        if page.phase() == "running":
            pytest.skip("the machine was too busy: the page began before anybody could look")
        assert page.ask("window.counted")
        assert len(page.ask("window.tones")) == 4                      # three beats that lead, one on the begin
        first, second = page.press_at_once("x", "x")
        assert first in ("waiting", "running")                         # one press cancels nothing
        assert second == "standby"
        assert page.records("end")[-1]["outcome"] == "scrapped"
        page.tab.goto(f"{address}?start=now&from=80")
        page.await_match(80.4)
        page.tab.keyboard.press("p")
        digits = page.ask("page.match.reading(nowNanos()).matchNs")
        page.tab.wait_for_timeout(500)
        assert page.ask("page.match.reading(nowNanos()).matchNs") == digits
        assert "HELD" in page.ask("document.querySelector('#title').textContent")
        before_ns = page.origin_ns()
        page.tab.keyboard.press("p")
        assert page.phase() == "running"
        assert page.origin_ns() - before_ns >= 500 * MS
        before_ns = page.origin_ns()
        page.tab.keyboard.press("ArrowLeft")
        assert page.origin_ns() == before_ns - 200 * MS
        page.tab.keyboard.press("s")
        assert "cannot start: the match is running" in page.ask("document.querySelector('#facts').textContent")


def test_a_device_that_slept_is_noticed_by_its_wall_clock(running, address):
    """The page's own clock may stand still in sleep: it corrects nothing by itself, but asks."""
    jump = "const now = Date.now; window.slept = 0; Date.now = () => now() + window.slept;"
    with opened(running, f"{address}?start=now&from=60", jump) as page:
        page.await_match(60.2)
        before_ns = page.origin_ns()
        assert page.records("fault") == []
        page.ask("window.slept = 20000")
        page.await_that("document.querySelector('#facts').textContent.includes('did this device sleep?')")
        fault = page.records("fault")[0]
        assert (fault["what"], fault["why"]) == ("slept", "the wall clock moved by 20.0 s")
        assert page.origin_ns() == before_ns


def test_a_call_by_hand_counts_as_the_next_scheduled_one(running, address):
    with opened(running, f"{address}?from=105", FAKE_PADS, EYES) as page:
        page.start()
        page.await_match(105.1)
        page.tab.keyboard.press("h")
        page.await_that("window.motors.filter(call => call.type === 'dual-rumble').length >= 8")
        homes = [f for f in page.firings("screen") if f["cue"] == "home"]
        assert [(f["anchor"], f["outcome"], f["why"]) for f in homes] == [
            ("call.home", "played", ""), ("match", "skipped", "given"),
        ]  # fmt: skip
        assert [word for _, word in seen_words(page) if word].count("HOME") == 1
        calls = [call for call in page.ask("window.motors") if call["type"] == "dual-rumble"]
        own = [call for call in calls if call["at"] * MS < page.origin_ns() + 117.9 * S]             # NO TOUCH
        assert len(own) == 6


def test_a_held_cue_shows_again_after_the_hold(running, address):
    with opened(running, f"{address}?start=now&from=113.8&rate=0.5", EYES) as page:
        page.await_match(114.5)
        page.tab.keyboard.press("p")
        page.await_that("document.querySelector('#word').hidden")
        page.tab.keyboard.press("p")
        page.await_that("document.querySelector('#word').textContent.includes('HOME')")
        outcomes = [f["outcome"] for f in page.firings("screen") if f["cue"] == "home"]
        assert outcomes == ["played", "resumed"]


def test_periods_that_a_person_begins(running, tmp_path):
    made = by_hand()
    with opened(running, f"{write_page(tmp_path, made)}?start=now&from=14") as page:
        page.await_that("!document.querySelector('[data-act=begin]').hidden")
        assert page.ask("document.querySelector('#prompt').textContent") == "Driver: press when it begins"
        page.tab.click("[data-act=begin]")
        page.tab.keyboard.press("b")                   # a second press begins no second period
        assert page.ask("page.match.reading(nowNanos()).period") == "driver"
        assert page.ask("document.querySelector('[data-act=begin]').hidden")
        assert page.origin_ns("driver") <= page.ask("nowNanos()")
        assert "begun a moment ago" in page.ask("document.querySelector('#facts').textContent")
        assert page.ask("page.match.reading(nowNanos()).period") == "driver"


def test_the_variant_that_is_chosen_decides_what_comes(running, tmp_path):
    with opened(running, f"{write_page(tmp_path, bundled('doors'))}?from=52.5") as page:
        page.tab.check("input[value=south_first]")
        page.tab.check("#by-press")
        page.tab.click("#start-panel .big")
        page.await_that("document.querySelector('#word').textContent.includes('DOOR')")
        assert page.ask("document.querySelector('#word').textContent").split() == ["NORTH", "DOOR"]


def test_marks_and_signals_as_a_file(running, address, tmp_path):
    with opened(running, f"{address}?from=126&rate=2", FAKE_PADS) as page:
        page.start()
        page.await_match(126.1)
        page.tab.keyboard.down("7")
        page.tab.wait_for_timeout(500)
        page.tab.keyboard.up("7")
        page.tab.keyboard.press("9")
        page.tab.click("[data-act='mark.contact']", delay=400)
        page.await_that("page.match.phase === 'over'")
        with page.tab.expect_download() as download:
            page.tab.click("#bar [data-act=save]")
        assert download.value.suggested_filename.endswith(".jsonl")
        lines = [json.loads(line) for line in download.value.path().read_text(encoding="utf-8").splitlines()]
        assert [lines[0]["kind"], lines[1]["kind"], lines[-1]["kind"]] == ["source", "header", "end"]
        assert lines[1]["plan_sha256"] == FULL.plan_sha256
        marks = [line for line in lines if line["kind"] == "mark"]
        assert [mark["label"] for mark in marks] == ["contact", "home", "contact"]
        assert marks[0]["end_ns"] - marks[0]["begin_ns"] >= 490 * MS
        assert marks[1]["end_ns"] is None                              # a tap is a point
        assert marks[2]["end_ns"] - marks[2]["begin_ns"] >= 390 * MS
        origin = next(line for line in lines if line["kind"] == "origin")
        for mark in marks:
            match_ns = (mark["begin_ns"] - origin["origin_ns"]) * origin["rate"]
            assert mark["match_ns"] == pytest.approx(match_ns, abs=1)
        played = [line for line in lines if line["kind"] == "firing" and line["outcome"] == "played"]
        assert {"last_five", "over"} <= {line["cue"] for line in played}
        assert all(line["late_ms"] >= 0 for line in played)
        page.tab.goto(address)                                         # kept over a reload
        assert "marks: 3," in page.ask("document.querySelector('#kept').textContent")


@pytest.mark.parametrize(
    ("query", "notice"), [("?rate=1000", "?rate lies between 0.1 and 100"), ("?from=999", "?from is match seconds")]
)
def test_an_address_that_cannot_be_met_is_refused_with_a_sentence(running, address, query, notice):
    with opened(running, address + query) as page:
        assert notice in page.ask("document.querySelector('#notice').textContent")
        assert page.ask("[page.match.rate, page.match.at.offset_ns]") == [1, 0]


def test_a_source_without_cues_still_counts(running, tmp_path):
    empty = source(FULL.game, Plan(name="Empty", game="casting_day"))
    with opened(running, f"{write_page(tmp_path, empty)}?start=now&from=8") as page:
        # It begins at 0:20. A busy machine may look past one second's digits.
        page.await_that("/^0:[01]\\d$/.test(document.querySelector('#digits').textContent)")


def test_the_last_thirty_five_seconds_at_real_time(last_seconds, capsys):
    """Checked against the words on the screen, the motors and the audio clock, not only against the page's record."""
    page = last_seconds
    page.await_that("page.match.phase === 'over'", 60)
    assert_all_given(page, 1, 105 * S, capsys)
    words = [(at, word) for at, word in seen_words(page) if word]
    for word, second in (("CALL HOME", 113), ("HOME", 114), ("NO TOUCH", 118), ("CHOOSE", 126), ("OVER", 136)):
        at_ns = next(at for at, seen in words if seen == word)
        assert -FRAME_NS <= at_ns - (page.origin_ns() + second * S) <= BOUND_NS, word
    heard = [tone["heard"] * MS for tone in page.ask("window.tones")]
    wanted = [real_ns(page, firing, 1) for firing in expected("sound", 105 * S)]
    assert len(heard) == len(wanted)
    # Set ahead on the audio clock: no timer makes them late. A busy machine holds up that clock for a moment at times.
    off_ns = [abs(at_ns - due_ns) for at_ns, due_ns in zip(heard, wanted, strict=True)]
    assert statistics.median(off_ns) < 100 * MS
    assert max(off_ns) < BOUND_NS
