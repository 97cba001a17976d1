"""A text stream of events, however it is cut. The cases are after the standard's text (WHATWG HTML, 9.2.6; read)."""

import pytest

from tocsin.features.follow.event_stream import MOST_CHARACTERS, EventReader, StreamEvent, TooLongError

STREAM = (
    b"\xef\xbb\xbf: a comment\n\nevent: record\nid: 7.ab\ndata: {\"a\":1}\n\nretry: 1000\ndata:no space\ndata: two\n\n"
    b"id\ndata\n\nevent: state\ndata: \xc2\xb1 3 ms\n\ndata: never ended"
)
EVENTS = [
    StreamEvent("record", "7.ab", '{"a":1}'),
    StreamEvent("message", "7.ab", "no space\ntwo"),
    StreamEvent("message", "", ""),
    StreamEvent("state", "", "± 3 ms"),
]


def read(*pieces):
    reader = EventReader()
    return [event for piece in pieces for event in reader.feed(piece)]


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_it_is_read_the_same_cut_at_each_byte(end):
    stream = STREAM.replace(b"\n", end)
    assert read(stream) == EVENTS
    for cut in range(len(stream)):
        assert read(stream[:cut], stream[cut:]) == EVENTS
    assert read(*(stream[n : n + 1] for n in range(len(stream)))) == EVENTS


@pytest.mark.parametrize("endless", [b"x" * (1 << 16), b"data: " + b"x" * 1000 + b"\n"])
def test_what_never_ends_is_given_up(endless):
    pieces = [endless] * (2 + MOST_CHARACTERS // min(len(endless), 1000))
    with pytest.raises(TooLongError):
        read(*pieces)
