"""Whose eyes see what: what people wrote goes to those only who steer, and a person's name to nobody."""

import json
from typing import get_args

import msgspec
import pytest

from tests.support.service.event_stream import events_of
from tests.support.service.peers import Reader
from tests.support.service.service_stand import ONE, TOKENS, service
from tests.support.service.simulated_run import SimulatedRun
from tocsin.journal import records
from tocsin.journal.fields import FIELDS
from tocsin.service import eyes
from tocsin.service.description import OPERATIONS

LABEL = "Zebulonia Qualifier"
NAME = "Quirinus Abendroth"
PATH = "/home/xaverl/runs/2031"
#: Everything that a record of each kind can say in words of people, with names in all of it.
SPOKEN = (
    records.Device(at_ns=1, channel="rumble", state="ready", name=NAME, why=NAME,
                   worker=records.Worker(channel="rumble", pid=4321, started_s=1.5)),
    records.Fault(at_ns=2, channel="", what="disk", why=f"{PATH} is full"),
    records.Note(at_ns=3, what="dropped", text=f"{NAME} was tired"),
    records.MarkRecord(label="contact", begin_ns=4, at_ns=5, source="board 1"),
    records.End(
        at_ns=6, outcome="over", exit=0, why=NAME,
        summary=records.Summary(outcome="over", exit=0, journal=PATH, disturbed=False, channels={}),
    ),
)  # fmt: skip


@pytest.mark.devices
def test_no_byte_for_those_who_watch_or_mark_has_a_label_a_name_or_a_path(tmp_path):
    facts = {"people": {"driver": "0a1b2c3d"}, "drill": {"name": NAME}, "runs": PATH}
    with service() as stand, SimulatedRun(stand, tmp_path, label=LABEL, extra=facts) as run:
        stand.wait_until(lambda: stand.get("/api/1/state").status_code == 200)
        readers = {
            right: Reader(stand, Authorization=f"Bearer {getattr(TOKENS, right)}")
            for right in ("watch", "mark", "steer")
        }
        for reader in readers.values():
            reader.wait_until(lambda stream: b"event: state" in stream)
        run.do("start")
        stand.records(1, *SPOKEN)
        for reader in readers.values():
            reader.wait_until(lambda stream: b'"kind":"end"' in stream and b'"phase":"waiting"' in stream)
        gets = [one.path for one in OPERATIONS if one.method == "get" and one.gives != "text/event-stream"]
        answers = {
            right: b"".join(stand.get(path, right, ONE).content for path in gets) for right in readers
        }
        for right, reader in readers.items():
            everything = answers[right] + reader.data
            for word in (LABEL, NAME, PATH, "0a1b2c3d", "4321"):
                assert (word.encode() in everything) == (right == "steer"), (right, word)
            kinds = {json.loads(one.data).get("kind") for one in events_of(reader.stream)}
            assert {"device", "fault", "note", "mark", "end", "origin", "state"} <= kinds
            assert "header" not in kinds
            reader.close()


def test_each_key_that_all_may_read_is_one_without_words_of_people():
    """`journal/fields.py` says what people write: a new key of a record is not sent to all unless it is known here."""
    by_kind = {kind.__struct_config__.tag: kind for kind in get_args(records.Record)}
    for kind, keys in eyes._FOR_ALL.items():
        fields = FIELDS[by_kind[kind]]
        assert {key: fields[key] for key in keys} == dict.fromkeys(keys, "structure"), kind
    assert set(eyes._FOR_ALL) == records.KINDS - {"header"}


def test_a_kind_of_a_later_version_shows_its_name_only():
    record = msgspec.json.encode({"kind": "later", "at_ns": 5, "text": NAME})
    assert json.loads(eyes.record_for_all(record)) == {"kind": "later", "at_ns": 5}
