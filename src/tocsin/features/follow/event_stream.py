"""Read a text stream of events (WHATWG HTML, 9.2.6), however its bytes are cut. Pure."""

import codecs
from typing import NamedTuple

MOST_CHARACTERS = 4 << 20              # of one event; a state has some 3,000


class TooLongError(ValueError):
    """An event is longer than any: whoever sends that is no service of ours."""


class StreamEvent(NamedTuple):
    """One event: its kind, the id of the newest event that had one, its data."""

    kind: str
    event_id: str
    data: str


class EventReader:
    """Puts events together from the pieces in which they come."""

    def __init__(self) -> None:
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._begun = False
        self._rest = ""
        self._kind = ""
        self._data: list[str] = []
        self._size = 0
        self._id = ""

    def feed(self, piece: bytes) -> list[StreamEvent]:
        """Take the next bytes; return the events that they complete. Raises TooLongError."""
        text = self._rest + self._decoder.decode(piece)
        if not self._begun and text:
            self._begun = True
            text = text.removeprefix("\ufeff")
        found: list[StreamEvent] = []
        # A carriage return at the end may be the half of a line's end.
        while (cut := _line_end(text)) is not None:
            line, text = text[: cut[0]], text[cut[1] :]
            if (event := self._take(line)) is not None:
                found.append(event)
        self._rest = text
        if len(text) > MOST_CHARACTERS:
            raise TooLongError
        return found

    def _take(self, line: str) -> StreamEvent | None:
        if not line:
            return self._dispatched()
        name, _, value = line.partition(":")
        value = value.removeprefix(" ")
        match name:
            case "event":
                self._kind = value
            case "data":
                self._data.append(value)
                self._size += len(value)
                if self._size > MOST_CHARACTERS:
                    raise TooLongError
            case "id" if "\0" not in value:
                self._id = value
        return None                                    # a comment (an empty name), ``retry``, and what nobody knows

    def _dispatched(self) -> StreamEvent | None:
        kind, data = self._kind or "message", self._data
        self._kind, self._data, self._size = "", [], 0
        return StreamEvent(kind, self._id, "\n".join(data)) if data else None


def _line_end(text: str) -> tuple[int, int] | None:
    """Return where the first line ends and the next begins; None without a whole line."""
    ends = [place for place in (text.find("\n"), text.find("\r")) if place >= 0]
    if not ends:
        return None
    end = min(ends)
    if text[end] == "\r":
        if end + 1 == len(text):
            return None
        return end, end + 2 if text[end + 1] == "\n" else end + 1
    return end, end + 1
