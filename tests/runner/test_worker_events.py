"""What workers say, on a stage without processes: reports to the journal, devices to their states, presses to actions.

What a worker reports of a run that is not this one, or of nothing at all, is a fault and never an exception.
"""

import pytest

from tests.support.runner.stage_stand import NOW_NS, notice, plain_stage
from tocsin.channels.device import Event
from tocsin.errors import DeviceError
from tocsin.journal import records
from tocsin.runner.actions import Actions
from tocsin.runner.ending import Ending
from tocsin.runner.options import LEAD_IN_NS
from tocsin.runner.worker_events import WorkerEvents
from tocsin.units import NS_PER_S as S
from tocsin.workers.protocol import Fired, Granted, Opened, TimelineLoaded


@pytest.fixture
def stage(tmp_path):
    """Return a stage in its second run."""
    programme, stage = plain_stage(tmp_path)
    stage.reload(programme.piece(0), NOW_NS)
    stage.programme = programme
    return stage


@pytest.fixture
def hearing(stage):
    return WorkerEvents(stage, Actions(stage, stage.programme))


def firing_of(stage, channel):
    return next(firing for firing in stage.match.timeline.firings if firing.channel == channel)


def report(no, run=2, outcome="played", why=""):
    return Fired(no, 0, outcome, why, 0, 0, 0, run=run)


def faults(stage):
    return [record for record in stage.match.record.kept if isinstance(record, records.Fault)]


def test_a_report_of_this_run_is_recorded(stage, hearing):
    firing = firing_of(stage, "light")
    hearing.hear("light", report(firing.no), 5)
    (record,) = stage.match.record.kept
    assert isinstance(record, records.FiringRecord)
    assert (record.cue, record.channel) == (firing.cue, "light")
    assert stage.recorded("light") == ((firing.no, 0),)


def test_what_is_resumed_is_recorded_and_a_failure_is_told(stage, hearing):
    hearing.hear("light", report(firing_of(stage, "light").no, outcome="failed", why="no strip"), NOW_NS)
    assert notice(stage) == "light failed: no strip"


@pytest.mark.parametrize(
    ("channel", "strange"),
    [
        ("light", report(0, run=1)), ("light", report(9999)), ("light", report(-1)), ("sound", None),
        ("light", report(1 << 80)),
    ],
    ids=["of the run before", "no such number", "below zero", "of another channel", "a huge number"],
)  # fmt: skip
def test_a_report_that_fits_nothing_is_a_fault(stage, hearing, channel, strange):
    hearing.hear(channel, strange or report(firing_of(stage, "light").no), 5)
    (fault,) = faults(stage)
    assert (fault.channel, fault.what) == (channel, records.MISFIT)
    assert stage.match.record.fired == {}


def test_a_press_never_lies_in_the_future(stage, hearing):
    """What is measured from presses may not lie there either."""
    hearing.told("screen", Event(kind="press", at_ns=1 << 62, what="s"), NOW_NS)
    assert stage.match.lifecycle.phase == "waiting"
    assert stage.match.origins()[0].origin_ns <= NOW_NS + 60 * S


def test_a_mark_lasts_from_key_down_to_key_up(stage, hearing):
    stage.match.start_now(NOW_NS, LEAD_IN_NS)
    for kind, at_ns in (("press", NOW_NS + 40 * S), ("release", NOW_NS + 42 * S)):
        stage.match.follow(at_ns)
        hearing.told("screen", Event(kind=kind, at_ns=at_ns, what="7"), at_ns)
    (mark,) = (record for record in stage.match.record.kept if isinstance(record, records.MarkRecord))
    assert (mark.label, mark.end_ns - mark.begin_ns) == ("contact", 2 * S)


def test_a_device_comes_onto_the_board_and_into_the_journal_once(stage, hearing):
    for _ in range(2):
        hearing.hear("light", Event(kind="device", at_ns=5, state="ready", name="a strip"), 5)
    assert stage.device_states.state("light") == "ready"
    devices = [record for record in stage.match.record.kept if isinstance(record, records.Device)]
    assert [(device.channel, device.state) for device in devices] == [("light", "ready")]


def test_a_worker_that_is_ready_is_no_longer_waited_for(stage, hearing):
    stage.awaited = {"light", "sound"}
    hearing.hear("light", TimelineLoaded(), 5)
    hearing.note(("failed", "sound", "3 restarts within 10 s"), NOW_NS)
    assert stage.awaited == set()
    assert stage.device_states.state("sound") == "failed"
    assert notice(stage) == "sound: 3 restarts within 10 s"


def test_a_refused_priority_and_a_line_of_stderr_are_faults(stage, hearing):
    hearing.hear("light", Granted("ordinary", "not permitted"), 5)
    hearing.hear("light", "Traceback", 6)
    assert [(fault.what, fault.why) for fault in faults(stage)] == [
        (records.PRIORITY, "not permitted"), (records.STDERR, "Traceback")
    ]  # fmt: skip
    assert stage.priorities == {"light": "ordinary"}


def test_a_worker_that_reads_another_clock_is_an_error(stage, hearing):
    hearing.hear("light", Opened(now_ns=NOW_NS), NOW_NS)
    with pytest.raises(DeviceError, match="does not share this system's clock"):
        hearing.hear("light", Opened(now_ns=NOW_NS + 5 * S), NOW_NS)


def test_a_window_that_was_closed_ends_the_program(stage, hearing):
    hearing.told("screen", Event(kind="leave", at_ns=5), 5)
    assert stage.ending == Ending(outcome="scrapped", why="the window was closed")


def test_a_cue_that_no_window_shows_waits_until_it_is_known_who_shows_it(stage, hearing):
    firing = firing_of(stage, "screen")
    stage.front.opened = False
    hearing.hear("screen", report(firing.no, outcome="skipped", why=records.ABSENT), 5)
    assert stage.recorded("screen") == ()
    stage.front.opened = True
    hearing.hear("screen", report(firing.no, outcome="skipped", why=records.ABSENT), 5)
    assert stage.recorded("screen") == ((firing.no, 0),)


def test_what_never_came_is_lost_with_its_worker_or_had_no_device(stage, hearing):
    hearing.told("light", Event(kind="device", at_ns=5, state="ready"), 5)
    stage.match.start_now(NOW_NS, 0)
    now_ns = NOW_NS + 40 * S
    stage.match.follow(now_ns)
    hearing.count_lost(now_ns)
    lost = [record for record in stage.match.record.kept if isinstance(record, records.FiringRecord)]
    assert {(f.channel, f.outcome, f.why) for f in lost if f.channel in ("light", "sound")} == {
        ("light", "failed", "lost with its worker"), ("sound", "skipped", records.ABSENT)
    }  # fmt: skip
    before = len(lost)
    hearing.count_lost(now_ns)
    assert len([record for record in stage.match.record.kept if isinstance(record, records.FiringRecord)]) == before
