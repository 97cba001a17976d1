"""The stream of events: read by others, cut anywhere, gone on with, and never held up by one who reads nothing."""

import json

import httpx
import httpx_sse
import msgspec
import psutil
import pytest

from tests.support.runner.stage_stand import plain_stage
from tests.support.service.event_stream import Event, events_of
from tests.support.service.peers import Reader, connected, request
from tests.support.service.service_stand import ONE, TOKENS, TWO, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin.journal import records
from tocsin.model.display.status import Status
from tocsin.service.boards import Boards
from tocsin.service.events import MOST_AT_ONCE, MOST_KEPT, MOST_WAITING, Kept, Listener, event
from tocsin.service.messages import Grant, Granted, Offer, Play, Revoke, Show

AUTHORIZATION = f"Bearer {TOKENS.watch}"


def note(no, text=""):
    return records.Note(at_ns=1000 + no, what=f"note {no}", text=text)


def whats(stream):
    """Return which notes came, by their numbers."""
    found = [json.loads(one.data) for one in events_of(stream) if one.kind == "record"]
    return [int(one["what"].split()[1]) for one in found if one["kind"] == "note"]


def states(stream):
    return [json.loads(one.data) for one in events_of(stream) if one.kind == "state"]


# -- what is written, without a process -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stream", "events"),
    [
        # WHATWG HTML, 9.2.6, its three examples of interpretation
        (b"data: YHOO\ndata: +2\ndata: 10\n\n", [("message", "YHOO\n+2\n10", "")]),
        (b": test stream\n\ndata: first event\nid: 1\n\ndata:second event\nid\n\ndata:  third event\n\n",
         [("message", "first event", "1"), ("message", "second event", ""), ("message", " third event", "")]),
        (b"data:test\n\ndata: test\n\n", [("message", "test", ""), ("message", "test", "")]),
        # 9.2.5: line ends, one byte order mark, an event without its blank line
        (b"data: a\r\rdata: b\r\n\r\ndata: c\n\n", [("message", "a", ""), ("message", "b", ""), ("message", "c", "")]),
        (b"\xef\xbb\xbfdata: a\n\n", [("message", "a", "")]),
        (b"event: state\nid: 7\ndata: {}\n", []),
    ],
)  # fmt: skip
def test_the_second_reader_reads_the_standards_examples(stream, events):
    assert events_of(stream) == [Event(*one) for one in events]


def test_no_text_of_people_ends_an_event():
    """A line end in a text would begin a field of its own: JSON escapes those of the standard, and no others count."""
    nasty = "a\r\nid: 9\n\ndata: b\rc\N{LINE SEPARATOR}d\N{NEXT LINE}e\N{ZERO WIDTH NO-BREAK SPACE}\x00\x0b"
    data = msgspec.json.encode({"what": nasty})
    assert events_of(event("record", "1", data)) == [Event("record", data.decode(), "1")]
    assert json.loads(events_of(event("record", "1", data))[0].data)["what"] == nasty


@pytest.fixture(scope="module")
def captured(tmp_path_factory):
    """The bytes of a real stream: comments, a state, records, one with line ends in its words."""
    with service() as stand:
        played(stand, tmp_path_factory.mktemp("runs"))
        reader = Reader(stand, Authorization=f"Bearer {TOKENS.steer}")
        reader.wait_until(lambda stream: b"event: state" in stream)
        stand.records(1, *(note(no, "one\r\ntwo\N{LINE SEPARATOR}") for no in range(4)))
        reader.wait_until(lambda stream: len(whats(stream)) == 4 and stream.endswith(b"\n:\n"))
        reader.close()
        return reader.stream


def played(stand, tmp_path, run=1):
    """Let a run stand whose status never changes by itself."""
    _, stage = plain_stage(tmp_path)
    stand.down(Play(run=run, timeline=stage.match.timeline, document=msgspec.Raw(b"{}")))
    stand.down(Show(run=run, status=Status(phase="standby")))
    stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)


def by_others(*parts):
    response = httpx.Response(200, headers={"Content-Type": "text/event-stream"}, content=iter(parts))
    return [Event(one.event, one.data, one.id) for one in httpx_sse.EventSource(response).iter_sse()]


@pytest.mark.devices
def test_cut_at_each_byte_it_is_read_alike_by_two_readers(captured):
    """WHATWG HTML, 9.2.6: a stream is a sequence of characters, however the network cuts it."""
    whole = events_of(captured)
    assert [one.kind for one in whole] == ["state"] + ["record"] * 4
    for cut in range(len(captured)):
        assert by_others(captured[:cut], captured[cut:]) == whole, cut


@pytest.mark.devices
def test_lost_at_each_byte_and_gone_on_with_no_record_is_missing_or_comes_twice(captured):
    whole = [one for one in events_of(captured) if one.kind == "record"]
    kept = Kept()
    for one in whole:
        data = event("record", one.id, one.data.encode())
        kept.add(one.id, data, data)
    for cut in range(len(captured)):
        before = events_of(captured[:cut])
        missed = kept.since(before[-1].id, steers=False) if before else kept.since("0", steers=False)
        came = [one for one in before if one.kind == "record"] + events_of(b"".join(missed))
        assert came == whole, cut


def test_what_is_too_old_is_not_sent_again_but_the_state_is():
    kept = Kept()
    for no in range(MOST_KEPT):
        kept.add(str(no), b"all", b"steer")
    assert len(kept.since("0", steers=False)) == MOST_KEPT - 1, "an id of its own"
    kept.add("next", b"all", b"steer")
    assert kept.since("0", steers=False) == []
    assert kept.since("1", steers=True) == [b"steer"] * (MOST_KEPT - 1)
    assert kept.since("unknown", steers=True) == []
    assert kept.last_id == "next"


@pytest.mark.parametrize(("blocked", "most"), [(True, MOST_WAITING), (False, MOST_AT_ONCE)])
def test_who_is_too_far_behind_is_let_go_and_of_states_only_the_newest_waits(blocked, most):
    listener = Listener(Boards(TOKENS).caller(TOKENS.watch, ""), lambda: blocked)
    for _ in range(3 * MOST_AT_ONCE):
        listener.put(b"state", is_state=True)
    for _ in range(most - 1):
        listener.put(b"record")
    assert not listener.over
    listener.put(b"one more")
    assert listener.over


# -- the process ------------------------------------------------------------------------------------------------------


@pytest.mark.devices
def test_who_was_away_gets_what_was_missed_also_from_a_successor_of_the_service(tmp_path):
    with service() as stand:
        played(stand, tmp_path)
        stand.records(1, *(note(no) for no in range(5)))
        stand.wait_for_records(5)
        first = Reader(stand, Authorization=AUTHORIZATION)
        first.wait_until(lambda stream: states(stream))
        stand.records(1, note(5))
        first.wait_until(lambda stream: whats(stream) == [5])
        last_id = events_of(first.stream)[-1].id
        first.close()
        stand.records(1, note(6), note(7))
        stand.wait_for_records(8)
        second = Reader(stand, **{"Authorization": AUTHORIZATION, "Last-Event-ID": last_id})
        second.wait_until(lambda stream: states(stream))
        assert whats(second.stream) == [6, 7]
        assert [one.kind for one in events_of(second.stream)] == ["record", "record", "state"]
        second.close()
        unknown = Reader(stand, **{"Authorization": AUTHORIZATION, "Last-Event-ID": "1.0123456789abcdef"})
        unknown.wait_until(lambda stream: states(stream))
        assert whats(unknown.stream) == []
        unknown.close()
    with service() as stand:                   # told the same again
        played(stand, tmp_path)
        stand.records(1, *(note(no) for no in range(9)))
        stand.wait_for_records(9)
        third = Reader(stand, **{"Authorization": AUTHORIZATION, "Last-Event-ID": last_id})
        third.wait_until(lambda stream: states(stream))
        assert whats(third.stream) == [6, 7, 8]
        third.close()


@pytest.mark.devices
def test_a_line_without_news_has_a_comment_each_two_seconds(tmp_path):
    with service() as stand:
        played(stand, tmp_path)
        reader = Reader(stand, Authorization=AUTHORIZATION)
        reader.wait_until(lambda stream: stream.count(b"\n:\n") >= 2)
        assert len(states(reader.stream)) == 1, "nothing has changed"
        stand.down(Show(run=1, status=Status(phase="standby")))
        reader.wait_until(lambda stream: stream.count(b"\n:\n") >= 3)
        assert len(states(reader.stream)) == 1, "the same again is no news"
        reader.close()


@pytest.mark.devices
def test_words_that_change_by_themselves_are_sent_as_they_do(tmp_path):
    """Between two messages of the conductor the count of seconds goes on."""
    with service() as stand, SimulatedRun(stand, tmp_path) as run:
        reader = Reader(stand, Authorization=AUTHORIZATION)
        run.do("start")
        reader.wait_until(lambda stream: len({one["view"]["digits"] for one in states(stream)}) > 4)
        counted = [one["view"]["digits"] for one in states(reader.stream) if one["view"]["title"] == "Match begins in"]
        assert counted == sorted(counted, reverse=True), "5, 4, 3"
        reader.close()


@pytest.mark.devices
def test_a_right_is_told_to_open_streams_as_it_is_given_and_taken_back(tmp_path):
    def you(reader):
        return [(one["you"]["number"], one["you"]["right"], bool(one["can"])) for one in states(reader.stream)][-1:]

    with service() as stand:
        played(stand, tmp_path)
        stand.down(Show(run=1, status=Status(phase="standby"), can=(Offer(action="start", does="start"),)))
        token = stand.post("/api/1/rights", {"secret": "g" * 22}, board=ONE)
        assert token.status_code == 403, "no code is up"
        stand.down(Grant(secret="g" * 22, right="steer", until_ns=1 << 60))
        stand.wait_until(lambda: stand.post("/api/1/rights", {"secret": "g" * 22}, "watch", ONE).status_code == 200)
        board = stand.wait_for(Granted).board
        own = Reader(stand, **{"Authorization": f"Bearer {board.token}", "Tocsin-Board": ONE})
        other = Reader(stand, **{"Authorization": AUTHORIZATION, "Tocsin-Board": TWO})
        own.wait_until(lambda stream: you(own) == [(1, "steer", True)])
        other.wait_until(lambda stream: you(other) == [(2, "watch", False)])
        other.wait_until(lambda stream: states(stream)[-1]["boards"] == {"watching": 1, "marking": 0, "steering": 1})
        stand.down(Revoke())
        own.wait_until(lambda stream: you(own) == [(1, "watch", False)])
        assert not own.ended.is_set(), "the same line"
        other.wait_until(lambda stream: states(stream)[-1]["boards"]["watching"] == 2)
        body = {"id": "a" * 32, "run": 1, "action": "start", "at_ns": 0, "error_ns": 0}
        assert stand.post("/api/1/wishes", body, token=board.token).status_code == 403
        own.close()
        other.close()


@pytest.mark.devices
def test_twenty_who_read_nothing_take_nothing_from_one_who_reads(tmp_path):
    """A phone that fell asleep in the middle of a match."""
    with service() as stand:
        played(stand, tmp_path)
        good = Reader(stand, Authorization=AUTHORIZATION)
        good.wait_until(lambda stream: states(stream))
        process = psutil.Process(stand.process.pid)
        before = process.memory_info().rss
        stuck = []
        for _ in range(20):
            line = connected(stand, receive_buffer=4096)
            line.sendall(request("GET", "/api/1/events", f"Authorization: Bearer {TOKENS.steer}"))
            stuck.append(line)
        good.wait_until(lambda stream: states(stream)[-1]["programs"] == 21)
        most = before
        for no in range(1200):
            stand.records(1, note(no, "x" * 1000))
            if no % 40 == 39:
                good.wait_until(lambda stream, no=no: len(whats(stream)) > no)
                most = max(most, process.memory_info().rss)
        assert whats(good.stream) == list(range(1200)), "each, in order"
        good.wait_until(lambda stream: states(stream)[-1]["programs"] == 1)
        assert most - before < 8 << 20
        for line in stuck:
            line.close()
        good.close()


@pytest.mark.devices
def test_a_burst_of_records_closes_nobody(tmp_path):
    """What a conductor says at one go: what a run had before a service was started anew."""
    with service() as stand:
        played(stand, tmp_path)
        reader = Reader(stand, Authorization=AUTHORIZATION)
        reader.wait_until(lambda stream: states(stream))
        stand.records(1, *(note(no) for no in range(300)))
        reader.wait_until(lambda stream: len(whats(stream)) == 300)
        assert not reader.ended.is_set()
        reader.close()
