"""Judge by what a strip's controller sends back whether it still hears. Pure.

What boards promise (the protocols as published; what is said of "many" is common practice, no source):

* Adalight: ``Ada`` and a line feed when the board starts; many say it again in each second without bytes. Frames are
  never answered, so one that has stopped hearing looks like one that hears.
* TPM2: ``AC`` for each data frame that was taken; many boards leave it out. Whoever has answered once, always does.

So only a board that has answered a frame is ever called deaf.
"""

from typing import Literal

from tocsin.units import NS_PER_MS, NS_PER_S

GREETING = b"Ada\n"
TAKEN = 0xAC                           # TPM2: a data frame was taken
# Longer than a board takes to start anew; so many frames in a row a loose contact does not swallow.
DEAF_NS, DEAF_FRAMES = 3 * NS_PER_S, 3
# A frame on the wire, on the strip, and its answer through a USB adapter that collects bytes: 60 ms for 144 LEDs.
ANSWER_NS = 250 * NS_PER_MS

Hearing = Literal["hears", "greets", "silent", "deaf"]


class Replies:
    """What has come from one open port. ``greets`` says that a greeting is expected: of a board that starts as its port
    is opened. ``acknowledges`` says that the protocol knows an answer to a frame.

    ``answering`` is true once a frame has been answered.
    """

    def __init__(self, *, greets: bool, acknowledges: bool) -> None:
        self.greeted = False
        self.answering = False
        self._expects_greeting = greets
        self._acknowledges = acknowledges
        self._tail = b""                               # the begin of a greeting, at most
        self._unheard = 0                              # frames since the last answer
        self._first_ns = self._last_ns = 0             # the first and the last of these
        self._owed = 0                                 # answers that are missing, of one burst of frames

    def wrote(self, now_ns: int) -> None:
        """Take that a frame was written."""
        if not self._unheard:
            self._first_ns = now_ns
        self._last_ns = now_ns
        self._unheard += 1
        self._owed += 1

    def heard(self, data: bytes) -> None:
        """Take bytes from the board, in whatever pieces they come."""
        text = self._tail + data
        self._tail = text[1 - len(GREETING) :]
        self.greeted = self.greeted or GREETING in text
        taken = data.count(TAKEN) if self._acknowledges else 0
        if taken and (self._unheard or self.answering):
            self.answering = True
            self._unheard = 0
            self._owed = max(0, self._owed - taken)

    def lost_one(self, now_ns: int) -> bool:
        """Return whether a frame was not answered in time by a board that answers: true once for each burst of frames.
        Call it right after ``heard``."""
        if not self._owed or now_ns - self._last_ns < ANSWER_NS:
            return False
        self._owed = 0
        return self.answering

    def verdict(self, now_ns: int) -> Hearing:
        """Return what is known of the board.

        "hears": nothing speaks against it. "silent": it has neither greeted nor answered, so it may be no board at all.
        "greets": it is a board, and has not answered any frame of a protocol that knows answers. "deaf": it answered,
        and does no longer.
        """
        ignored = self._unheard >= DEAF_FRAMES and now_ns - self._first_ns >= DEAF_NS
        if self.answering:
            return "deaf" if ignored else "hears"
        if self.greeted:
            return "greets" if ignored and self._acknowledges else "hears"
        return "silent" if self._expects_greeting else "hears"
