"""Measurements made up for tests of what is said about them."""

import msgspec

from tocsin.features.measure.lateness.result import LatenessRow, Measured
from tocsin.features.measure.lateness.round import MeasuredDevice
from tocsin.journal.summary import lateness_of
from tocsin.units import NS_PER_MS

READY = MeasuredDevice(state="ready", granted="raised")


def row(title, late_ms, channel=None, role=None):
    return LatenessRow(
        title=title, channel=channel, role=role, late_ms=tuple(late_ms),
        lateness_ms=lateness_of(round(ms * NS_PER_MS) for ms in late_ms),
    )  # fmt: skip


def measured(*rows, **changed):
    """Return a whole measurement of a quiet laptop on mains whose devices are all there."""
    found = Measured(
        exit=0, events=100, busy=0, cores=4, load_percent=3.0, power="mains", rig="Stand", drives_robot=False,
        asked="raised", devices=dict.fromkeys(("rumble", "light", "screen", "sound"), READY), stand_in=False,
        pads_left_alone=False, rows=rows, beside=(), beside_why="", window=None, lost=(), faults=(), disturbed=False,
        whole=True,
    )  # fmt: skip
    return msgspec.structs.replace(found, **changed)
