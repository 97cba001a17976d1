"""Print a lateness measurement for people: caution, table, histogram, verdict, and what was not measured."""

import textwrap
from collections.abc import Collection, Iterator

from tocsin.export.picture.lateness import EDGES_MS, LatenessLane, LatenessPage, counts_of
from tocsin.features.measure.lateness.result import LatenessRow, Measured
from tocsin.features.measure.lateness.verdict import priority_lines
from tocsin.model.plan import ChannelName
from tocsin.translation import tr

WIDTH = 78
DEVICES_OWN = tr(
    "Late: how long after its time the device was called. The device's own delay comes on top and is not in these "
    "numbers: see `tocsin measure delays`.",
)
_DOES: dict[ChannelName, str] = {
    "rumble": tr("pads shake weakly"),
    "light": tr("the strip glows dimly"),
    "screen": tr("a word is on the screen"),
    "sound": tr("the loudspeaker ticks softly"),
}
_TITLE, _CELL = 17, 6
_FEW = 0.1                                 # a share that is less is a point, not nothing


def caution(channels: Collection[ChannelName]) -> list[str]:
    """Return the caution for people before the measurement, for the measured channels."""
    if not channels:
        return [tr("Ctrl-C ends it.")]
    does = ", ".join(_DOES[channel] for channel in channels)
    robot = tr(" Where pads can move a robot, it is off or on blocks.") if "rumble" in channels else ""
    return _wrapped(tr("CAUTION. {does}.{robot} Ctrl-C ends it.", does=does.capitalize(), robot=robot))


def lines(measured: Measured) -> Iterator[str]:
    """Yield the result for people, a line each, none wider than a terminal of 80 columns; plain characters only."""
    if measured.rows:
        yield ""
        yield from table(measured)
        yield ""
        yield from histogram((*measured.rows, *measured.beside))
        yield ""
    for text in (*_cut_short(measured), *measured.verdict):
        yield from _wrapped(text)
    for text in (*priority_lines(measured), *_absences(measured), *_beside(measured), DEVICES_OWN):
        yield from _wrapped(text)


def page_of(measured: Measured, made_by: str) -> LatenessPage:
    """Return the content of a measurement's picture."""
    load = tr(", {busy} processes kept the processor busy", busy=measured.busy) if measured.busy else ""
    ways = tr("; striped: simple timers, to compare") if measured.beside else ""
    lanes = [
        LatenessLane(title=row.title, late_ms=row.late_ms, figures=_figures(row), usual=row.channel is None)
        for row in (*measured.rows, *measured.beside)
    ]
    return LatenessPage(
        title=tr("How late this laptop is"),
        about=tr(
            "rig {rig}, {events} events on each channel{load}{ways}", rig=measured.rig, events=measured.events,
            load=load, ways=ways,
        ),
        lanes=lanes,
        texts=(*measured.verdict, *priority_lines(measured), *_absences(measured), DEVICES_OWN),
        made_by=made_by,
    )


def _figures(row: LatenessRow) -> tuple[str, ...]:
    late = row.lateness_ms
    shares = (("half", late.p50), ("9 of 10", late.p90)), (("99 of 100", late.p99), ("all", late.max))
    lines = (
        ", ".join(tr("{name} within {ms:.2f}", name=name, ms=ms) for name, ms in line if ms is not None)
        for line in shares
    )
    return tuple(line for line in lines if line)


def table(measured: Measured) -> Iterator[str]:
    """Yield how late each channel and way was, in milliseconds."""
    heads = tr("late by (ms)"), tr("calls"), tr("half"), tr("9 of 10"), tr("99 of 100"), tr("all")
    yield "{:<{title}}{:>7}{:>10}{:>10}{:>11}{:>10}".format(*heads, title=_TITLE)
    for row in measured.rows:
        yield _row(row)
    if measured.beside:
        yield tr("simple timers:")
        for row in measured.beside:
            yield _row(row)


def histogram(rows: tuple[LatenessRow, ...]) -> Iterator[str]:
    """Yield a line for each row: in each class of lateness five signs stand for all of its calls, a point for a few."""
    edges = "".join(f"{edge:>{_CELL}g}" for edge in EDGES_MS)
    title, more = tr("late up to (ms)"), tr("more")
    yield f"{title:<{_TITLE}}{edges}{more:>{_CELL}}"
    for row in rows:
        counts = counts_of(row.late_ms)
        cells = "".join(f" {_bar(count / sum(counts)):<{_CELL - 1}}" for count in counts)
        yield f"{row.title:<{_TITLE}}{cells}".rstrip()


def _bar(share: float) -> str:
    if share == 0:
        return ""
    return "." if share < _FEW else "#" * max(1, round(share * (_CELL - 1)))


def _row(row: LatenessRow) -> str:
    late = row.lateness_ms
    values = (_ms(late.p50, 10), _ms(late.p90, 10), _ms(late.p99, 11), _ms(late.max, 10))
    return f"{row.title:<{_TITLE}}{late.n:>7}{''.join(values)}"


def _ms(value: float | None, width: int) -> str:
    return f"{'-' if value is None else format(value, '.2f'):>{width}}"


def _cut_short(measured: Measured) -> Iterator[str]:
    if not measured.whole:
        yield tr("Ended before its time: this is what was measured until then.")


def _absences(measured: Measured) -> Iterator[str]:
    """Yield what was not measured, and why."""
    if measured.pads_left_alone:
        yield tr(
            "Not measured: rumble. This laptop drives a robot, says the rig, so its program may use the pads. With the "
            "robot off and that program closed, add --pads.",
        )
    if left_out := [channel for channel, device in measured.devices.items() if device.off]:
        yield tr("Not in the rig '{rig}': {left_out}.", rig=measured.rig, left_out=", ".join(left_out))
    for channel, device in measured.devices.items():
        if not device.off and device.state != "ready":
            yield tr(
                "Not measured: {channel} ({why}).", channel=channel,
                why=": ".join(part for part in (device.state, device.why) if part),
            )
            continue
        for role, why in device.missing.items():
            yield tr("Not measured: {channel} {role} ({why}).", channel=channel, role=role, why=why)
    if measured.stand_in:
        yield tr(
            "No device is there. This shows only how late the strip's program writes to a test port: the laptop's "
            "delay, not a device's.",
        )


def _beside(measured: Measured) -> Iterator[str]:
    if measured.beside_why:
        yield tr("Simple timers were not fully measured: {beside_why}", beside_why=measured.beside_why)
    if measured.window is False:
        yield tr("Simple timers had no display to draw on: with a window they are later.")


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
