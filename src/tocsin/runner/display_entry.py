"""Take the official display's time from the keys: digits fill the places of ``m:ss``, and mean nothing else meanwhile.

A person types what the display will show next, and presses the start key as it changes to it. The way in is a key
pressed twice, so that no slip of a finger takes a scribe's keys away; after half a minute without a key it is left by
itself.
"""

from typing import Literal

from tocsin.model.clock.origins import Phase
from tocsin.model.display.status import KeyHelp
from tocsin.model.timeline.shown import most_shown_s
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_S

TWICE_NS = 2 * NS_PER_S                # the second press of the key that leads in
LEFT_NS = 30 * NS_PER_S                # without a key it is left
ENTRY_PHASES: tuple[Phase, ...] = ("waiting", "running")
_BLANK = "_"
Step = Literal["", "typed", "full", "left", "press"]


class DisplayEntry:
    """What has been typed of the display's time, in one run of a program at a time."""

    def __init__(self) -> None:
        self._run_no = 0
        self._until_ns = 0
        self._asked: tuple[int, int] = (0, 0)
        self._digits = ""
        self._minutes = 1              # places of the minutes

    def asked_twice(self, at_ns: int, run_no: int) -> bool:
        """Take the key that leads in; return whether this was its second press."""
        (asked_no, asked_ns), self._asked = self._asked, (run_no, at_ns)
        return asked_no == run_no and 0 <= at_ns - asked_ns < TWICE_NS

    def open(self, now_ns: int, run_no: int, timeline: Timeline) -> None:
        """Begin to take digits."""
        self._run_no, self._until_ns, self._digits = run_no, now_ns + LEFT_NS, ""
        self._minutes = len(str(most_shown_s(timeline) // 60))
        self._asked = (0, 0)

    def close(self) -> None:
        """Take no digits any more."""
        self._until_ns = 0

    def is_open(self, now_ns: int, run_no: int, phase: Phase) -> bool:
        """Return whether digits are taken now."""
        return now_ns < self._until_ns and run_no == self._run_no and phase in ENTRY_PHASES

    @property
    def text(self) -> str:
        """What stands in the places, with a line in those that are empty: ``1:2_``."""
        places = self._digits.ljust(self._minutes + 2, _BLANK)
        return f"{places[: self._minutes]}:{places[self._minutes :]}"

    @property
    def seconds(self) -> int | None:
        """The typed time, None while a place is empty."""
        if len(self._digits) < self._minutes + 2:
            return None
        return 60 * int(self._digits[: self._minutes]) + int(self._digits[self._minutes :])

    def clear(self) -> None:
        """Empty all places, to type anew."""
        self._digits = ""

    def take(self, key: str, action: str, now_ns: int) -> Step:
        """Take a key; return what it came to, empty if it is none of the entry's: then it means what it always does.

        ``typed`` a digit, or one taken away; ``full`` one that has no place; ``press`` the display has changed;
        ``left`` a person leaves.
        """
        step: Step = ""
        if len(key) == 1 and key.isdecimal():
            step = self._type(key)
        elif key in ("left", "backspace", "delete"):       # the arrow may be pressed beside a robot's program too
            self._digits, step = self._digits[:-1], "typed"
        elif key == "escape" or action == "undo":
            step = "left"
        elif action == "start":
            step = "press"
        elif action == "display":
            step = "typed"             # a third press changes nothing
        if step:
            self._until_ns = now_ns + LEFT_NS
        return step

    def _type(self, digit: str) -> Step:
        place = len(self._digits)
        if place == self._minutes + 2 or (place == self._minutes and digit > "5"):
            return "full"
        self._digits += digit
        return "typed"

    def keys(self, start: str, leave: str, cancel: str) -> tuple[KeyHelp, ...]:
        """Return what keys mean meanwhile, by the names of those that start, take back and cancel."""
        last = (("start", start, tr("set the clock")), ("", "left", tr("undo digit")), ("undo", leave, "leave"))
        found = [KeyHelp(key="0 to 9", does="type")]
        found += [KeyHelp(key=key, does=does, action=action) for action, key, does in last if key]
        return (*found, KeyHelp(key=cancel, does="cancel", action="scrap")) if cancel else tuple(found)
