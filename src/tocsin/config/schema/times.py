"""Check the times and moments of a file, each with the likely meaning of a wrong one."""

import datetime
import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import PlainValidator
from pydantic_core import PydanticCustomError

from tocsin.config.schema.values import list_of, proven, text_of
from tocsin.config.toml.phrases import mistake, only_word, quoted, what_is
from tocsin.model.moment import A_BASE, Moment, MomentError, parse
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, ClockValueError, format_clock, parse_clock

OWN = "own"                            # a limit that a crew's own first rounds set
_MOMENTS_APART = r"\s*(?:[,;&|]|\band\b)\s*"
_NO_UNIT = re.compile(r"[0-9.,\s]+")


class _ClockRange:
    """The check for a clock value in ``[low_ns, high_ns]``, which yields nanoseconds.

    A number without a unit may be so many seconds; milliseconds too, from ``ms_from_ns`` on, and minutes up to
    ``min_to_ns``: nobody gives a key other times in these units.
    """

    def __init__(self, low_ns: int, high_ns: int, whole_ms: bool, ms_from_ns: int, min_to_ns: int) -> None:
        self._low_ns = low_ns
        self._high_ns = high_ns
        self._whole_ms = whole_ms
        self._ms_from_ns = ms_from_ns
        self._min_to_ns = min_to_ns

    def __call__(self, value: Any) -> int:
        ns = self._read(value)
        facts = {"text": str(value), "low": format_clock(self._low_ns), "high": format_clock(self._high_ns)}
        if not self._low_ns <= ns <= self._high_ns:
            raise mistake("clock_range", way="short" if ns < self._low_ns else "long", **facts)
        if self._whole_ms and ns % NS_PER_MS:
            raise mistake("clock_whole_ms", **facts)
        return ns

    def _read(self, value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, str | int | float | datetime.time):
            raise mistake("wrong_type", **{"is": what_is(value)}, wanted=tr('a time in quotes, such as "30s"'))
        if isinstance(value, datetime.time):
            raise mistake("clock_quotes", text=str(value), readings=[quoted(str(value))])
        text = value if isinstance(value, str) else f"{value:.9g}"
        try:
            ns = parse_clock(text)
        except ClockValueError as error:
            found = [quoted(one) for one in error.readings if not _NO_UNIT.fullmatch(text) or self._is_usual(one)]
            code = "clock" if isinstance(value, str) else "clock_unit"
            raise mistake(code, text=text, readings=found) from None
        return ns

    def _is_usual(self, time: str) -> bool:
        ns = parse_clock(time)
        return {"ms": ns >= self._ms_from_ns, "in": ns <= self._min_to_ns}.get(time[-2:], True)


def clock(
    low_ns: int, high_ns: int, *, whole_ms: bool = False, ms_from_ns: int = 0, min_to_ns: int = 0
) -> PlainValidator:
    """Return the validator of a clock value in ``[low_ns, high_ns]``; it returns nanoseconds.

    A number without a unit may mean milliseconds from ``ms_from_ns`` on, and minutes up to ``min_to_ns``.
    """
    return PlainValidator(proven(_ClockRange(low_ns, high_ns, whole_ms, ms_from_ns, min_to_ns)))


def lead(most_ns: int, ms_from_ns: int, *, low_ns: int = 0, sign_code: str = "lead_sign") -> PlainValidator:
    """Return the validator of a lead: a clock value without a sign, since a lead always counts ahead."""
    plain = _ClockRange(low_ns, most_ns, whole_ms=False, ms_from_ns=ms_from_ns, min_to_ns=0)

    def check(value: object) -> int:
        if isinstance(value, str) and value[:1] in ("+", "-", "\N{MINUS SIGN}"):
            # A minus may have stood for "ahead", or for the very opposite of it.
            rest = value[1:].strip() if value[0] == "+" else ""
            raise mistake(sign_code, text=value, readings=_readings_of_time(plain, rest) if rest else [])
        return plain(value)

    return PlainValidator(proven(check))


def signed_clock(most_ns: int, ms_from_ns: int) -> PlainValidator:
    """Return the validator of a clock value with or without a sign, ``"+1s"`` or ``"-500ms"``, in nanoseconds."""
    plain = _ClockRange(0, most_ns, whole_ms=False, ms_from_ns=ms_from_ns, min_to_ns=0)

    def check(value: object) -> int:
        sign = value[0] if isinstance(value, str) and value[:1] in ("+", "-") else ""
        try:
            ns = plain(value[1:] if isinstance(value, str) and sign else value)
        except PydanticCustomError as error:
            facts = dict(error.context or {})
            signed = [quoted(sign + one.strip('"')) for one in facts.get("readings", ())]
            raise PydanticCustomError(error.type, "{code}", {**facts, "readings": signed}) from None
        return -ns if sign == "-" else ns

    return PlainValidator(proven(check))


def _readings_of_time(check: Callable[[Any], int], text: str) -> list[str]:
    """Return what a text may mean: itself, if it is a time, or else its readings."""
    try:
        check(text)
    except PydanticCustomError as error:
        return list((error.context or {}).get("readings", ()))
    return [quoted(text)]


def clock_or_open(low_ns: int, high_ns: int, ms_from_ns: int, min_to_ns: int) -> PlainValidator:
    """Return the validator of a clock value, or of ``"open"``, for which it returns None."""
    timed = _ClockRange(low_ns, high_ns, whole_ms=False, ms_from_ns=ms_from_ns, min_to_ns=min_to_ns)
    return PlainValidator(proven(lambda value: None if value == "open" else timed(value)))


def clock_or_own(low_ns: int, high_ns: int, *, ms_from_ns: int) -> PlainValidator:
    """Return the validator of a clock value, which yields nanoseconds, or ``"own"``, which stays so."""
    timed = _ClockRange(low_ns, high_ns, whole_ms=False, ms_from_ns=ms_from_ns, min_to_ns=0)

    def check(value: object) -> int | str:
        if isinstance(value, str) and not any(letter.isdigit() for letter in value):
            if value == OWN:
                return OWN
            likely = only_word(value, (OWN,))
            facts = {"text": value, "high": format_clock(high_ns)}
            raise mistake("clock_or_own", readings=[quoted(likely)] if likely else [], **facts)
        return timed(value)

    return PlainValidator(proven(check))


def _moment(value: object) -> Moment:
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise mistake("moment_bare", text=f"{value:g}")
    text = text_of(value, tr('a moment in quotes, such as "driver.end-18s"'))
    try:
        return parse(text)
    except MomentError as error:
        facts = {
            "expected": tr("Expected {expected}.", expected=error.expected),
            "about": "base" if error.expected == A_BASE else "offset",
        }
        found = [quoted(one) for one in error.readings]
        raise mistake("moment", text=text, span=error.span, readings=found, **facts) from None


MomentField = Annotated[Moment, PlainValidator(proven(_moment))]
Moments = Annotated[list[MomentField], list_of(_moment, _MOMENTS_APART)]
