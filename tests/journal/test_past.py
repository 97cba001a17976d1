"""Going on with a run: what it had come to is read from its records."""

import pytest
from msgspec.structs import replace

from tocsin.errors import JournalError
from tocsin.journal.past import newest_past, past_of
from tocsin.journal.reader import read
from tocsin.journal.records import Device, End, FileRecord, FiringRecord, Header, OriginRecord, State, Worker
from tocsin.journal.short_name import short_name
from tocsin.journal.writer import JournalWriter

PLAN = FileRecord.of("plan", 'format = "tocsin-plan/1"\n')
LIGHT = Worker(channel="light", pid=100, started_s=1.25)
AGAIN = Worker(channel="light", pid=101, started_s=9.5)
HEADER = Header(
    at_ns=0, wall="2026-03-14T15:09:26.535Z", boot="b", label="Practice 3", options={"rate": 1.0}, files=(PLAN,),
    workers=(LIGHT,),
)  # fmt: skip


def origin(at_ns, origin_ns, anchor="match", instance=0, cause="start", error_ms=None):
    return OriginRecord(
        at_ns=at_ns, anchor=anchor, origin_ns=origin_ns, instance=instance, cause=cause, error_ms=error_ms
    )


def state(at_ns, *states, event="", variant=None, held_ns=None):
    return State(at_ns=at_ns, states=states, event=event, variant=variant, held_ns=held_ns)


def firing(cue, n=0, outcome="played", channel="light", role=None, instance=0):
    return FiringRecord(
        at_ns=50, cue=cue, n=n, channel=channel, role=role, anchor="match", due_ns=1, outcome=outcome, instance=instance
    )


def a_run(runs, *records, header=HEADER):
    writer = JournalWriter.create(runs, header)
    for record in records:
        writer.append(record)
    writer.close()
    return writer.folder


def past(runs, *records):
    return past_of(read(a_run(runs, *records)))


def test_a_run_that_only_stood_by_has_nothing_yet(tmp_path):
    found = past(tmp_path)
    assert (found.origins, found.states, found.fired, found.variant) == ((), (), frozenset(), "")
    assert found.header == HEADER
    assert found.folder.parent == tmp_path


def test_the_last_origin_of_each_anchor_and_instance_counts(tmp_path):
    found = past(
        tmp_path,
        origin(1, 1000, error_ms=60),
        origin(2, 5000, anchor="call.home", cause="call"),
        origin(3, 6000, anchor="call.home", instance=1, cause="call"),
        origin(4, 1200, cause="nudge", error_ms=30),
    )
    assert {(o.anchor, o.instance): (o.origin_ns, o.sent_ns) for o in found.origins} == {
        ("match", 0): (1200, 4),
        ("call.home", 0): (5000, 2),
        ("call.home", 1): (6000, 3),
    }
    assert found.error_ms == 30
    assert found.instances == {"match": 1, "call.home": 2}


def test_a_withdrawn_origin_is_left_out_and_its_instance_stays_used(tmp_path):
    found = past(tmp_path, origin(1, 1000), origin(2, 9, anchor="mark.swap"), origin(3, None, anchor="mark.swap"))
    assert [o.anchor for o in found.origins] == ["match"]
    assert found.instances["mark.swap"] == 1


def test_a_withdrawn_origin_may_come_back(tmp_path):
    found = past(tmp_path, origin(1, 1000), origin(2, None), origin(3, 3000, cause="resume"))
    assert [o.origin_ns for o in found.origins] == [3000]


def test_the_last_chosen_variant_counts(tmp_path):
    chosen = [state(1, "standby", variant="north_first"), state(2, "running", variant="south_first"), state(3, "held")]
    found = past(tmp_path, *chosen)
    assert found.variant == "south_first"
    assert found.states == ("held",)


@pytest.mark.parametrize(
    ("states", "held_ns"),
    [
        ([state(1, "running")], None),
        ([state(1, "running"), state(7, "held", held_ns=6)], 6),
        ([state(1, "running"), state(7, "held"), state(9, "held", event="start")], 7),
        ([state(7, "held", held_ns=6), state(8, "running")], None),
        ([state(7, "held", held_ns=6), state(8, "running"), state(9, "held", held_ns=9)], 9),
    ],
)
def test_a_held_clock_knows_when_it_stopped(tmp_path, states, held_ns):
    assert past(tmp_path, *states).held_ns == held_ns


def test_recorded_firings_are_known_whatever_became_of_them(tmp_path):
    found = past(
        tmp_path, firing("home"), firing("home", n=1, outcome="skipped"),
        firing("home", channel="rumble", role="driver"), firing("swap", instance=2, outcome="failed"),
    )  # fmt: skip
    assert found.fired == {
        ("home", 0, "light", None, 0), ("home", 1, "light", None, 0), ("home", 0, "rumble", "driver", 0),
        ("swap", 0, "light", None, 2),
    }  # fmt: skip


def test_all_workers_of_the_run_are_known(tmp_path):
    found = past(tmp_path, Device(at_ns=5, channel="light", state="ready", worker=AGAIN))
    assert found.workers == (LIGHT, AGAIN)


def test_the_newest_run_may_go_on(tmp_path):
    a_run(tmp_path, origin(3, 1000))
    found = newest_past(tmp_path, "b", pytest.fail)
    assert found.header.files[0].text == PLAN.text
    assert found.last_ns == 3


@pytest.mark.parametrize(
    ("header", "records", "boot", "says"),
    [
        (HEADER, [End(at_ns=1, outcome="over", exit=0)], "b", "there is no run to go on with"),
        (HEADER, [], "another", "{name}: the laptop was restarted"),
        (replace(HEADER, files=(replace(PLAN, text="x"),)), [], "b", "{name}: the journal was changed by hand: plan"),
    ],
)
def test_what_cannot_go_on_is_refused_with_a_reason(tmp_path, header, records, boot, says):
    folder = a_run(tmp_path, *records, header=header)
    with pytest.raises(JournalError, match=says.format(name=short_name(folder))) as caught:
        newest_past(tmp_path, boot, pytest.fail)
    assert caught.value.exit_code == 22
    assert caught.value.hint
