"""Say what stands at the laptop about boards: the code that a phone scans, what to do, who was given what. Pure.

A code holds the secret by which a board may watch, mark or steer. So it is for who stands at the laptop: nothing of it
is ever sent to a board (``Status.for_boards``).
"""

from collections.abc import Iterator
from typing import Literal

import msgspec

from tocsin.model.clock.origins import Phase
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

GivenRight = Literal["mark", "steer"]
GIVEN_RIGHTS: tuple[GivenRight, ...] = ("mark", "steer")
MOST_GIVEN = 4
QUIET: tuple[Phase, ...] = ("standby", "scrapped")     # here the code stands by itself
_GIVES: dict[GivenRight, str] = {
    "mark": tr("Scan within {left} s: this phone may mark"),
    "steer": tr("Scan within {left} s: this phone may mark, and lead rounds: start, hold, cancel"),
}
_HAS: dict[GivenRight, str] = {"mark": tr("board {number} marks"), "steer": tr("board {number} leads and marks")}
_AWAY: dict[GivenRight, str] = {
    "mark": tr("board {number} marks (away)"), "steer": tr("board {number} leads and marks (away)"),
}
_WHY_NONE = (
    tr("No phone has come yet. Likely reasons:"),
    tr("1. A Wi-Fi for guests keeps phones apart: use a hotspot of your own"),
    tr("2. The firewall of this laptop lets no phone in: allow Python there"),
    tr("3. The phone is in another network, or on mobile data"),
)


class GivenBoard(msgspec.Struct, frozen=True, kw_only=True):
    """A board that was given a right at the laptop; ``here`` while it is connected."""

    number: int
    right: GivenRight
    here: bool = True


class BoardsFact(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of the service and its boards.

    ``code`` are the modules of the code, a text of ``1`` (dark) and ``0`` for each row, without its margin; empty where
    no phone could come by it. ``address`` is where the service listens. ``gives`` is the right that the code gives
    until ``until_ns``, empty for the standing one, by which a board watches. ``watching`` counts the boards that are
    connected and have no other right, ``programs`` who else listens: programs, and laptops that follow. ``missing``
    once a phone should have come and none has. ``trouble`` is why the service listens nowhere (``address`` is empty
    then), or not where it should.
    """

    address: str
    code: tuple[str, ...] = ()
    gives: GivenRight | Literal[""] = ""
    until_ns: int | None = None
    given: tuple[GivenBoard, ...] = ()
    watching: int = 0
    programs: int = 0
    missing: bool = False
    trouble: str = ""


class BoardsSign(msgspec.Struct, frozen=True, kw_only=True):
    """The same in words, for who stands at the laptop.

    ``what`` says what to do with the code, ``urgent`` if it is gone soon; ``hint`` which key does what about rights,
    ``who`` which boards there are, ``why`` why no phone may have come.
    """

    what: str
    address: str
    code: tuple[str, ...] = ()
    urgent: bool = False
    hint: str = ""
    who: tuple[str, ...] = ()
    why: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """Return all of its words, a sentence each."""
        who = " · ".join(self.who)
        return tuple(line for line in (self.what, self.address, who, self.hint, *self.why) if line)


def sign_of(fact: BoardsFact | None, phase: Phase, key: str, now_ns: int) -> tuple[BoardsSign | None, int | None]:
    """Return what stands there at the shared time ``now_ns``, and when that changes by itself; ``key`` gives rights.

    In a match nothing stands there, after it a code that somebody asked for.
    """
    if fact is None or phase not in (*QUIET, "over"):
        return None, None
    if fact.gives and fact.until_ns is not None:
        left_ns = max(0, fact.until_ns - now_ns)
        what = _GIVES[fact.gives].format(left=-(-left_ns // NS_PER_S))
        stale_ns = now_ns + (left_ns % NS_PER_S or NS_PER_S) if left_ns else None
        hint = tr("Press {key} again: it may also lead rounds", key=key)
        if fact.gives == "steer":
            hint = tr("Press {key} again: take this code away", key=key)
        sign = BoardsSign(
            what=what, address=fact.address, code=fact.code, urgent=True, hint=hint if key else "",
            who=tuple(_who(fact)),
        )
        return sign, stale_ns
    if phase == "over":
        return None, None
    if not fact.address:
        return BoardsSign(what=fact.trouble, address=""), None
    scans = bool(fact.code)
    sign = BoardsSign(
        what=(
            tr("Scan this with a phone in the same Wi-Fi: it shows this clock")
            if scans
            else tr("The board is on this laptop only")
        ),
        address=fact.address,
        code=fact.code,
        hint=tr("Press {key}: let a phone mark or lead rounds", key=key) if key and scans else "",
        who=tuple(_who(fact)),
        why=(*((fact.trouble,) if fact.trouble else ()), *(_WHY_NONE if fact.missing else ())),
    )
    return sign, None


def _who(fact: BoardsFact) -> Iterator[str]:
    """Yield who may what, those that are here first; more than a few are not read."""
    given = sorted(fact.given, key=lambda board: not board.here)
    for board in given[:MOST_GIVEN]:
        yield (_HAS if board.here else _AWAY)[board.right].format(number=board.number)
    if more := len(given[MOST_GIVEN:]):
        yield trn("{count} more with a right", "{count} more with rights", more)
    if fact.watching:
        yield trn("{count} board watches", "{count} boards watch", fact.watching)
    if fact.programs:
        yield trn("{count} program or second laptop listens", "{count} programs or laptops listen", fact.programs)
