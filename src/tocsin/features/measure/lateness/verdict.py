"""Say whether this laptop is on time, and how to fix it if not."""

import sys
from collections.abc import Iterator
from typing import NamedTuple

from tocsin.features.measure.lateness.result import LatenessRow, Measured
from tocsin.model.plan import DEFAULT_LATE_LIMIT_NS, ChannelName
from tocsin.translation import tr
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
    _Level(ON_TIME_MS, tr("This laptop is on time"), "", fixed=False),
    _Level(
        PICTURE_MS,
        tr("This laptop is nearly on time"),
        tr("That is less than one frame at 60 a second: nobody notices, but it can be better."),
        fixed=True,
    ),
    _Level(
        NOTICED_MS,
        tr("This laptop is late"),
        tr(
            "From {noticed:.0f} ms on people notice that light, sound and shake come apart.",
            noticed=NOTICED_MS,
        ),
        fixed=True,
    ),
    _Level(
        float("inf"),
        tr("This laptop is too late to be trusted"),
        tr(
            "People notice {noticed:.0f} ms, and a call later than {skipped:.0f} ms is left out.",
            noticed=NOTICED_MS, skipped=SKIPPED_MS,
        ),
        fixed=True,
    ),
)  # fmt: skip


def verdict(measured: Measured) -> tuple[str, ...]:
    """Return the meaning of the figures and the fixes, one or more sentences an entry."""
    return tuple(_verdict(measured))


def _verdict(measured: Measured) -> Iterator[str]:
    if not measured.rows:
        yield tr("Nothing was measured.")
        return
    worst = max(measured.rows, key=lambda row: (_place(row), _reach_ms(row)))
    level = _LEVELS[_place(worst)]
    last = tr(" The latest of its channels:") if len(measured.rows) > 1 else ""
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
    share = (
        tr("99 of 100") if row.lateness_ms.p99 is not None
        else tr("All {count}", count=row.lateness_ms.n) if begins
        else tr("all {count}", count=row.lateness_ms.n)
    )
    return tr(
        "{share} {title} calls began within {milliseconds}.", share=share, title=row.title,
        milliseconds=milliseconds(_reach_ms(row)),
    )


def milliseconds(ms: float) -> str:
    """Return milliseconds as text, rounded up to sensible digits: within 0.31 ms is not within 0.3.

    >>> milliseconds(0.301), milliseconds(2.0), milliseconds(34.2)
    ('0.4 ms', '2 ms', '35 ms')
    """
    digits = 1 if ms < 10 else 0
    steps = ms * 10**digits
    up = int(steps) + (steps > int(steps))
    return tr("{up:g} ms", up=up / 10**digits)


def _outliers(measured: Measured, worst: LatenessRow) -> Iterator[str]:
    """Tell of single calls that were noticeably late where nearly all were not."""
    late = max(measured.rows, key=lambda row: row.lateness_ms.max or 0.0)
    latest_ms = late.lateness_ms.max or 0.0
    if latest_ms > NOTICED_MS >= _reach_ms(worst):
        yield tr(
            "Single calls were later, up to {milliseconds} ({title}): this machine has bad moments. Measure again, and "
            "see whether they come back.", milliseconds=milliseconds(latest_ms), title=late.title,
        )


def _losses(measured: Measured) -> Iterator[str]:
    if measured.lost:
        first = measured.lost[0]
        yield tr(
            "No number from {count} events, first on {channel}: {outcome}{why}.", count=len(measured.lost),
            channel=first.channel, outcome=first.outcome, why=_bracketed(first.why),
        )
    if measured.faults:
        fault = measured.faults[0]
        yield tr(
            "Faults: {count}, first on {channel}: {what}{why}. They are in these numbers too: fix them first.",
            count=len(measured.faults), channel=fault.channel or tr("the conductor"), what=fault.what,
            why=_bracketed(fault.why),
        )
    if measured.disturbed:
        yield tr("The laptop slept: measure again.")


def _bracketed(why: str) -> str:
    return f" ({why})" if why else ""


def _fixes(measured: Measured) -> Iterator[str]:
    if measured.busy:
        yield tr(
            "This was with {busy} processes that kept the processor busy; measure without --busy too.",
            busy=measured.busy,
        )
    if measured.power.startswith("battery"):
        yield tr("Fix: plug the laptop in. On its battery it slows its processor down.")
    if measured.load_percent >= MUCH_LOAD_PERCENT:
        yield tr(
            "Fix: close other programs. They took {load_percent:.0f} % of the processor before it began.",
            load_percent=measured.load_percent,
        )
    if measured.asked != "realtime" and not measured.drives_robot:
        yield tr('Fix: write priority = "realtime" into a rig of your own. Workers then come before other programs.')
    if refusal(measured) and sys.platform == "linux":
        yield tr(
            "Fix: allow {priority} priority by typing this, then log in again:", priority=_PRIORITY[measured.asked],
        )
        yield _ALLOW[measured.asked]
    yield tr("Fix: set the system's power plan to best performance, and leave updates and virus scans for later.")


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
    parts = "; ".join(
        tr("{priority} for {channels}", priority=_PRIORITY[name], channels=", ".join(channels))
        for name, channels in granted.items()
    )
    never = measured.asked == "realtime" and "screen" in granted.get("raised", [])
    yield tr(
        "Priority: asked for {priority}, got {parts}.{never}", priority=_PRIORITY[measured.asked], parts=parts,
        never=_NEVER if never else "",
    )
    if measured.drives_robot:
        yield tr(
            "The rig says that this laptop drives a robot. Real-time priority is never asked for there: the program "
            "that drives it comes first.",
        )
    elif refused := refusal(measured):
        yield tr("Why not higher: {refused}.", refused=refused)


_NEVER = tr(" Only {realtime_channels} ever get real time.", realtime_channels=", ".join(REALTIME_CHANNELS))
