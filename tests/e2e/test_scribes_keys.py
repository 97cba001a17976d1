"""A scribe at the keyboard of a real window: what is held is a span, and one slip on cancel ends no match."""

import contextlib

import pytest

from tests.support.channels.screen_stand import MISSING, Server
from tests.support.stands.stand import Run, wait_for
from tocsin.channels.screen.rows import GREY
from tocsin.runner.match.scribe import SPAN_NS

pytestmark = [
    pytest.mark.devices,
    pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}"),
]
SIZE = (1366, 768)


def marks(run):
    return [(r["label"], r["end_ns"] and r["end_ns"] - r["begin_ns"]) for r in run.records() if r["kind"] == "mark"]


def states(run):
    return [r for r in run.records() if r["kind"] == "state"]


def grey_at_the_foot(server):
    """Return whether letters of a scribe's colour stand in the lowest fifth of the window."""
    foot = server.pixels()[-SIZE[1] // 5 :]
    return bool((foot == GREY).all(axis=2).sum() > 500)


def test_three_keys_in_the_window_note_a_span_and_points_and_cancel_needs_two_presses(tmp_path):
    with contextlib.closing(Server(SIZE)) as server:
        run = Run(
            tmp_path, "--from", "driver.end-100s", "--start", "key", "--screen", "window", rig="nothing",
            env={"DISPLAY": server.name},
        )  # fmt: skip
        try:
            wait_for(lambda: server.focus() or server.press("s") or run.records())
            wait_for(lambda: "running.period.driver" in (states(run) or [{"states": ()}])[-1]["states"])
            wait_for(lambda: grey_at_the_foot(server))
            server.hold("7", 0.6)
            run.await_record(kind="mark", label="contact")
            server.press("8")
            run.await_record(kind="mark", label="turned")
            before = len(states(run))
            server.press("x")
            server.press("8")                          # what comes behind the slip is noted as ever
            wait_for(lambda: [label for label, _ in marks(run)] == ["contact", "turned", "turned"])
            server.press("9")
            run.await_record(kind="mark", label="home")
            (contact, held_ns), *points = marks(run)
            assert (contact, held_ns > SPAN_NS) == ("contact", True)
            assert points == [("turned", None), ("turned", None), ("home", None)]
            assert {r["event"] for r in states(run)[before:]} <= {"mark", "boundary"}, "the slip did nothing"
            server.press("x", "x")
            run.await_record(kind="end", outcome="scrapped")
            wait_for(lambda: not grey_at_the_foot(server))
            run.process.terminate()
            run.finish()
        finally:
            run.process.kill()
            run.process.wait(10)
