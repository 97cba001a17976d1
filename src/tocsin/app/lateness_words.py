"""What a measurement of lateness says to people: the table."""

from collections.abc import Iterator

from tocsin.app.lateness_result import Measured, Row

CAUTION = (
    "Pads shake weakly, the strip glows dimly, the loudspeaker ticks softly. Where pads can",
    "move a robot, it is off or on blocks. Ctrl-C ends it.",
)
DEVICES_OWN = (
    "Late means: the device was called so long after its time. What the device itself takes",
    "comes on top and is not in these figures.",
)


def caution() -> tuple[str, ...]:
    """Return what people must know before it begins."""
    return CAUTION


def lines(measured: Measured) -> Iterator[str]:
    """Yield the result for people, a line each."""
    yield ""
    yield from table(measured)
    yield ""
    yield from DEVICES_OWN


def table(measured: Measured) -> Iterator[str]:
    """Yield how late each channel and way was, in milliseconds."""
    yield f"{'late by, ms':<24}{'calls':>7}{'half':>9}{'9 of 10':>9}{'99 of 100':>11}{'all':>9}"
    for row in (*measured.rows, *measured.beside):
        yield _row(row)


def _row(row: Row) -> str:
    late = row.lateness_ms
    values = (_ms(late.p50, 9), _ms(late.p90, 9), _ms(late.p99, 11), _ms(late.max, 9))
    return f"{row.title:<24}{late.n:>7}{''.join(values)}"


def _ms(value: float | None, width: int) -> str:
    return f"{'-' if value is None else format(value, '.2f'):>{width}}"
