"""Define marks, which people note in a run: a point of time, or a span from key down to key up."""

from collections.abc import Sequence
from typing import TypeVar

import msgspec

from tocsin.units import Count, Ns

LABELS = ("contact", "turned", "home", "home_half", "home_none", "moved")     # those that results count


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """One mark on the shared clock: a point, or with ``end_ns`` a span ``[begin_ns, end_ns)``.

    ``label`` says what (contact, turned, home, home_half, home_none, moved, or a team's own), ``by`` whose it was: us
    (also when empty), partner, opponent. ``takes_back`` is the place, from 0, among a run's marks of the mark that it
    withdraws. ``open`` is a span whose end nobody noted: its key went down and never came up (``end_ns`` is then None).
    ``error_ns`` is the error of its times, if it is known (a video) and not the scribe's usual one.
    """

    label: str
    begin_ns: Ns
    end_ns: Ns | None = None
    by: str = ""
    takes_back: Count | None = None
    open: bool = False
    error_ns: Ns | None = None

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
