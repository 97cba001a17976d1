"""Convert clock values of W3C SMIL 3.0 to nanoseconds and back.

A number without a unit is refused, and so is ``2:30``: each place needs two digits.
"""

import re
from typing import Annotated

import msgspec

from tocsin.translation import tr

NS_PER_MS = 1_000_000
NS_PER_S = 1_000_000_000

# Longer than any event, and far from where 64 bits of nanoseconds end.
LONGEST_NS = 1000 * 3600 * NS_PER_S
MOST_NS = 1 << 62                      # a century: whoever reckons with it never leaves what a float holds
# What a journal that somebody else wrote may hold, so that reckoning with it neither fails nor never ends.
Ns = Annotated[int, msgspec.Meta(ge=-MOST_NS, le=MOST_NS)]
Count = Annotated[int, msgspec.Meta(ge=0, le=1 << 32)]

_FRAC = r"(?:\.(?P<frac>[0-9]{1,9}))?"
_FULL = re.compile(r"(?P<h>[0-9]{1,9}):(?P<min>[0-5][0-9]):(?P<s>[0-5][0-9])" + _FRAC)
_PART = re.compile(r"(?P<min>[0-5][0-9]):(?P<s>[0-5][0-9])" + _FRAC)
_COUNT = re.compile(r"(?P<count>[0-9]{1,9})" + _FRAC + r"(?P<unit>h|min|s|ms)")
_UNIT_NS = {"h": 3600 * NS_PER_S, "min": 60 * NS_PER_S, "s": NS_PER_S, "ms": NS_PER_MS}

_MEANT_UNITS = {
    "": ("s", "ms", "min"),
    "m": ("min", "ms", "s"),
    **dict.fromkeys(("sec", "secs", "second", "seconds"), ("s",)),
    **dict.fromkeys(("mins", "minute", "minutes"), ("min",)),
    **dict.fromkeys(("msec", "msecs", "millisecond", "milliseconds"), ("ms",)),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), ("h",)),
}


class ClockValueError(ValueError):
    """A text is no clock value; ``readings`` holds the clock values that it may mean, the likeliest first."""

    def __init__(self, text: str, readings: tuple[str, ...] = ()) -> None:
        super().__init__(tr("'{text}' is not a clock value", text=text))
        self.text = text
        self.readings = readings

    @property
    def likely(self) -> str:
        """The likeliest clock value as a question, or an empty text."""
        return self.readings[0] if self.readings else ""


def parse_clock(text: str) -> int:
    """Return the nanoseconds of a clock value such as ``30s``, ``1500ms``, ``02:33`` or ``02:30:03.5``.

    Raises ClockValueError with the likely readings, also above 1000 hours. Fractions below a nanosecond are dropped.
    Source: W3C SMIL 3.0, "Clock values".
    """
    ns = _read(text)
    if ns is None or ns > LONGEST_NS:
        raise ClockValueError(text, readings_of_clock(text))
    return ns


def format_clock(ns: int) -> str:
    """Return the shortest count that parse_clock reads back to the same ``ns``, in seconds or milliseconds.

    >>> format_clock(4_000_000_000), format_clock(250_000_000), format_clock(1_500_000_000)
    ('4s', '250ms', '1.5s')
    """
    unit, unit_ns = ("s", NS_PER_S) if abs(ns) >= NS_PER_S or ns == 0 else ("ms", NS_PER_MS)
    whole, rest = divmod(abs(ns), unit_ns)
    digits = f"{rest:0{len(str(unit_ns)) - 1}d}".rstrip("0") if rest else ""
    return f"{'-' if ns < 0 else ''}{whole}{'.' if digits else ''}{digits}{unit}"


def _read(text: str) -> int | None:
    if match := _COUNT.fullmatch(text):
        unit_ns = _UNIT_NS[match["unit"]]
        return int(match["count"]) * unit_ns + _fraction_ns(match["frac"], unit_ns)
    if match := _FULL.fullmatch(text):
        whole_s = (int(match["h"]) * 60 + int(match["min"])) * 60 + int(match["s"])
        return whole_s * NS_PER_S + _fraction_ns(match["frac"], NS_PER_S)
    if match := _PART.fullmatch(text):
        return (int(match["min"]) * 60 + int(match["s"])) * NS_PER_S + _fraction_ns(match["frac"], NS_PER_S)
    return None


def _fraction_ns(digits: str | None, unit_ns: int) -> int:
    return int(digits) * unit_ns // 10 ** len(digits) if digits else 0


def readings_of_clock(text: str) -> tuple[str, ...]:
    """Return the clock values that a wrong text may mean, the likeliest first.

    A number alone may be seconds, milliseconds or minutes; a single m may mean minutes, or be a slip of ms or s.

    >>> readings_of_clock("4"), readings_of_clock("2:15"), readings_of_clock("30sec")
    (('4s', '4ms', '4min'), ('02:15',), ('30s',))
    """
    tidy = text.strip().lower().replace(",", ".").replace(" ", "")
    if tidy.startswith("."):
        tidy = "0" + tidy
    if re.fullmatch(r"[0-9]:[0-5][0-9](\.[0-9]{1,9})?", tidy):
        tidy = "0" + tidy
    found = re.fullmatch(r"([0-9]+(?:\.[0-9]{1,9})?)([a-z]*)", tidy)
    units = _MEANT_UNITS.get(found[2], ()) if found else ()
    likely = [f"{found[1]}{unit}" for unit in units] if found and units else [tidy]
    return tuple(one for one in likely if one != text and (ns := _read(one)) is not None and ns <= LONGEST_NS)
