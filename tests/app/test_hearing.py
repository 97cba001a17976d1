"""What a worker reports of a run that is not this one, or of nothing at all, is a fault and never an exception."""

from types import SimpleNamespace

import pytest
from workers_made import firing, timeline_of

from tocsin.app.hearing import Hearing
from tocsin.app.messages import Fired
from tocsin.app.record import Heading, RunRecord
from tocsin.channels.device import Event
from tocsin.journal import records


@pytest.fixture
def conductor(tmp_path):
    """What hearing needs of a conductor that plays its second run, of two firings of the light."""
    record = RunRecord(tmp_path, Heading(options={}, label="", files=()))
    match = SimpleNamespace(timeline=timeline_of([firing(0, 1), firing(1, 2)]), record=record)
    pressed = []
    actions = SimpleNamespace(key=lambda key, at_ns, now_ns, down: pressed.append((key, at_ns, now_ns, down)))
    return SimpleNamespace(
        run_no=2, match=match, actions=actions, pressed=pressed, notice=lambda text, topic="": None
    )


def report(no, run=2):
    return Fired(no, 0, "played", "", 0, 0, 0, run=run)


def test_a_report_of_this_run_is_recorded(conductor):
    Hearing(conductor).hear("light", report(1), 5)
    (record,) = conductor.match.record.kept
    assert isinstance(record, records.Firing)
    assert record.cue == "cue1"


@pytest.mark.parametrize(
    ("channel", "strange"),
    [
        ("light", report(1, run=1)), ("light", report(99)), ("light", report(-1)), ("sound", report(0)),
        ("light", report(1 << 80)),
    ],
    ids=["of the run before", "no such number", "below zero", "of another channel", "a huge number"],
)  # fmt: skip
def test_a_report_that_fits_nothing_is_a_fault(conductor, channel, strange):
    Hearing(conductor).hear(channel, strange, 5)
    (fault,) = conductor.match.record.kept
    assert isinstance(fault, records.Fault)
    assert (fault.channel, fault.what) == (channel, records.MISFIT)
    assert not conductor.match.record.fired


def test_a_press_never_lies_in_the_future(conductor):
    Hearing(conductor).told("screen", Event(kind="press", at_ns=1 << 62, what="s"), 5)
    assert conductor.pressed == [("s", 5, 5, True)]
