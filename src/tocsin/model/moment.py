"""Parse moments of match time as people write them: ``no_contact.begin-4s``, ``mark.swap+break_off``.

The grammar is a subset of W3C SMIL 3.0 (syncbase values with a clock value as offset), and a lead may stand for the
clock value::

    moment = base [ S sign S offset ]     base = id [ "." digits ] "." ("begin" | "end")  |  "mark." id offset = clock |
    lead id              id   = [a-z][a-z0-9_]*
"""

import contextlib
import re
from collections.abc import Collection
from typing import Literal

import msgspec

from tocsin.model.spelling import only_reading
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, ClockValueError, format_clock, parse_clock, readings_of_clock

MARK = "mark."
ID = re.compile(r"[a-z][a-z0-9_]*")

_ID = r"[a-z][a-z0-9_]*"
_MARK = re.compile(rf"mark\.{_ID}")
_SYNC = re.compile(rf"(?P<id>{_ID})(?:\.(?P<span>[0-9]{{1,6}}))?\.(?P<edge>begin|end)")
_SPLIT = re.compile(r"(?P<base>[^+\-\s]*)(?P<gap>[ \t]*)(?:(?P<sign>[+-])[ \t]*(?P<offset>.*))?", re.DOTALL)

# What people write for the two edges.
_EDGES = {"start": "begin", "begins": "begin", "beginning": "begin", "from": "begin",
          "stop": "end", "ends": "end", "finish": "end", "until": "end"}  # fmt: skip
_BOTH = ("begin", "end")
_SHORTEST_NS = 200 * NS_PER_MS         # by how much less than this nobody shifts a cue, or writes it in ms

A_BASE = tr("a period or window of the game with .begin or .end, such as driver.end, or a mark, such as mark.swap")
_AN_OFFSET = tr("a clock value such as 4s, or the id of a lead")
_A_SIGN = tr("+ or - before the offset")


class Moment(msgspec.Struct, frozen=True):
    """A written moment: a base, and an offset that is either nanoseconds or the id of a lead.

    ``base`` is the id of a period or window, ``match``, or ``mark.<id>``; ``edge`` is "begin" for a mark.
    """

    base: str
    edge: Literal["begin", "end"]
    span: int | None = None        # which of a window's several spans, from 1
    offset_ns: int = 0             # signed; used where lead is empty
    lead: str = ""                 # id of a lead
    lead_sign: int = 1             # +1 or -1


class MomentError(ValueError):
    """A text is no moment. ``span`` holds the columns of the bad part, ``expected`` what belongs there, ``readings``
    the whole moments that it may mean.
    """

    def __init__(self, text: str, span: tuple[int, int], expected: str, readings: tuple[str, ...] = ()) -> None:
        super().__init__(tr("'{text}' is not a moment: expected {expected}", text=text, expected=expected))
        self.text = text
        self.span = span
        self.expected = expected
        self.readings = readings

    @property
    def likely(self) -> str:
        """Return the only possible moment, or an empty text."""
        return self.readings[0] if len(self.readings) == 1 else ""


def parse(text: str) -> Moment:
    """Return the moment that ``text`` means.

    Raises MomentError with the place and, if there is one, the likely meaning.

    >>> parse("no_contact.begin - 4s")
    Moment(base='no_contact', edge='begin', span=None, offset_ns=-4000000000, lead='', lead_sign=1)
    """
    split = _SPLIT.match(text)
    assert split is not None                                    # every part of the pattern may be empty
    base, edge, span = _parse_base(text, split["base"])
    if split["sign"] is None:
        if split.end("base") < len(text):
            raise MomentError(text, (split.end("base"), len(text)), _A_SIGN, _readings(text))
        return Moment(base, edge, span)
    sign = 1 if split["sign"] == "+" else -1
    offset = split["offset"]
    if ID.fullmatch(offset):
        return Moment(base, edge, span, lead=offset, lead_sign=sign)
    try:
        return Moment(base, edge, span, offset_ns=sign * parse_clock(offset))
    except ClockValueError as error:
        where = (split.start("offset"), len(text)) if offset else (split.start("sign"), len(text))
        raise MomentError(text, where, _AN_OFFSET, _readings(text)) from error


def format(moment: Moment) -> str:
    """Return the text that parses to ``moment``, without blanks.

    >>> format(Moment("no_contact", "begin", offset_ns=-4_000_000_000))
    'no_contact.begin-4s'
    """
    if moment.lead:
        return f"{base_text(moment)}{'-' if moment.lead_sign < 0 else '+'}{moment.lead}"
    if not moment.offset_ns:
        return base_text(moment)
    return f"{base_text(moment)}{'-' if moment.offset_ns < 0 else '+'}{format_clock(abs(moment.offset_ns))}"


def base_text(moment: Moment) -> str:
    """Return the base of a moment as written, without its offset, e.g. ``door.2.begin``."""
    if is_mark(moment):
        return moment.base
    span = "" if moment.span is None else f".{moment.span}"
    return f"{moment.base}{span}.{moment.edge}"


def is_mark(moment: Moment) -> bool:
    """Return whether a moment hangs on a mark, whose time is known only once a person makes it."""
    return moment.base.startswith(MARK)


def _parse_base(text: str, base: str) -> tuple[str, Literal["begin", "end"], int | None]:
    if _MARK.fullmatch(base):
        return base, "begin", None
    match = _SYNC.fullmatch(base)
    if match is None or match["id"] == "mark":
        raise MomentError(text, (0, max(len(base), min(1, len(text)))), A_BASE, _readings(text))
    span = None if match["span"] is None else int(match["span"])
    if span == 0:
        raise MomentError(text, match.span("span"), tr("a number of a span, from 1"))
    return match["id"], "begin" if match["edge"] == "begin" else "end", span


def respelt(text: str, bases: Collection[str], leads: Collection[str]) -> str:
    """Return a moment with base and lead corrected to the only possible known names, or an empty text.

    Without any ``bases`` the base stays as it is.
    """
    moment = parse(text)
    base, lead = moment.base, moment.lead
    if bases and not is_mark(moment) and base not in bases:
        base = only_reading(base, bases)
    if lead and lead not in leads:
        lead = only_reading(lead, leads)
    found = base and (lead or not moment.lead)
    return format(msgspec.structs.replace(moment, base=base, lead=lead)) if found else ""


def _readings(text: str) -> tuple[str, ...]:
    """Return the moments that a text may mean which is none; whether there is such a base or lead is not known here."""
    tidy = text.strip().replace("\N{MINUS SIGN}", "-").replace("\N{EN DASH}", "-")
    times = _times(tidy)
    if len(times) == 1:
        return (f"match.begin+{times[0]}", f"match.end-{times[0]}")     # on a stopwatch, on a display that counts down
    match = re.fullmatch(r"([A-Za-z][\w.]*(?:-[A-Za-z]\w*(?=\.))*[\w.]*)\s*([+-]?)\s*(.*)", tidy)
    if match is None:
        return ()
    if bool(match[2]) != bool(match[3]):                        # no sign: before or after is theirs to say
        return ()
    offsets = [f"{match[2]}{offset}" for offset in _offsets(match[3])] if match[3] else [""]
    likely = [f"{base}{offset}" for base in _bases(match[1]) for offset in offsets]
    return tuple(one for one in dict.fromkeys(likely) if one != text and _parses(one) and _may_come(one))


def _bases(base: str) -> list[str]:
    """Return what a base may mean: without an edge it may be either."""
    parts = base.lower().replace("-", "_").split(".")
    if "" in parts:
        return []                      # what stood there is not known
    if parts[0] in ("mark", "marks"):
        return [MARK + "_".join(parts[1:2])]
    if len(parts) == 1:
        name, _, edge = parts[0].rpartition("_")
        return [f"{name}.{edge}"] if name and edge in _BOTH else [f"{parts[0]}.{edge}" for edge in _BOTH]
    if len(parts) == 3 and parts[1] in _BOTH and parts[2].isdecimal():
        return [f"{parts[0]}.{parts[2]}.{parts[1]}"]
    if len(parts) == 2 and parts[1].isdecimal():
        return [f"{parts[0]}.{parts[1]}.{edge}" for edge in _BOTH]
    edge = _EDGES.get(parts[-1]) or only_reading(parts[-1], _BOTH)
    return [".".join([*parts[:-1], edge])] if edge else []


def _offsets(offset: str) -> list[str]:
    """Return what an offset may mean: a lead, or times; minutes have their unit, since the display shows them apart."""
    if ID.fullmatch(offset):
        return [offset]
    if times := _times(offset):
        return times
    lead = offset.lower().replace("-", "_").replace(" ", "_")
    is_one = ID.fullmatch(lead) and not re.search(r"[-+\s][0-9]", offset)      # a lead and a time are two offsets
    return [lead] if is_one else []


def _times(text: str) -> list[str]:
    """Return the times that a text may mean."""
    with contextlib.suppress(ClockValueError):
        return [format_clock(parse_clock(text))]
    bare = re.fullmatch(r"[0-9.,]+", text.strip()) is not None
    times = [time for time in readings_of_clock(text) if not (bare and time.endswith("min"))]
    return [time for time in times if parse_clock(time) >= _SHORTEST_NS] or times


def _may_come(text: str) -> bool:
    """Return whether anything may lie there: nothing does before the match."""
    moment = parse(text)
    before = moment.offset_ns < 0 or (moment.lead and moment.lead_sign < 0)
    return not (before and moment.base == "match" and moment.edge == "begin")


def _parses(text: str) -> bool:
    split = _SPLIT.match(text)
    if split is None or not (_MARK.fullmatch(split["base"]) or _SYNC.fullmatch(split["base"])):
        return False
    offset = split["offset"]
    if offset is None:
        return split.end("base") == len(text)
    if ID.fullmatch(offset):
        return True
    try:
        parse_clock(offset)
    except ClockValueError:
        return False
    return True
