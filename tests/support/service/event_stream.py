"""A second reader of event streams, written from the standard's text alone: WHATWG HTML, 9.2.5 and 9.2.6.

"The stream must then be parsed by reading everything line by line, with a U+000D CARRIAGE RETURN U+000A LINE FEED
character pair, a single U+000A not preceded by a U+000D, and a single U+000D not followed by a U+000A being the ways in
which a line can end." One leading byte order mark is stripped; an event that no blank line ends is discarded.
"""

import re
from typing import NamedTuple


class Event(NamedTuple):
    """One event: its type, its data, the last id so far."""

    kind: str
    data: str
    id: str


def events_of(stream):
    """Return the events of the bytes of a stream, as far as they are complete."""
    text = stream.decode("utf-8", "replace").removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}")
    events, kind, data, last_id = [], "", [], ""
    for line in re.split("\r\n|\n|\r", text)[:-1]:         # the last one has no end yet
        if not line:
            if data:
                events.append(Event(kind or "message", "\n".join(data), last_id))
            kind, data = "", []
            continue
        name, _, value = line.partition(":")
        value = value.removeprefix(" ")
        if name == "event":
            kind = value
        elif name == "data":
            data.append(value)
        elif name == "id" and "\0" not in value:
            last_id = value
    return events
