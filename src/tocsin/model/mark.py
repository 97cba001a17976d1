"""What a person notes in a run: a point of time, or a span from key down to key up."""

from collections.abc import Sequence
from typing import Protocol, TypeVar

import msgspec

LABELS = ("contact", "turned", "home", "home_half", "home_none", "moved")     # those that results count


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """One mark on the shared clock: a point, or with ``end_ns`` a span ``[begin_ns, end_ns)``.

    ``label`` says what (contact, turned, home, home_half, home_none, moved, or a team's own), ``by`` whose it was: us
    (also when empty), partner, opponent. ``takes_back`` is the place, from 0, among a run's marks of the one that this
    mark takes back. ``open`` is a span whose end nobody noted: its key went down and never came up (``end_ns`` is then
    None). ``error_ns`` is how far its times may be off, where that is known (a video) and not the scribe's usual error.
    """

    label: str
    begin_ns: int
    end_ns: int | None = None
    by: str = ""
    takes_back: int | None = None
    open: bool = False
    error_ns: int | None = None

    @property
    def is_ours(self) -> bool:
        """Whether it was our own robot."""
        return self.by in ("", "us")


OTHERS = ("partner", "opponent")       # whose it may be, beside ours


def whose(name: str) -> tuple[str, str]:
    """Return the label and whose it was from what a rig calls a key of marks.

    >>> whose("contact"), whose("contact_by_partner")
    (('contact', ''), ('contact', 'partner'))
    """
    for other in OTHERS:
        if name.endswith(f"_by_{other}"):
            return name.removesuffix(f"_by_{other}"), other
    return name, ""


class Noted(Protocol):
    """A mark as the model or as a journal keeps it."""

    @property
    def takes_back(self) -> int | None: ...


N = TypeVar("N", bound=Noted)


def standing_places(marks: Sequence[Noted]) -> tuple[int, ...]:
    """Return the places of the marks that hold: neither those that were taken back, nor those that only took back."""
    gone = {mark.takes_back for mark in marks if mark.takes_back is not None}
    return tuple(place for place, mark in enumerate(marks) if place not in gone and mark.takes_back is None)


def standing(marks: Sequence[N]) -> tuple[N, ...]:
    """Return the marks that hold."""
    return tuple(marks[place] for place in standing_places(marks))
