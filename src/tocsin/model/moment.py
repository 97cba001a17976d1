"""Moments of match time as people write them: ``no_contact.begin-4s``, ``mark.swap+break_off``."""

from typing import Literal

import msgspec


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
