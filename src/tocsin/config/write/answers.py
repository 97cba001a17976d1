"""Read the answers of a team about its game: plain words of people, turned into values or objected to."""

import re
from typing import Literal, NamedTuple

from tocsin.config.write.room import RESERVE_NS
from tocsin.errors import UsageError
from tocsin.translation import tr
from tocsin.units import NS_PER_S, ClockValueError, format_clock, parse_clock

NONE = ("none", "no", "0", "0s", "-")
BY_KEY = ("key", "open")
SHORTEST_NS = NS_PER_S
# A driver period holds the way home, and what it takes to notice and turn.
SHORTEST_DRIVER_NS = RESERVE_NS + NS_PER_S
LONGEST_NS = 3600 * NS_PER_S
MOST_WINDOWS = 10
MOST_POINTS = 1000
# What Enter gives stands in for a game that nobody plays: the bundled Casting Day.
USUAL_AUTONOMOUS_NS = 28 * NS_PER_S
USUAL_DRIVER_NS = 97 * NS_PER_S
USUAL_WINDOW_NS = 18 * NS_PER_S
USUAL_CONTACT = 9
USUAL_HOME_NS = 7 * NS_PER_S
USUAL_OFF_NS = 4 * NS_PER_S
_SECONDS = re.compile(r"([0-9]+(?:[.,][0-9]+)?)(?: *| +s)")
_DISPLAY = re.compile(r"([0-9]{1,2}):([0-5][0-9])(?:[.,]([0-9]))?")

Digits = Literal["ceil", "floor"]
Counts = Literal["period", "match"]


class Span(NamedTuple):
    """A protected window, by how much of the driver period is left when it begins and ends, in nanoseconds."""

    begin_left_ns: int
    end_left_ns: int


class GameAnswers(NamedTuple):
    """What a game file is written from. Times are nanoseconds; ``autonomous_ns`` and ``pause_ns`` are 0 where there is
    none, ``pause_ns`` None where a person begins the driver period; ``contact`` are points to the opponents, 0 for
    none."""

    autonomous_ns: int
    pause_ns: int | None
    driver_ns: int
    digits: Digits = "ceil"
    counts: Counts = "period"
    spans: tuple[Span, ...] = ()
    contact: int = 0


class AnswerError(UsageError):
    """An answer means nothing here: the sentence says why, the hint what would do."""


def in_seconds(text: str) -> str:
    """Return an answer without a unit, or with a blank before it, as the seconds that it means; others as they are.

    >>> in_seconds("4,5"), in_seconds("5 s"), in_seconds("2:00")
    ('4.5s', '5s', '2:00')
    """
    found = _SECONDS.fullmatch(text.strip())
    return f"{found[1].replace(',', '.')}s" if found else text.strip()


def time_of(text: str, example: str) -> int:
    """Return the nanoseconds of a time as people write one: ``15s``, ``15``, ``1,5 s``, ``2min``, ``2:30``. Raises
    AnswerError."""
    text = in_seconds(text)
    if found := _DISPLAY.fullmatch(text):
        return parse_clock(f"{int(found[1]):02}:{found[2]}.{found[3] or 0}")
    try:
        return parse_clock(text)
    except ClockValueError as error:
        hint = (
            tr("did you mean {likely}?", likely=error.likely) if error.likely
            else tr("write a time with its unit, e.g. {example}", example=example)
        )
        raise AnswerError(str(error), hint=hint) from None


def time_or_none(text: str, example: str) -> int:
    """Return the nanoseconds of a period that there may not be, then 0. Raises AnswerError."""
    if text.strip().lower() in NONE:
        return 0
    return _lasting(text, example, SHORTEST_NS)


def pause_of(text: str, example: str) -> int | None:
    """Return the nanoseconds of a pause, 0 for none, None for one that a person ends by a key. Raises AnswerError."""
    return None if text.strip().lower() in BY_KEY else time_or_none(text, example)


def driver_of(text: str, example: str) -> int:
    """Return the nanoseconds of the driver period. Raises AnswerError."""
    return _lasting(text, example, SHORTEST_DRIVER_NS)


def _lasting(text: str, example: str, least_ns: int) -> int:
    lasts_ns = time_of(text, example)
    if not least_ns <= lasts_ns <= LONGEST_NS:
        hint = tr(
            "it lasts {least} or more, and at most an hour, e.g. {example}", least=format_clock(least_ns),
            example=example,
        )
        raise AnswerError(tr("{text} cannot be its length", text=text), hint=hint)
    return lasts_ns


def digits_of(text: str, example: str) -> Digits:
    """Return how the display rounds, by what it shows while 20.0 to 19.0 s are left. Raises AnswerError."""
    known: dict[str, Digits] = {
        "0:20": "ceil", "20": "ceil", "ceil": "ceil", "0:19": "floor", "19": "floor", "floor": "floor",
    }  # fmt: skip
    if found := known.get(text.strip().lower()):
        return found
    raise AnswerError(tr("'{text}' is neither", text=text), hint=f"write 0:20 or 0:19, e.g. {example}")


def counts_of(text: str, example: str) -> Counts:
    """Return what the display counts down. Raises AnswerError."""
    tidy = text.strip().lower()
    for one in ("period", "match"):
        if tidy and one.startswith(tidy):
            return "period" if one == "period" else "match"
    raise AnswerError(
        tr("'{text}' is neither", text=text), hint=tr("write period or match, e.g. {example}", example=example),
    )


def spans_of(text: str, driver_ns: int, example: str) -> tuple[Span, ...]:
    """Return the protected windows, the earliest first, by what the display shows as they begin (and end): ``0:18``,
    ``1:20-0:50, 0:18``, ``none``, ``all``. Raises AnswerError for one that does not fit into the driver period."""
    tidy = text.strip().lower()
    if tidy in NONE:
        return ()
    if tidy == "all":
        return (Span(driver_ns, 0),)
    parts = [part for part in re.split(r"[,;]", tidy) if part.strip()]
    if not 1 <= len(parts) <= MOST_WINDOWS:
        raise AnswerError(
            tr("'{text}' is not a window list", text=text),
            hint=tr("write e.g. {example}; none; or 1:20-0:50, 0:18", example=example),
        )
    spans = sorted((_span(part, example) for part in parts), reverse=True)
    for span, later in zip(spans, [*spans[1:], None], strict=True):
        _demand_fit(span, later, driver_ns)
    return tuple(spans)


def _span(text: str, example: str) -> Span:
    begin, dash, end = text.partition("-")
    return Span(time_of(begin, example), time_of(end, "1:00") if dash and end.strip() not in NONE else 0)


def _demand_fit(span: Span, later: Span | None, driver_ns: int) -> None:
    said, lasts = shown(span.begin_left_ns), shown(driver_ns)
    if span.begin_left_ns > driver_ns:
        raise AnswerError(
            tr("{said} is never shown: the drivers have {lasts}", said=said, lasts=lasts),
            hint=tr("write {lasts} or less, or none", lasts=lasts),
        )
    if span.begin_left_ns <= span.end_left_ns:
        raise AnswerError(
            tr("{said}-{end_left} ends before it begins", said=said, end_left=shown(span.end_left_ns)),
            hint=tr("write e.g. 1:20-0:50"),
        )
    if later is not None and not span.end_left_ns:
        hint = tr(
            "say until when it lasts: {said}-{begin_left}", said=said,
            begin_left=shown((span.begin_left_ns + later.begin_left_ns) // 2),
        )
        raise AnswerError(
            tr(
                "the windows at {said} and {begin_left} overlap", said=said,
                begin_left=shown(later.begin_left_ns),
            ),
            hint=hint,
        )
    if later is not None and span.end_left_ns <= later.begin_left_ns:
        hint = tr("write them as one, or let the first end sooner")
        raise AnswerError(
            tr(
                "the windows at {said} and {begin_left} overlap", said=said,
                begin_left=shown(later.begin_left_ns),
            ),
            hint=hint,
        )


def points_of(text: str, example: str) -> int:
    """Return points to the opponents, 0 for none. Raises AnswerError."""
    tidy = text.strip().lower()
    if tidy in NONE:
        return 0
    if tidy.isascii() and tidy.isdecimal() and int(tidy) <= MOST_POINTS:
        return int(tidy)
    raise AnswerError(
        tr("'{text}' are not points", text=text),
        hint=tr(
            "write a whole number from 0 to {most_points}, e.g. {example}", most_points=MOST_POINTS, example=example,
        ),
    )


def shown(left_ns: int) -> str:
    """Return a time as people read it on a display, with tenths where it has any.

    >>> shown(20 * NS_PER_S), shown(90 * NS_PER_S)
    ('0:20', '1:30')
    """
    minutes, rest_ns = divmod(left_ns, 60 * NS_PER_S)
    whole, part_ns = divmod(rest_ns, NS_PER_S)
    return f"{minutes}:{whole:02}" + (f".{part_ns * 10 // NS_PER_S}" if part_ns else "")


def usual_window(driver_ns: int) -> str:
    """Return the answer about windows that Enter gives: the last 18 seconds, fewer in a short period."""
    least_ns = driver_ns // 3 // NS_PER_S * NS_PER_S
    return shown(min(USUAL_WINDOW_NS, least_ns)) if least_ns else "none"
