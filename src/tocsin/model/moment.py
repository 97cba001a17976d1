"""Moments of match time as people write them: ``no_contact.begin-4s``, ``mark.swap+break_off``.

The grammar is a subset of W3C SMIL 3.0 (syncbase values with a clock value as offset), and a lead may stand for the
clock value::

    moment = base [ S sign S offset ]     base = id [ "." digits ] "." ("begin" | "end")  |  "mark." id
    offset = clock | lead id              id   = [a-z][a-z0-9_]*
"""

import re
from difflib import get_close_matches
from typing import Literal

import msgspec

from tocsin.units import ClockValueError, format_clock, parse_clock

MARK = "mark."
ID = re.compile(r"[a-z][a-z0-9_]*")

_ID = r"[a-z][a-z0-9_]*"
_MARK = re.compile(rf"mark\.{_ID}")
_SYNC = re.compile(rf"(?P<id>{_ID})(?:\.(?P<span>[0-9]{{1,6}}))?\.(?P<edge>begin|end)")
_SPLIT = re.compile(r"(?P<base>[^+\-\s]*)(?P<gap>[ \t]*)(?:(?P<sign>[+-])[ \t]*(?P<offset>.*))?", re.DOTALL)

# What people write for the two edges, to guess what was meant.
_EDGES = {"start": "begin", "begins": "begin", "beginning": "begin", "from": "begin",
          "stop": "end", "ends": "end", "finish": "end", "until": "end"}  # fmt: skip

A_BASE = "a period or window of the game with .begin or .end, such as driver.end, or a mark, such as mark.swap"
_AN_OFFSET = "a clock value such as 4s, or the id of a lead"
_A_SIGN = "+ or - before the offset"


class Moment(msgspec.Struct, frozen=True):
    """A moment as written: a base, and an offset that is either nanoseconds or a lead to be looked up.

    ``base`` is the id of a period or window, ``match``, or ``mark.<id>``; ``edge`` is "begin" for a mark.
    """

    base: str
    edge: Literal["begin", "end"]
    span: int | None = None        # which of a window's several spans, from 1
    offset_ns: int = 0             # signed; used where lead is empty
    lead: str = ""                 # id of a lead
    lead_sign: int = 1             # +1 or -1


class MomentError(ValueError):
    """A text is no moment. ``span`` holds the columns of the bad part, ``expected`` what belongs there, ``likely`` the
    whole moment that was probably meant, or nothing."""

    def __init__(self, text: str, span: tuple[int, int], expected: str, likely: str = "") -> None:
        super().__init__(f"'{text}' is no moment: expected {expected}")
        self.text = text
        self.span = span
        self.expected = expected
        self.likely = likely


def parse(text: str) -> Moment:
    """Return the moment that ``text`` writes.

    Raises MomentError with the place and, where there is one, the likely intention.

    >>> parse("no_contact.begin - 4s")
    Moment(base='no_contact', edge='begin', span=None, offset_ns=-4000000000, lead='', lead_sign=1)
    """
    split = _SPLIT.match(text)
    assert split is not None                                    # every part of the pattern may be empty
    base, edge, span = _parse_base(text, split["base"])
    if split["sign"] is None:
        if split.end("base") < len(text):
            raise MomentError(text, (split.end("base"), len(text)), _A_SIGN, _likely(text))
        return Moment(base, edge, span)
    sign = 1 if split["sign"] == "+" else -1
    offset = split["offset"]
    if ID.fullmatch(offset):
        return Moment(base, edge, span, lead=offset, lead_sign=sign)
    try:
        return Moment(base, edge, span, offset_ns=sign * parse_clock(offset))
    except ClockValueError as error:
        where = (split.start("offset"), len(text)) if offset else (split.start("sign"), len(text))
        raise MomentError(text, where, _AN_OFFSET, _likely(text)) from error


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
    """Return the base of a moment as written, without its offset, e.g. ``shift.2.begin``."""
    if is_mark(moment):
        return moment.base
    span = "" if moment.span is None else f".{moment.span}"
    return f"{moment.base}{span}.{moment.edge}"


def is_mark(moment: Moment) -> bool:
    """Return whether a moment hangs on a mark, which is only known once a person made it."""
    return moment.base.startswith(MARK)


def _parse_base(text: str, base: str) -> tuple[str, Literal["begin", "end"], int | None]:
    if _MARK.fullmatch(base):
        return base, "begin", None
    match = _SYNC.fullmatch(base)
    if match is None or match["id"] == "mark":
        raise MomentError(text, (0, max(len(base), min(1, len(text)))), A_BASE, _likely(text))
    span = None if match["span"] is None else int(match["span"])
    if span == 0:
        raise MomentError(text, match.span("span"), "a number of a span, from 1", _likely(text))
    return match["id"], "begin" if match["edge"] == "begin" else "end", span


def _likely(text: str) -> str:
    """Return a moment that the writer probably meant, or nothing."""
    tidy = text.strip().replace("−", "-").replace("–", "-")
    try:
        return f"match.begin+{format_clock(parse_clock(tidy))}"          # match time, as from a stopwatch
    except ClockValueError:
        pass
    match = re.fullmatch(r"([A-Za-z][\w.]*(?:-[A-Za-z]\w*(?=\.))*[\w.]*)\s*([+-]?)\s*(.*)", tidy)
    if match is None:
        return ""
    likely = _likely_base(match[1])
    if match[3]:
        offset = _likely_offset(match[3])
        likely = f"{likely}{match[2]}{offset}" if offset else ""         # no sign: before or after is theirs to say
    return likely if likely and likely != text and _parses(likely) else ""


def _likely_base(base: str) -> str:
    parts = [part for part in base.lower().replace("-", "_").split(".") if part]
    if parts[0] in ("mark", "marks"):
        return MARK + "_".join(parts[1:2])
    edge = _EDGES.get(parts[-1], parts[-1])
    if len(parts) > 1 and edge not in ("begin", "end"):
        edge = next(iter(get_close_matches(edge, ("begin", "end"), n=1)), edge)
    if edge not in ("begin", "end") or len(parts) == 1:
        parts.append("begin")
    else:
        parts[-1] = edge
    if len(parts) == 3 and parts[1] == "0":
        parts[1] = "1"
    return ".".join(parts)


def _likely_offset(offset: str) -> str:
    if ID.fullmatch(offset):
        return offset
    try:
        return format_clock(parse_clock(offset))
    except ClockValueError as error:
        if error.likely:
            return error.likely
    lead = offset.lower().replace("-", "_").replace(" ", "_")
    return lead if ID.fullmatch(lead) else ""


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
