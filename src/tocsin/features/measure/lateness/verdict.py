"""Say whether this laptop is on time, and how to fix it if not."""

import sys
from collections.abc import Iterator
from typing import NamedTuple

from tocsin.features.measure.lateness.result import LatenessRow, Measured
from tocsin.model.plan import DEFAULT_LATE_LIMIT_NS, ChannelName
from tocsin.units import NS_PER_MS
from tocsin.workers.priority import REALTIME_CHANNELS

# Between what workers reach on a machine of two cores with real-time priority, 99 of 100 calls within 0.08 to 0.22 ms
# idle and busy alike, and without it on a busy one, 7 to 10 ms (our own figures: tests/benchmarks/lateness.py).
ON_TIME_MS = 2.0
# One picture of a screen at 60 a second: what is later by less shows in the same picture.
PICTURE_MS = 1000 / 60
# ITU-R BT.1359-1: people notice sound that comes 45 ms or more ahead of its picture.
NOTICED_MS = 45.0
# A call that is later is not given any more, unless the plan says otherwise.
SKIPPED_MS = DEFAULT_LATE_LIMIT_NS / NS_PER_MS
# Own decision: what a quiet laptop's other programs stay below.
MUCH_LOAD_PERCENT = 25.0

# Source of the keys: the manual page limits.conf(5), "rtprio" and "nice".
_ALLOW = {
    "realtime": 'echo "$USER - rtprio 10" | sudo tee -a /etc/security/limits.d/tocsin.conf',
    "raised": 'echo "$USER - nice -10" | sudo tee -a /etc/security/limits.d/tocsin.conf',
}
_PRIORITY = {"ordinary": "ordinary", "raised": "raised", "realtime": "real-time"}


class _Level(NamedTuple):
    most_ms: float
    headline: str
    meaning: str
    fixed: bool                           # whether something is to be fixed


_LEVELS = (
    _Level(ON_TIME_MS, "This laptop is on time", "", fixed=False),
    _Level(
        PICTURE_MS, "This laptop is nearly on time",
        "That is less than one picture of a screen at 60 a second: nobody notices, but it can be better.", fixed=True,
    ),
    _Level(
        NOTICED_MS, "This laptop is late",
        f"From {NOTICED_MS:.0f} ms on people notice that what they see, hear and feel does not come together.",
        fixed=True,
    ),
    _Level(
        float("inf"), "This laptop is too late to be trusted",
        f"People notice {NOTICED_MS:.0f} ms, and a call that is later than {SKIPPED_MS:.0f} ms is not given any more.",
        fixed=True,
    ),
)  # fmt: skip


def verdict(measured: Measured) -> tuple[str, ...]:
    """Return the meaning of the figures and the fixes, one or more sentences an entry."""
    return tuple(_verdict(measured))


def _verdict(measured: Measured) -> Iterator[str]:
    if not measured.rows:
        yield "Nothing was measured."
        return
    worst = max(measured.rows, key=lambda row: (_place(row), _reach_ms(row)))
    level = _LEVELS[_place(worst)]
    last = " The latest of its channels:" if len(measured.rows) > 1 else ""
    yield f"{level.headline}.{last} {_sentence(worst, begins=not last)} {level.meaning}".rstrip()
    yield from _outliers(measured, worst)
    yield from _losses(measured)
    if level.fixed:
        yield from _fixes(measured)


def _place(row: LatenessRow) -> int:
    """Return which level a row is on. A screen is on time within one picture: what comes sooner waits for it."""
    reach_ms = _reach_ms(row)
    if row.channel == "screen" and reach_ms <= PICTURE_MS:
        return 0
    return next(place for place, level in enumerate(_LEVELS) if reach_ms <= level.most_ms)


def _reach_ms(row: LatenessRow) -> float:
    """Return within how many milliseconds 99 of 100 calls began, of fewer than 100 all of them."""
    late = row.lateness_ms
    reach_ms = late.max if late.p99 is None else late.p99
    assert reach_ms is not None                # a row has at least one figure
    return reach_ms


def _sentence(row: LatenessRow, *, begins: bool) -> str:
    every = "All" if begins else "all"
    share = "99 of 100" if row.lateness_ms.p99 is not None else f"{every} {row.lateness_ms.n}"
    return f"{share} {row.title} calls began within {milliseconds(_reach_ms(row))}."


def milliseconds(ms: float) -> str:
    """Return milliseconds as text, rounded up to sensible digits: within 0.31 ms is not within 0.3.

    >>> milliseconds(0.301), milliseconds(2.0), milliseconds(34.2)
    ('0.4 ms', '2 ms', '35 ms')
    """
    digits = 1 if ms < 10 else 0
    steps = ms * 10**digits
    up = int(steps) + (steps > int(steps))
    return f"{up / 10**digits:g} ms"


def _outliers(measured: Measured, worst: LatenessRow) -> Iterator[str]:
    """Tell of single calls that were noticeably late where nearly all were not."""
    late = max(measured.rows, key=lambda row: row.lateness_ms.max or 0.0)
    latest_ms = late.lateness_ms.max or 0.0
    if latest_ms > NOTICED_MS >= _reach_ms(worst):
        yield (
            f"Single calls were later, up to {milliseconds(latest_ms)} ({late.title}): this machine has bad moments. "
            "Measure again, and see whether they come back."
        )


def _losses(measured: Measured) -> Iterator[str]:
    if measured.lost:
        first = measured.lost[0]
        yield (
            f"Events that gave no figure: {len(measured.lost)}, first on {first.channel}: {first.outcome}"
            f"{f' ({first.why})' if first.why else ''}."
        )
    if measured.faults:
        fault = measured.faults[0]
        yield (
            f"Faults meanwhile: {len(measured.faults)}, first of {fault.channel or 'the conductor'}: {fault.what}"
            f"{f' ({fault.why})' if fault.why else ''}. The figures hold what came of them: fix these first."
        )
    if measured.disturbed:
        yield "The laptop slept meanwhile: measure again."


def _fixes(measured: Measured) -> Iterator[str]:
    if measured.busy:
        yield f"This was with {measured.busy} processes that kept the processor busy; measure without --busy too."
    if measured.power.startswith("battery"):
        yield "Fix: plug the laptop in. On its battery it slows its processor down."
    if measured.load_percent >= MUCH_LOAD_PERCENT:
        yield f"Fix: close other programs. They took {measured.load_percent:.0f} % of the processor before it began."
    if measured.asked != "realtime" and not measured.drives_robot:
        yield 'Fix: write priority = "realtime" into a rig of your own. Workers then come before other programs.'
    if refusal(measured) and sys.platform == "linux":
        yield f"Fix: allow {_PRIORITY[measured.asked]} priority by typing this, then log in again:"
        yield _ALLOW[measured.asked]
    yield "Fix: set the system's power plan to best performance, and leave updates and virus scans for later."


def refusal(measured: Measured) -> str:
    """Return why a channel did not get the requested priority, or an empty text."""
    return next((device.refused for device in measured.devices.values() if device.refused), "")


def priority_lines(measured: Measured) -> Iterator[str]:
    """Yield the priority that was requested and granted, and why not more."""
    granted: dict[str, list[ChannelName]] = {}
    for channel in dict.fromkeys(row.channel for row in measured.rows if row.channel is not None):
        granted.setdefault(measured.devices[channel].granted, []).append(channel)
    if not granted:
        return
    parts = "; ".join(f"{_PRIORITY[name]} for {', '.join(channels)}" for name, channels in granted.items())
    never = measured.asked == "realtime" and "screen" in granted.get("raised", [])
    yield f"Priority: {_PRIORITY[measured.asked]} asked for; granted {parts}.{_NEVER if never else ''}"
    if measured.drives_robot:
        yield (
            "The rig says that this laptop drives a robot. Real-time priority is never asked for there: the program "
            "that drives it comes first."
        )
    elif refused := refusal(measured):
        yield f"Not more: {refused}."


_NEVER = f" Only {', '.join(REALTIME_CHANNELS)} ever get real time."
