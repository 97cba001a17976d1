"""Records are one line each, hold the keys that were agreed on, and are read by older versions too."""

import json

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tocsin.journal import records
from tocsin.journal.records import decode, encode
from tocsin.model.timeline.timeline import Firing, Point, Timeline

# The journal's kinds and keys as they were agreed on; they stay, since journals are kept.
AGREED_KEYS = {
    "header": "format wall boot versions options label files timeline workers",
    "origin": "anchor origin_ns rate cause error_ms",
    "state": "states event refused",
    "firing": "cue n channel role anchor due_ns match_ns late_ns took_ns outcome why",
    "mark": "label begin_ns end_ns role by source takes_back",
    "device": "channel state name why",
    "fault": "channel what why",
    "end": "outcome exit why summary",
}

TIMELINE = Timeline(
    game="casting_day", plan="full", digits="ceil", counts="period", segments=(), periods=(), windows=(),
    variants=(), default_variant="",
    firings=(
        Firing(
            no=0, cue="home", n=0, channel="rumble", role="driver", begin=Point("match", 114), until=None,
            sustained=False, pattern="triple", word="Home", late_limit_ns=1, priority=9, when="", match_ns=114,
            lasts_ns=1,
        ),
    ),
)  # fmt: skip

EXAMPLES = [
    records.Header(
        at_ns=1, wall="2026-03-14T15:09:26.535Z", boot="b", versions={"tocsin": "1"}, options={"rate": 1.0},
        label="Übung\n3", files=(records.FileRecord.of("plan", 'name = "Full"\n'),), timeline=TIMELINE,
        workers=(records.Worker(channel="light", pid=4711, started_s=1.5),),
    ),
    records.OriginRecord(at_ns=2, anchor="match", origin_ns=5_000, cause="start", error_ms=60),
    records.State(at_ns=3, states=("running", "driver"), event="boundary", refused=""),
    records.FiringRecord(
        at_ns=4, cue="home", n=0, channel="light", anchor="match", due_ns=9, late_ns=-3, outcome="played"
    ),
    records.MarkRecord(at_ns=5, label="contact", begin_ns=5, end_ns=7, role="scribe", by="", source="c"),
    records.Device(at_ns=6, channel="light", state="lost", name="ttyUSB0", why="unplugged"),
    records.Fault(at_ns=7, channel="", what="clock", why="asleep for 3 s"),
    records.End(
        at_ns=8, outcome="over", exit=0,
        summary=records.Summary(outcome="over", exit=0, journal="x", disturbed=False, channels={}),
    ),
]  # fmt: skip


@pytest.mark.parametrize("record", EXAMPLES, ids=lambda r: type(r).__name__)
def test_a_record_is_one_line_with_its_agreed_keys(record):
    line = encode(record)
    assert line.count(b"\n") == 1
    assert line.endswith(b"\n")
    found = json.loads(line)
    assert list(found)[:2] == ["kind", "at_ns"]
    assert set(AGREED_KEYS[found["kind"]].split()) <= set(found)
    assert decode(line[:-1]) == record


@pytest.mark.parametrize("record", EXAMPLES, ids=lambda r: type(r).__name__)
def test_keys_of_a_later_version_are_passed_over(record):
    line = json.dumps({"later": {"x": [1]}, **json.loads(encode(record))}).encode()
    assert decode(line) == record


def test_kinds_of_a_later_version_are_passed_over():
    assert decode(b'{"kind":"weather","at_ns":1,"wind":"fresh"}') is None


@pytest.mark.parametrize(
    "line",
    [b"", b"{}", b"[]", b"7", b'{"kind":3}', b'{"kind":"mark"}', b'{"kind":"mark","at_ns":1,"label":"c"', b"\xff"],
)
def test_what_is_no_record_is_refused(line):
    with pytest.raises(msgspec.DecodeError):
        decode(line)


def test_a_changed_file_text_is_noticed():
    file = records.FileRecord.of("plan", "name = 'a'")
    # Source: sha256sum of "name = 'a'" without a newline, GNU coreutils.
    assert file.sha256 == "35630599e91ef29278c9cee7a77efaa057cd9beceff42a4bf156ee7c925e72b2"
    assert file.intact()
    assert not msgspec.structs.replace(file, text="name = 'b'").intact()


@given(label=st.text(), begin_ns=st.integers(0, 2**62), by=st.text())
def test_any_text_survives(label, begin_ns, by):
    mark = records.MarkRecord(at_ns=begin_ns, label=label, begin_ns=begin_ns, by=by)
    line = encode(mark)
    assert line.count(b"\n") == 1
    assert decode(line) == mark
