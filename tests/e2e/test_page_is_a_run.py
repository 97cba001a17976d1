"""A match that a real browser or a real process kept is one result with the same match from elsewhere."""

import contextlib

import pytest

from tests.support.channels.screen_stand import MISSING, Server
from tests.support.export.page_stand import browser, opened, write_page
from tests.support.people.four_ways import (
    END_S,
    Press,
    Watched,
    as_page,
    as_robot,
    as_run,
    as_video,
    judged,
    page_data,
)
from tests.support.stands.stand import Run, wait_for
from tocsin import monotime
from tocsin.cli.main import main
from tocsin.cli.source import source_of
from tocsin.features.records.round_report import played_of
from tocsin.journal import records
from tocsin.journal.clock_history import ClockHistory
from tocsin.journal.place import run_folders
from tocsin.journal.reader import read
from tocsin.units import NS_PER_MS, NS_PER_S

pytestmark = pytest.mark.devices

HUNDREDTH = 0.005
WINDOW_S = 118                         # the window in which contact counts begins
LABELS = {"Digit7": "contact", "Digit8": "turned", "Digit9": "home"}
# What the test itself hears of the keys, beside the page.
EARS = """
window.presses = [];
['keydown', 'keyup'].forEach((type) => window.addEventListener(type, (event) => {
  if (!event.repeat) { window.presses.push([type, event.code, event.timeStamp]); }
}, true));
"""
# A push that the call finds, the turn, a push in the window, home: when keys go down and come up, in match seconds.
HANDS = (
    (109.5, "7", True), (115.0, "8", True), (115.1, "8", False), (115.4, "7", False), (121.2, "7", True),
    (123.4, "7", False), (128.3, "9", True), (128.4, "9", False),
)  # fmt: skip


def play(page):
    """Play the end of a match by keys at chosen times; return what the page saves."""
    page.start()
    for match_s, key, down in HANDS:
        page.await_match(match_s)
        (page.tab.keyboard.down if down else page.tab.keyboard.up)(key)
    page.await_that("page.match.phase === 'over'")
    with page.tab.expect_download() as download:
        page.tab.click("#bar [data-act=save]")
    return download.value.path().read_bytes()


def happened(page):
    """Return what happened by the ears' account, on the page's match clock."""
    origin_ns = page.origin_ns()
    down, presses = {}, []
    for kind, code, at_ms in page.ask("window.presses"):
        match_ns = round(at_ms * NS_PER_MS) - origin_ns
        if kind == "keydown":
            down[code] = match_ns
        elif code in LABELS:
            begin_ns = down.pop(code)
            is_span = match_ns - begin_ns >= 300 * NS_PER_MS
            presses.append(Press(LABELS[code], begin_ns, match_ns if is_span else None))
    homes = [line for line in page.firings() if line["cue"] == "home" and line["outcome"] in ("played", "resumed")]
    played = [line["due_ns"] + line["late_ms"] * NS_PER_MS for line in homes if line["outcome"] == "played"]
    landed = played or [line["at_ns"] - origin_ns for line in homes]
    return Watched(tuple(sorted(presses, key=lambda one: one.begin_ns)), round(min(landed)))


def test_what_a_browser_kept_is_judged_as_the_same_match_from_elsewhere(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    folders = {name: tmp_path / name for name in ("page", "run", "video", "robot")}
    for folder in folders.values():
        folder.mkdir()
    address = write_page(tmp_path, source_of("full", None))
    with browser() as running, opened(running, f"{address}?from=108", EARS) as page:
        data = play(page)
        watched = happened(page)
    push, turned, inside, home = watched.presses
    assert (push.label, turned.label, inside.label, home.label) == ("contact", "turned", "contact", "home")
    found = {
        "page": as_page(folders["page"], data),
        "run": as_run(folders["run"], watched),
        "video": as_video(folders["video"], watched),
        "robot": as_robot(folders["robot"], watched),
    }
    wanted = {
        "contacts": 1, "contact_s": (inside.end_ns - inside.begin_ns) / NS_PER_S, "home": "home",
        "break_off_margin_s": WINDOW_S - push.end_ns / NS_PER_S, "home_margin_s": END_S - home.begin_ns / NS_PER_S,
        "turn_s": (turned.begin_ns - watched.called_ns) / NS_PER_S, "clean": False,
    }  # fmt: skip
    for name, one in found.items():
        told = one.figures
        print(name, told)
        assert {key: told[key] for key in wanted} == pytest.approx(wanted, abs=HUNDREDTH), name
        assert told == pytest.approx(found["page"].figures, abs=HUNDREDTH), name
        assert one.unknown == found["page"].unknown, name
    assert {name: one.report.result.uncounted for name, one in found.items()} == dict.fromkeys(found, ())
    print("the call came", watched.called_ns / NS_PER_S - 114, "s late on the page")


def play_at_the_window(run, server):
    """Play the end of a match by keys at chosen times; return what the process noted of it, on its match clock."""
    origin_ns = run.await_record(kind="origin")["origin_ns"]
    server.focus()
    for match_s, key, down in HANDS:
        wait_for(lambda: monotime.now_ns() >= origin_ns + match_s * NS_PER_S)      # noqa: B023
        server.key(key, down=down)
    run.await_record(kind="end")
    found = played_of(read(run_folders(run.runs)[0]).records, half_speed=False)
    return Watched(
        tuple(Press(m.label, m.begin_ns - origin_ns, m.end_ns and m.end_ns - origin_ns) for m in found.marks),
        found.home_call_ns - origin_ns,
    )


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
def test_what_a_real_process_recorded_is_judged_as_the_same_match_from_elsewhere(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    folders = {name: tmp_path / name for name in ("run", "page", "video", "robot")}
    for folder in folders.values():
        folder.mkdir()
    with contextlib.closing(Server((1366, 768))) as server:
        run = Run(
            folders["run"], "--from", "driver.end-34s", "--start", "now", "--screen", "window", rig="nothing",
            env={"DISPLAY": server.name},
        )  # fmt: skip
        try:
            watched = play_at_the_window(run, server)
            run.finish()
        finally:
            run.process.kill()
            run.process.wait(10)
    found = {
        "run": judged(folders["run"] / "runs"),
        "page": as_page(folders["page"], page_data(watched)),
        "video": as_video(folders["video"], watched),
        "robot": as_robot(folders["robot"], watched),
    }
    for name, one in found.items():
        assert (one.figures["contacts"], one.figures["home"]) == (1, "home"), name
        assert one.figures == pytest.approx(found["run"].figures, abs=HUNDREDTH), name
        assert one.unknown == found["run"].unknown, name


def press_all(page, *keys):
    for key in keys:
        page.tab.keyboard.press(key)


def test_all_that_people_do_to_a_pages_match_is_in_its_run(tmp_path):
    """Two matches and a cancelled one in a file: clock on and back, hold, the other order, a call by hand."""
    address = write_page(tmp_path, source_of("doors", None))
    with browser() as running, opened(running, f"{address}?from=36&rate=4") as page:
        page.start()
        page.await_match(40)
        press_all(page, "ArrowLeft", "ArrowLeft", "ArrowRight", "v", "7", "p")
        page.tab.wait_for_timeout(200)
        press_all(page, "p", "h")
        page.press_at_once("9", "9")                                   # two taps soon enough are one statement
        # With the page's next frame.
        page.await_that("document.querySelector('#facts').textContent === 'marked: home half'")
        page.tab.keyboard.down("7")                                    # and it is still down at the end
        page.await_that("page.match.phase === 'over'")
        assert "marks: 2 × contact, 1 × home half" in page.ask("page.record.result()")
        press_all(page, "s")
        page.tab.check("#by-count-in")
        press_all(page, "s")
        page.await_that("page.match.phase === 'running'")
        assert page.press_at_once("x", "x") == ["running", "standby"]
        with page.tab.expect_download() as download:
            page.tab.click("#save-kept")
        data = download.value.path().read_bytes()
        origins = page.origin_ns("match"), [line["origin_ns"] for line in page.records("origin")]
        fired = [(line["cue"], line["channel"], line["outcome"]) for line in page.firings()]
    saved = tmp_path / "saved.jsonl"
    saved.write_bytes(data)
    assert main(["log", "--page", str(saved), "--runs", str(tmp_path / "runs"), "--at", "event"]) == 0
    cancelled, over = (read(folder) for folder in run_folders(tmp_path / "runs"))
    assert (cancelled.end.outcome, over.end.outcome) == ("scrapped", "over")
    assert {run.header.options["at"] for run in (cancelled, over)} == {"event"}
    assert [(mark.label, mark.open) for mark in over.marks] == [
        ("contact", False), ("home_half", False), ("contact", True)
    ]  # fmt: skip

    def of(kind):
        return [record for run in (over, cancelled) for record in run.records if isinstance(record, kind)]

    assert [record.origin_ns for record in of(records.OriginRecord)] == origins[1]
    assert {record.cause for record in of(records.OriginRecord)} >= {"start", "nudge", "resume"}
    assert [(f.cue, f.channel, f.outcome) for f in of(records.FiringRecord)] == fired
    assert [state.event for state in of(records.State)] == ["start", "choose", "hold", "resume", "start"]
    before, after = (state.variant for state in of(records.State)[:2])
    assert {before, after} == {"north_first", "south_first"}
    assert ClockHistory(cancelled.records).newest()[-1].origin_ns == origins[0]
