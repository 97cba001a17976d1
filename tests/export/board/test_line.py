"""The board's line: events read out of any pieces (WHATWG HTML, 9.2.6), and the formula of the clock."""

import pytest

from tests.support.export.board_stand import STANDBY, board
from tocsin.model.clock.exchange import DRIFT_PPM

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
    assert page.ask("sampleOf(10, 120, 125, 40)") == {"askedNs": 10, "aheadNs": 98, "delayNs": 25}
    assert page.ask("sampleOf(10, 120, 125, 39)") == {"askedNs": 10, "aheadNs": 98, "delayNs": 24}
    found = page.ask("bestOf([{aheadNs: 1, delayNs: 9}, {aheadNs: 2, delayNs: 3}, {aheadNs: 3, delayNs: 3}])")
    assert found["aheadNs"] == 2


# A clock beside the page's own: it is told samples by hand, of a laptop that lies so far ahead, in nanoseconds.
CLOCK = """([told]) => {
  const before = CLOCK.aheadNs;
  const clock = new KeeperClock(() => new Promise(() => {}), () => {});
  const ownNs = performance.now() * NS_PER_MS;
  clock._fresh = [];
  clock._running = true;
  const seen = told.map(([agoNs, aheadNs, delayNs]) => {
    clock._take({ askedNs: ownNs - agoNs, aheadNs, delayNs });
    return [clock.known, clock.known ? CLOCK.aheadNs : 0, clock.errorNs];
  });
  CLOCK.aheadNs = before;
  return seen;
}"""
MS, S = 10**6, 10**9


def test_the_bound_of_the_clock_grows_while_nothing_is_heard(page):
    """Two crystals of 50 parts in a million drift apart by 60 ms in ten minutes (common practice, no source)."""
    told = [[600 * S + n, 5 * S, 2 * MS] for n in range(4)]
    known, ahead_ns, error_ns = page.ask(CLOCK, [told])[-1]
    assert (known, ahead_ns) == (True, 5 * S)
    assert MS + 600 * DRIFT_PPM * 1000 <= error_ns < 1.5 * MS + 601 * DRIFT_PPM * 1000


def test_a_laptop_that_slept_is_not_believed_by_what_it_said_before(page):
    """Its clock stood still: the exchange with the least delay lies before that, and would hold for 40 seconds."""
    before = [[30 * S, 5 * S, 1 * MS]] * 5
    after = [[n * MS, 2 * S, 9 * MS] for n in (5, 4, 3, 2, 1)]
    seen = page.ask(CLOCK, [[*before, *after]])
    assert [known for known, *_ in seen] == [*(n >= 3 for n in range(5)), *(n >= 3 for n in range(5))]
    assert seen[4][1] == 5 * S
    assert seen[-1][1] == 2 * S


def test_an_exchange_with_a_long_delay_says_nothing_against_those_before(page):
    told = [[30 * S, 5 * S, 1 * MS]] * 4 + [[S, 5 * S + 400 * MS, 900 * MS]]
    known, ahead_ns, _ = page.ask(CLOCK, [told])[-1]
    assert (known, ahead_ns) == (True, 5 * S)


def test_a_clock_that_is_told_in_steps_of_a_millisecond_is_no_laptop_that_slept(page):
    """Some browsers tell no less (common practice, from memory); a fast exchange then takes none or one."""
    told = [[10 * S, 5 * S, 0]] * 4 + [[5 * S, 5 * S + MS, 0], [S, 5 * S - MS, MS]]
    assert [known for known, *_ in page.ask(CLOCK, [told])] == [False] * 3 + [True] * 3
    steps = "([step, each]) => { let n = 0; return stepOf(() => Math.floor(n++ * each / step) * step); }"
    assert page.ask(steps, [1, 0.3]) == 1
    assert round(page.ask(steps, [0.1, 0.001]), 6) == 0.1
    assert page.ask("stepOf(() => 7)") == 0.1
    assert page.ask("TICK_NS") >= 0.2 * MS
