"""A person at the keys of a terminal: count-in, call, mark, hold, scrap, and back to standby."""

from pathlib import Path

import pytest

from tests.support.stands.stand import Run, firings, rig_file, wait_for
from tocsin.model.clock.sync import Sync
from tocsin.model.rig import Start
from tocsin.units import NS_PER_MS, NS_PER_S

pytestmark = pytest.mark.devices

KEYS = """
[start]
count_in = "4s"
[keys]
call = { home = ["h"] }
marks = { contact = ["c"], contact_by_partner = ["i"] }
"""


def at_the_keys(tmp_path, strip, *arguments):
    """Return a run in standby that a person can type to."""
    rig = rig_file(tmp_path, strip)
    with Path(rig).open("a", encoding="utf-8") as file:
        file.write(KEYS)
    run = Run(tmp_path, *arguments, rig=rig, terminal=True)
    wait_for(lambda: strip.frames)
    run.worker("sound")
    return run


def phase(run):
    """Return the settled states that were recorded last."""
    states = [r["states"] for r in run.records() if r["kind"] == "state"]
    return states[-1] if states else []


def started(run):
    """Press start until the run has begun: standby takes keys once every device is open."""
    limit = iter(range(100))

    def begun():
        if not run.records():
            assert next(limit) < 100
            run.press("s")
        return run.records()

    wait_for(begun)


def test_a_count_in_to_a_moment_beats_and_begins_nothing_before_it(tmp_path, strip):
    """The moment is HOME's own: of the four seconds before it nothing may sound.

    The first of the four beats comes a second after the press: one at the press itself could be late on a busy machine.
    """
    run = at_the_keys(tmp_path, strip, "--from", "no_contact.begin-break_off")
    started(run)
    run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    run.await_record(kind="firing", channel="sound", cue="count_in", n=3)         # falls due at the same instant
    records = run.records()
    origins = [r for r in records if r["kind"] == "origin"]
    press_ns = next(r["origin_ns"] for r in origins if r["anchor"] == "count_in")
    match = next(r for r in origins if r["anchor"] == "match")
    assert match["starts_ns"] == press_ns + 4 * NS_PER_S
    assert match["error_ms"] == Sync.started(Start(by="count_in")).error_ms
    beats = [r for r in firings(records, "sound", "played") if r["cue"] == "count_in"]
    assert [r["n"] for r in beats] == [0, 1, 2, 3]
    early = [r for r in firings(records) if r["cue"] == "coach_call"]
    assert {r["outcome"] for r in early} == {"skipped"}
    assert all(r["late_ns"] > -NS_PER_MS for r in firings(records, outcome="played"))
    run.press("xx")
    run.await_record(kind="end", outcome="scrapped")
    run.press("q")
    code, summary, err = run.finish()
    assert code == 0, err
    assert summary["outcome"] == "scrapped"
    assert strip.black


def test_hold_call_and_mark_are_done_and_recorded(tmp_path, strip):
    run = at_the_keys(tmp_path, strip, "--from", "driver.end-100s")
    started(run)
    wait_for(lambda: "running.period.driver" in phase(run))
    run.press("c")
    mark = run.await_record(kind="mark", label="contact")
    assert (mark["by"], mark["source"], mark["pointlike"]) == ("", "key c", True), "a terminal tells no key up"
    run.press("i")
    assert run.await_record(kind="mark", by="partner")["label"] == "contact"
    run.press("p")
    wait_for(lambda: phase(run) == ["held"])
    run.press("h")
    refused = run.await_record(kind="state", event="call")
    assert refused["refused"]
    run.press("p")
    run.await_record(kind="origin", cause="resume", anchor="match")
    run.press("h")
    run.await_record(kind="firing", channel="light", cue="home", anchor="call.home", outcome="played")
    wait_for(lambda: not strip.black)
    run.press("xx")
    run.await_record(kind="end", outcome="scrapped")
    wait_for(lambda: strip.black, 3)
    run.process.terminate()
    code, summary, err = run.finish()
    assert code == 143, err            # told to end while the result stands
    assert summary["outcome"] == "scrapped"
    assert summary["journal"]


def test_a_run_that_goes_on_remembers_what_was_called(tmp_path, strip):
    """HOME by hand, then a crash before the scheduled HOME: that one then counts as given, in the next life too."""
    run = at_the_keys(tmp_path, strip, "--from", "driver.end-48s", "--rate", "3")
    started(run)
    wait_for(lambda: "running.period.driver" in phase(run))
    run.press("h")
    run.await_record(kind="firing", channel="light", cue="home", anchor="call.home", outcome="played")
    run.kill()
    code, summary, err = Run(tmp_path, "--resume").finish()
    assert summary["outcome"] == "over", (code, err)
    scheduled = [r for r in firings(run.records()) if r["cue"] == "home" and r["anchor"] == "match"]
    assert {r["channel"] for r in scheduled} >= {"light", "sound"}
    assert {(r["outcome"], r["why"]) for r in scheduled} == {("skipped", "given")}
