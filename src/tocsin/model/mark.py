"""Define marks, which people note in a run: a point of time, or a span from key down to key up."""

import re
from collections.abc import Sequence
from typing import TypeVar

import msgspec

from tocsin.units import NS_PER_MS, Count, Ns

CONTACT = "contact"
CALLED = "called"                      # somebody called home: in a run in which no device is known to have done so
LABELS = (CONTACT, "turned", "home", "home_half", "home_none", "moved", CALLED)      # those that results know
# How far a time that a person notes with a key may be off (common practice, no source: 0.3 to 0.8 s late), at the most:
# a touch in the last tenth of a second of a window, noted that late, must not pass for one behind it.
SCRIBE_ERROR_NS = 800 * NS_PER_MS
SMALL_ERROR_NS = 50 * NS_PER_MS       # of a clock: nothing beside what a scribe's times may be off by (own choice)
STATES = ("home", "home_half", "home_none")          # of these a robot has one at a time
# Where a mark that was added to a run that had ended came from; one by a key names the key.
VIDEO, LATER, OBSERVED = "video", "later", "observed"
KEYS = "keys"                          # the scribe at the laptop: all its keys, and the buttons of its pads
PROGRAM = "program"                    # where a mark of another program came from
_BOARD = re.compile(r"board ([1-9][0-9]{0,5})")


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """One mark on the shared clock: a point, or with ``end_ns`` a span ``[begin_ns, end_ns)``.

    ``label`` says what (contact, turned, home, home_half, home_none, moved, or a team's own), ``by`` whose it was: us
    (also when empty), partner, opponent. ``takes_back`` is the place, from 0, among a run's marks of the mark that it
    withdraws. ``open`` is a span whose end nobody noted: its key went down and never came up (``end_ns`` is then None).
    ``error_ns`` is the error of its times, if it is known (a video) and not the scribe's usual one. ``source`` says
    where it came from: a key or button, a board or program, ``LATER``, ``VIDEO``, ``OBSERVED``. ``pointlike`` is a mark
    by a key that reports no key up, as a terminal's: its end is unknown.
    """

    label: str
    begin_ns: Ns
    end_ns: Ns | None = None
    by: str = ""
    takes_back: Count | None = None
    open: bool = False
    error_ns: Ns | None = None
    source: str = ""
    pointlike: bool = False

    @property
    def is_ours(self) -> bool:
        """Whether the mark is about our own robot."""
        return self.by in ("", "us")


M = TypeVar("M", bound=Mark)
OTHERS = ("partner", "opponent")       # whose it may be, beside ours


def whose(name: str) -> tuple[str, str]:
    """Return the label and whose it is from a rig's name for a mark key.

    >>> whose("contact"), whose("contact_by_partner")
    (('contact', ''), ('contact', 'partner'))
    """
    for other in OTHERS:
        if name.endswith(f"_by_{other}"):
            return name.removesuffix(f"_by_{other}"), other
    return name, ""


def standing_places(marks: Sequence[Mark]) -> tuple[int, ...]:
    """Return the places of the valid marks: neither withdrawn nor only withdrawing."""
    gone = {mark.takes_back for mark in marks if mark.takes_back is not None}
    return tuple(place for place, mark in enumerate(marks) if place not in gone and mark.takes_back is None)


def standing(marks: Sequence[M]) -> tuple[M, ...]:
    """Return the valid marks."""
    return tuple(marks[place] for place in standing_places(marks))


def noted_error_ns(clock_error_ns: int) -> int | None:
    """Return by how much a scribe's mark may be off that was noted on a clock off by up to so much; None for the usual.

    >>> noted_error_ns(20_000_000), noted_error_ns(200_000_000)
    (None, 1000000000)
    """
    return None if clock_error_ns <= SMALL_ERROR_NS else SCRIBE_ERROR_NS + clock_error_ns


def key_source(key: str) -> str:
    """Return the source of what comes from a key or a pad's button.

    >>> key_source("7"), key_source("pad.driver.6")
    ('key 7', 'key pad.driver.6')
    """
    return f"key {key}"


def board_source(number: int) -> str:
    """Return the source of what comes from a board.

    >>> board_source(2)
    'board 2'
    """
    return f"board {number}"


def board_number(source: str) -> int | None:
    """Return the number of the board that a mark came from, None of another source.

    >>> board_number("board 2"), board_number("key 2")
    (2, None)
    """
    found = _BOARD.fullmatch(source)
    return int(found[1]) if found else None


def places_of(marks: Sequence[Mark], source: str) -> tuple[int, ...]:
    """Return the places of the valid marks that the scribe behind a source noted."""
    return tuple(place for place in standing_places(marks) if scribe_of(marks[place].source) == scribe_of(source))


def scribe_of(source: str) -> str:
    """Return the scribe behind a source: each board is one, as a video is, and other programs are one; all keys and
    buttons are one, ``KEYS``.

    >>> [scribe_of(source) for source in ("board 2", "key 7", "key pad.driver.6", "video")]
    ['board 2', 'keys', 'keys', 'video']
    """
    return source if source in (VIDEO, LATER, OBSERVED, PROGRAM) or board_number(source) else KEYS
