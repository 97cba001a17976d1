"""Hold the result of a lateness measurement: figures by channel and way, and all that influences them."""

import msgspec

from tocsin.features.measure.lateness.round import Lost, MeasuredDevice
from tocsin.journal.records import Fault, Lateness
from tocsin.model.plan import ChannelName, Role
from tocsin.model.rig import Priority


class LatenessRow(msgspec.Struct, frozen=True, kw_only=True):
    """How late the device calls of one channel, or of one usual way (``channel`` None), began. ``late_ms`` holds all of
    them, in the order in which they were due."""

    title: str
    channel: ChannelName | None = None
    role: Role | None = None
    lateness_ms: Lateness
    late_ms: tuple[float, ...]


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A measurement. ``events`` were due on each channel, ``busy`` processes kept the processor busy meanwhile.

    ``rows`` are Tocsin's own, ``beside`` the usual ways; ``beside_why`` says why those are incomplete, or is empty;
    ``window`` whether they had a window to draw, None if they were not measured. ``stand_in``: without any device, the
    strip's worker wrote to a port of our own. ``whole``: the measurement was not ended early. ``load_percent`` is the
    processor share of other programs before it.
    """

    exit: int
    events: int
    busy: int
    cores: int
    load_percent: float
    power: str
    rig: str
    drives_robot: bool
    asked: Priority
    devices: dict[ChannelName, MeasuredDevice]
    stand_in: bool
    pads_left_alone: bool
    rows: tuple[LatenessRow, ...]
    beside: tuple[LatenessRow, ...]
    beside_why: str
    window: bool | None
    lost: tuple[Lost, ...]
    faults: tuple[Fault, ...]
    disturbed: bool
    whole: bool
    verdict: tuple[str, ...] = ()
