"""The board's line: events read out of any pieces (WHATWG HTML, 9.2.6), and the formula of the clock."""

import pytest

from tests.support.export.board_stand import STANDBY, board

pytestmark = pytest.mark.devices

PARSED = """([pieces]) => {
  const heard = [];
  const parser = new EventParser((kind, data) => heard.push([kind, data]));
  pieces.forEach((piece) => parser.feed(new Uint8Array(piece)));
  return heard;
}"""
# Each case as the standard describes it; by its section 9.2.6, those of the web-platform-tests' format-* files.
STREAMS = {
    "one": (b"event: state\ndata: {}\n\n", [["state", "{}"]]),
    "no kind": (b"data: a\n\n", [["message", "a"]]),
    "two lines": (b"data: a\ndata: b\n\n", [["message", "a\nb"]]),
    "CR": (b"data: a\rdata: b\r\r", [["message", "a\nb"]]),
    "CRLF": (b"data: a\r\ndata: b\r\n\r\n", [["message", "a\nb"]]),
    "mixed ends": (b"data: a\rdata: b\r\ndata: c\n\ndata: d\n\r", [["message", "a\nb\nc"], ["message", "d"]]),
    "BOM": (b"\xef\xbb\xbfdata: a\n\n", [["message", "a"]]),
    "one BOM only": (b"\xef\xbb\xbf\xef\xbb\xbfdata: a\n\ndata: b\n\n", [["message", "b"]]),
    "comments": (b":\n\n: hello\ndata: a\n:\n\n", [["message", "a"]]),
    "one blank is taken": (b"data:  a\ndata:b\n\n", [["message", " a\nb"]]),
    "no colon": (b"data\n\n", [["message", ""]]),
    "no data, no event": (b"event: x\n\ndata: a\n\n", [["message", "a"]]),
    "other fields": (b"id: 7\nretry: 9\nfoo: bar\ndata: a\n\n", [["message", "a"]]),
    "no end, no event": (b"data: a\n", []),
    "letters of many bytes": ("data: – ● ü\n\n".encode(), [["message", "– ● ü"]]),
}


@pytest.fixture(scope="module")
def page(browser, stand):
    stand.show(STANDBY, anew=True)
    with board(browser, stand) as found:
        found.knows()
        yield found


@pytest.mark.parametrize("name", STREAMS)
def test_events_are_the_same_wherever_the_stream_is_cut(page, name):
    stream, expected = STREAMS[name]
    whole = [[list(stream)], [[byte] for byte in stream]]
    cut = [[list(stream[:at]), list(stream[at:])] for at in range(1, len(stream))]
    for pieces in (*whole, *cut):
        assert page.ask(PARSED, [pieces]) == expected, pieces


def test_the_clocks_formula_is_ntps(page):
    """By hand, RFC 5905, section 8: asked at 10, received at 100 + 20, answered at 100 + 25, back at 40: there it was
    10 and back 15 under way if the other clock is ahead by 100; the formula halves it evenly: 97.5, delay 25."""
    assert page.ask("sampleOf(10, 120, 125, 40)") == {"aheadNs": 98, "delayNs": 25}
    assert page.ask("sampleOf(10, 120, 125, 39)") == {"aheadNs": 98, "delayNs": 24}
    found = page.ask("bestOf([{aheadNs: 1, delayNs: 9}, {aheadNs: 2, delayNs: 3}, {aheadNs: 3, delayNs: 3}])")
    assert found["aheadNs"] == 2
