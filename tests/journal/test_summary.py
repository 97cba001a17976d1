"""What a run comes to: counts, lateness, exit code, and the lines that a drive team reads."""

import json

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tocsin.journal.records import RESTARTED, RESUMED, Device, Fault, FiringRecord
from tocsin.journal.summary import lateness_of, percentile, summarise, text_lines, trouble_lines, without

MS = 1_000_000


def firing(n=0, outcome="played", why="", late_ms=None, channel="light", role=None, instance=0):
    late_ns = None if late_ms is None else round(late_ms * MS)
    return FiringRecord(
        at_ns=1, cue="home", n=n, channel=channel, role=role, anchor="match", due_ns=1, outcome=outcome, why=why,
        late_ns=late_ns, instance=instance,
    )  # fmt: skip


def device(state, channel="light", role=None):
    return Device(at_ns=1, channel=channel, state=state, role=role)


def restarted(channel="light"):
    return Fault(at_ns=1, channel=channel, what=RESTARTED)


def resumed():
    return Fault(at_ns=1, channel="", what=RESUMED)


def summary(*run, outcome="over", exit_base=0, devices=None, disturbed=False, journal="/runs/one"):
    return summarise(
        run, outcome=outcome, exit_base=exit_base, journal=journal, disturbed=disturbed,
        devices=devices or {"light": "ready"}, priorities={"light": "realtime"},
    )  # fmt: skip


def test_the_json_has_exactly_the_agreed_shape():
    # An example worked out by hand.
    run = [firing(n, late_ms=late) for n, late in enumerate([0.4, *[0.1] * 11])]
    assert json.loads(msgspec.json.encode(summary(*run))) == {
        "outcome": "over", "exit": 0, "journal": "/runs/one", "disturbed": False,
        "channels": {
            "light": {
                "device": "ready", "firings": 12, "played": 12, "resumed": 0, "skipped": 0, "failed": 0, "restarts": 0,
                "faults": 0, "priority": "realtime",
                "lateness_ms": {"n": 12, "p50": 0.1, "p90": 0.1, "p99": None, "max": 0.4},
                "by_hand": 0, "skipped_why": {}, "troubles": [],      # beyond that example
            }
        },
    }  # fmt: skip


@pytest.mark.parametrize(
    ("values", "share", "expected"),
    [
        # Nearest rank, by the worked example of that definition that is common in textbooks (from memory).
        ([15, 20, 35, 40, 50], 0.05, 15),
        ([15, 20, 35, 40, 50], 0.30, 20),
        ([15, 20, 35, 40, 50], 0.40, 20),
        ([15, 20, 35, 40, 50], 0.50, 35),
        ([15, 20, 35, 40, 50], 1.00, 50),
        (list(range(1, 101)), 0.99, 99),
        ([7], 0.5, 7),
    ],
)
def test_percentiles_are_nearest_rank(values, share, expected):
    assert percentile(values, share) == expected


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=300), st.sampled_from([0.5, 0.9, 0.99]))
def test_percentiles_are_those_of_numpys_inverted_distribution(values, share):
    # numpy.percentile, method "inverted_cdf": the first of the nine in Hyndman and Fan, The American Statistician 50
    # (1996) 361, as its documentation names them.
    assert percentile(sorted(values), share) == np.quantile(values, share, method="inverted_cdf")


@given(st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=300))
def test_lateness_keeps_its_order_and_is_of_the_measured_values(late_ns):
    found = lateness_of(late_ns)
    values = {round(ns / MS, 3) for ns in late_ns}
    assert found.n == len(late_ns)
    assert found.max == max(values)
    assert found.p50 in values
    assert sum(round(ns / MS, 3) <= found.p50 for ns in late_ns) * 2 >= len(late_ns)
    assert (found.p99 is not None) == (len(late_ns) >= 100)
    assert found.p50 <= found.p90 <= (found.p99 if found.p99 is not None else found.max) <= found.max


def test_the_99th_percentile_needs_a_hundred_firings():
    assert lateness_of([MS] * 99).p99 is None
    assert lateness_of([MS] * 100).p99 == 1.0
    assert lateness_of([]).max is None


def test_a_resumed_firing_is_one_firing_and_says_nothing_about_lateness():
    found = summary(firing(late_ms=1), firing(outcome="resumed", late_ms=900)).channels["light"]
    assert (found.firings, found.played, found.resumed) == (1, 1, 1)
    assert (found.lateness_ms.n, found.lateness_ms.max) == (1, 1.0)


def test_restarts_faults_and_channels_are_counted_apart():
    run = [restarted(), restarted("sound"), Fault(at_ns=1, channel="light", what="write"), firing(channel="sound")]
    found = summary(*run, devices={"light": "failed", "sound": "ready"}).channels
    assert (found["light"].restarts, found["light"].faults, found["light"].firings) == (1, 1, 0)
    assert (found["sound"].restarts, found["sound"].faults, found["sound"].firings) == (1, 0, 1)
    assert (found["light"].priority, found["sound"].priority) == ("realtime", "ordinary")


@pytest.mark.parametrize(
    ("run", "failed", "skipped"),
    [
        ([firing(outcome="failed", why="strip lost")], 1, 0),
        # absent from the start, also while something else of the channel is there
        ([device("absent"), firing(outcome="skipped", why="absent")], 0, 1),
        ([device("ready"), firing(outcome="skipped", why="absent", role="driver")], 0, 1),
        # lost after it had been there
        ([device("ready"), device("lost"), firing(outcome="skipped", why="absent")], 1, 0),
        ([firing(0), firing(1, outcome="skipped", why="absent")], 1, 0),
        # its worker died, and the next one came too late
        ([restarted(), firing(outcome="skipped", why="late")], 1, 0),
        ([restarted(), firing(0), firing(1, outcome="skipped", why="late")], 0, 1),
        ([firing(outcome="skipped", why="late")], 0, 1),
        # the whole run was cut short, and went on too late for it; a device that never was there loses nothing
        ([device("ready"), resumed(), firing(outcome="skipped", why="late")], 1, 0),
        ([device("ready"), resumed(), firing(0), firing(1, outcome="skipped", why="late")], 0, 1),
        ([device("absent"), resumed(), firing(outcome="skipped", why="late")], 0, 1),
        ([device("absent"), restarted(), firing(outcome="skipped", why="late")], 0, 1),
        ([device("ready"), device("absent", role="driver"), resumed(),
          firing(outcome="skipped", why="late", role="driver")], 0, 1),
        # what people wanted
        ([device("ready"), firing(outcome="skipped", why="outranked")], 0, 1),
        ([restarted(), firing(outcome="skipped", why="crossed")], 0, 1),
        ([restarted(), firing(outcome="skipped", why="given")], 0, 1),
    ],
)
def test_a_lost_firing_fails_the_run_and_a_device_that_never_was_does_not(run, failed, skipped):
    found = summary(*run)
    assert (found.channels["light"].failed, found.channels["light"].skipped) == (failed, skipped)
    assert found.exit == (1 if failed else 0)


@pytest.mark.parametrize("role", ["driver", "operator"])
def test_pads_are_judged_role_by_role(role):
    run = [device("ready", "rumble"), device("ready", "rumble", "driver"), device("absent", "rumble", "operator")]
    run.append(firing(outcome="skipped", why="absent", channel="rumble", role=role))
    assert summary(*run, devices={"rumble": "ready"}).exit == (1 if role == "driver" else 0)


@pytest.mark.parametrize(
    ("outcome", "exit_base", "fails", "expected"),
    [
        ("over", 0, False, 0), ("over", 0, True, 1), ("standby", 0, False, 0),
        ("scrapped", 0, False, 0), ("scrapped", 130, True, 130), ("scrapped", 143, False, 143), ("over", 22, True, 22),
    ],
)  # fmt: skip
def test_exit_codes(outcome, exit_base, fails, expected):
    run = [firing(outcome="failed")] if fails else [firing()]
    assert summary(*run, outcome=outcome, exit_base=exit_base).exit == expected


def test_people_read_what_was_given_and_what_was_not():
    run = [firing(0, late_ms=0.21), firing(1, late_ms=3), firing(2, outcome="failed"), restarted()]
    lines = text_lines(summary(*run, disturbed=True))
    assert lines[0] == "Match over. Signals: 2, failed: 1."
    assert "late by 0.2 ms, at most 3.0 ms" in lines[1]
    assert "1 restart," in lines[1]
    assert "slept" in lines[2]
    assert lines[-1] == "Journal: /runs/one"


def test_a_call_by_hand_says_nothing_about_lateness():
    """A pad of 80 ms: nobody can tell it 80 ms before somebody presses the key."""
    run = [firing(0, late_ms=0.2), replace(firing(1, late_ms=87.1), anchor="call.home")]
    found = summary(*run).channels["light"]
    assert (found.played, found.by_hand, found.lateness_ms.n, found.lateness_ms.max) == (2, 1, 1, 0.2)
    lines = text_lines(summary(*run))
    assert lines[1:3] == (
        "  light   ready     2 played, late by 0.2 ms, at most 0.2 ms", "          1 by hand: not counted in how late",
    )  # fmt: skip
    late_by_hand_only = text_lines(summary(run[1]))
    assert "late by" not in late_by_hand_only[1]


def test_the_reasons_of_what_was_skipped_or_went_wrong_are_said():
    killed = Fault(at_ns=1, channel="light", what="worker", why="worker ended by signal 9")
    refused = Fault(at_ns=1, channel="light", what="priority", why="not permitted")
    slow = [Fault(at_ns=1, channel="light", what="the board is slow", why="a long text")] * 2
    whys = ["given", "crossed", "crossed", "late", "outranked"]
    run = [firing(n, outcome="skipped", why=why) for n, why in enumerate(whys)]
    found = summary(firing(9), *run, killed, restarted(), firing(8), *slow, refused)
    light = found.channels["light"]
    assert light.skipped_why == {"given": 1, "crossed": 2, "late": 1, "outranked": 1}
    assert sum(light.skipped_why.values()) == light.skipped
    assert text_lines(found)[1:-1] == (
        "  light   ready     2 played, 5 skipped, 1 restart, 4 faults",
        "          skipped: 1 given by hand before, 2 before the begin, or jumped",
        "          over, 1 too late, 1 lower priority",
        "          fault: worker ended by signal 9",
        "          fault: the board is slow",
        "          fault: priority: not permitted",
    )
    one = text_lines(summary(firing(0), killed, restarted(), firing(1, outcome="skipped", why="crossed")))
    assert "1 skipped, 1 restart, 1 fault" in one[1]


def test_what_is_lost_counts_as_failed_and_is_no_longer_among_the_skipped():
    run = [device("ready"), restarted(), firing(0, outcome="skipped", why="late"), firing(1)]
    run.append(firing(2, outcome="skipped", why="late"))
    light = summary(*run).channels["light"]
    assert (light.failed, light.skipped, light.skipped_why) == (1, 1, {"late": 1})


def beat(n, **more):
    return replace(firing(n, **more), cue="count_in")


def test_people_do_not_count_beats_but_what_failed_of_them():
    run = [beat(0, late_ms=50), beat(1, outcome="skipped", why="late"), beat(2, outcome="failed"), firing(late_ms=1)]
    whole = summary(*run)
    found = without(whole, run, "count_in").channels["light"]
    assert (found.played, found.skipped, found.failed, found.lateness_ms.max) == (1, 0, 1, 1.0)
    assert whole.channels["light"].played == 2
    assert (without(whole, run, "count_in").exit, whole.exit) == (1, 1)


ABSENT = "no strip with the USB ids 1209:0004: plug it in, or see `tocsin devices`; some cables only charge"


def test_an_absent_device_reads_as_nothing_to_do_with_the_reason_cut_to_fit():
    run = [device("absent"), firing(outcome="skipped", why="absent")]
    _, line, why, _ = text_lines(summary(*run, devices={"light": "absent"}), {"light": ABSENT})
    assert line == "  light   absent: nothing to do"
    assert why == "          no strip with the USB ids 1209:0004: plug it in, or see ..."
    _, line, _ = text_lines(summary(*run, devices={"light": "absent"}), {"light": "plug in the first pad"})
    assert line == "  light   absent: nothing to do (plug in the first pad)"
    _, line, _ = text_lines(summary(*run, devices={"light": "absent"}), {"light": "not in the rig"}, ["light"])
    assert line == "  light   off: nothing to do (not in the rig)"


def test_what_is_the_matter_with_a_device_that_was_there_stands_below_its_counts():
    _, line, why, _ = text_lines(summary(device("ready"), firing()), {"light": "no answer from a board"})
    assert line.startswith("  light   ready     1 played")
    assert why == "          no answer from a board"
    lost = [device("ready"), firing(0), device("lost"), firing(1, outcome="failed", why="strip lost")]
    _, line, why, _ = text_lines(summary(*lost, devices={"light": "lost"}), {"light": "/dev/x: unplugged"})
    assert ("1 failed" in line, why.strip()) == (True, "/dev/x: unplugged")


@pytest.mark.parametrize("outcome", ["over", "standby", "scrapped", "crashed"])
def test_every_outcome_has_a_headline_without_a_forbidden_word(outcome):
    text = " ".join(text_lines(summary(outcome=outcome, journal=""))).lower()
    assert text
    assert not {"stop", "clear", "go", "set", "safe"} & set(text.replace(".", "").split())


def test_where_devices_are_not_told_of_a_failed_call_is_and_that_no_device_was_there():
    assert trouble_lines(summary(firing(late_ms=1))) == ()
    failed = firing(1, outcome="failed", why="gone")
    assert trouble_lines(summary(firing(late_ms=1), failed)) == ("Calls failed: light 1.",)
    assert trouble_lines(summary(devices={"light": "absent"})) == ("No device was there for a call.",)
    assert trouble_lines(summary(outcome="scrapped", devices={"light": "absent"})) == ()
