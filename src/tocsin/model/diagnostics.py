"""List the codes of mistakes in a game and a plan, and gather the compiler's findings.

The comment beside each code names its facts, for the placeholders of its sentence. ``likely`` is the only possible
meaning, or empty; ``options`` are several possible meanings, a line each.
"""

from collections.abc import Iterable
from typing import Literal

import msgspec

from tocsin.translation import tr

Path = tuple[str | int, ...]


class Diagnostic(msgspec.Struct, frozen=True, kw_only=True):
    """One mistake. ``path`` leads to the value, e.g. ``("cue", 3, "at")``; ``span`` marks the part of the text within
    that value (columns from 0, half open), or None for all of it; ``facts`` fill the message's placeholders."""

    code: str
    file: str                      # "game", "plan", "rig" or "drill": which of the files the path belongs to
    path: Path
    span: tuple[int, int] | None = None
    facts: dict[str, str] = {}


# ids
DUPLICATE_ID = "duplicate_id"                    # name, kind (period or window, variant, stake, threshold, cue)
RESERVED_ID = "reserved_id"                      # name
UNKNOWN_BASE = "unknown_base"                    # name, likely (whole moment), expected (list of ids)
UNKNOWN_LEAD = "unknown_lead"                    # name, likely (whole moment), expected
UNKNOWN_PATTERN = "unknown_pattern"              # name, channel, likely, expected
UNKNOWN_VARIANT = "unknown_variant"              # name, likely, expected
UNKNOWN_WINDOW = "unknown_window"                # name, likely, expected
UNKNOWN_STAKE = "unknown_stake"                  # name, likely, expected
UNKNOWN_CUE = "unknown_cue"                      # name, likely, expected: what a cue announces
LISTED_TWICE = "listed_twice"                    # text
# periods, variants, thresholds
NO_PERIOD = "no_period"                          # -
NO_LENGTH = "no_length"                          # name: a period or a pattern that takes no time
SETTLE_NOT_LAST = "settle_not_last"              # name
OPEN_LAST = "open_last"                          # name: an open period that no other follows
TWO_DEFAULTS = "two_defaults"                    # name, first
STAKE_OF_OTHERS = "stake_of_others"              # name: a threshold counts points that go to the opponents
OUT_OF_REACH = "out_of_reach"                    # text (points of a threshold), high (the most that its stakes give)
# moments
SPAN_OF_PERIOD = "span_of_period"                # name, likely: door.2.begin, but it is a period
SPAN_OUT_OF_RANGE = "span_out_of_range"          # name, count, options
ONE_MEANT = "one_meant"                          # name, count, options: stands for n moments where one is meant
PAIRING = "pairing"                              # begins, ends (counts), first, second (keys): do not pair
END_NOT_AFTER_BEGIN = "end_not_after_begin"      # begin, end (as written)
WINDOW_CYCLE = "window_cycle"                    # name, way (a.begin -> b.end -> a.begin)
BEFORE_MATCH = "before_match"                    # name (as written), by (how much)
BEFORE_BY_HAND = "before_by_hand"                # name (as written), anchor: begun by hand, not known in advance
BEFORE_MARK = "before_mark"                      # name (as written), anchor
BEYOND_SEGMENT = "beyond_segment"                # name, anchor (the period begun by hand that follows), by
AFTER_END = "after_end"                          # name, by, expected (the latest moment)
TOO_MANY = "too_many"                            # name, count, most
TOO_MANY_FIRINGS = "too_many_firings"            # name (of the cue that is one too many), count, most
TOO_MUCH_SOUND = "too_much_sound"                # name (of the cue), count, most (both as times)
# cues
NO_CHANNEL = "no_channel"                        # name
NO_ROLE = "no_role"                              # name: rumble for nobody
NO_MOMENT = "no_moment"                          # name: neither at nor callable, or every without at
SAME_MOMENT = "same_moment"                      # name, other: two moments of one cue are the same
UNTIL_WITHOUT_AT = "until_without_at"            # name: a cue that is only called has one until at most
REPEAT_WITHOUT_UNTIL = "repeat_without_until"    # name
REPEAT_NEVER_ENDS = "repeat_never_ends"          # name: every is no time at all
REPEAT_TOO_FAST = "repeat_too_fast"              # name, every, expected (the shortest)
REPEAT_ACROSS = "repeat_across"                  # name, anchor: its until hangs on another anchor
NO_AHEAD = "no_ahead"                            # name, other: announces another, but nobody says how long ahead
AHEAD_OF_NOTHING = "ahead_of_nothing"            # name: says how long ahead, but announces no cue
ANNOUNCES_ITSELF = "announces_itself"            # name
ANNOUNCE_CIRCLE = "announce_circle"              # name, way (a -> b -> a)
ANNOUNCES_CALL = "announces_call"                # name, other: what it announces comes by hand only
OWN_MOMENT = "own_moment"                        # name, other, key: announces another and yet says when it comes

CODES: tuple[str, ...] = (
    DUPLICATE_ID, RESERVED_ID, UNKNOWN_BASE, UNKNOWN_LEAD, UNKNOWN_PATTERN, UNKNOWN_VARIANT, UNKNOWN_WINDOW,
    UNKNOWN_STAKE, UNKNOWN_CUE, LISTED_TWICE, STAKE_OF_OTHERS, OUT_OF_REACH,
    NO_PERIOD, NO_LENGTH, SETTLE_NOT_LAST, OPEN_LAST, TWO_DEFAULTS,
    SPAN_OF_PERIOD, SPAN_OUT_OF_RANGE, ONE_MEANT, PAIRING, END_NOT_AFTER_BEGIN, WINDOW_CYCLE,
    BEFORE_MATCH, BEFORE_BY_HAND, BEFORE_MARK, BEYOND_SEGMENT, AFTER_END, TOO_MANY, TOO_MANY_FIRINGS,
    TOO_MUCH_SOUND,
    NO_CHANNEL, NO_ROLE, NO_MOMENT, SAME_MOMENT, UNTIL_WITHOUT_AT,
    REPEAT_WITHOUT_UNTIL, REPEAT_NEVER_ENDS, REPEAT_TOO_FAST, REPEAT_ACROSS,
    NO_AHEAD, AHEAD_OF_NOTHING, ANNOUNCES_ITSELF, ANNOUNCE_CIRCLE, ANNOUNCES_CALL, OWN_MOMENT,
)  # fmt: skip


_MOST_LISTED = 60                      # ids in one message
MOST = 500                             # mistakes that are looked for


class Diagnostics:
    """Gathers mistakes in the order in which they are found, at most the first ``MOST``."""

    def __init__(self) -> None:
        self._mistakes: list[Diagnostic] = []

    @property
    def mistakes(self) -> tuple[Diagnostic, ...]:
        """Return all mistakes so far."""
        return tuple(self._mistakes)

    @property
    def is_full(self) -> bool:
        """Return whether more mistakes would not help."""
        return len(self._mistakes) >= MOST

    def add(
        self, code: str, file: Literal["game", "plan"], path: Path, *, span: tuple[int, int] | None = None, **facts: str
    ) -> None:
        """Add one mistake."""
        if self.is_full:
            return
        self._mistakes.append(Diagnostic(code=code, file=file, path=path, span=span, facts=facts))


def listed(known: Iterable[str]) -> str:
    """Return ids as a list for people, "none" if there is none."""
    words = list(known)
    more = len(words) - _MOST_LISTED
    return ", ".join([*words[:_MOST_LISTED], *([tr("and {more} more", more=more)] if more > 0 else [])]) or "none"
