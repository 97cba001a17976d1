"""Which runs that were cut short can still be gone on with, and what becomes of the others' journals."""

import pytest

from tocsin.config.load import load
from tocsin.errors import JournalError
from tocsin.journal.past import newest_past, past_of
from tocsin.journal.reader import read
from tocsin.journal.records import Header, OriginRecord, State
from tocsin.journal.short_name import short_name
from tocsin.journal.writer import JournalWriter
from tocsin.runner.match.resume import demand_unfinished
from tocsin.units import NS_PER_S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
BEGIN_NS = 1000 * NS_PER_S
HEADER = Header(at_ns=0, wall="2026-03-14T15:09:26.535Z", boot="b", timeline=TIMELINE)
START = OriginRecord(at_ns=1, anchor="match", origin_ns=BEGIN_NS, cause="start")
RUNNING = State(at_ns=2, states=("running.period.driver",))


def cut_short(runs, *records):
    writer = JournalWriter.create(runs, HEADER)
    for record in records:
        writer.append(record)
    writer.close()
    return past_of(read(writer.folder))


@pytest.mark.parametrize(
    ("records", "seconds"),
    [
        # The bundled match lasts 136 s, and robots coast for 4 s.
        ((START, RUNNING), 139.9),
        ((START, RUNNING, State(at_ns=3, states=("held",), held_ns=BEGIN_NS + 90 * NS_PER_S)), 10_000),
        ((), 10_000),
    ],
)
def test_a_match_that_is_on_or_held_or_not_begun_is_gone_on_with(tmp_path, records, seconds):
    past = cut_short(tmp_path, *records)
    demand_unfinished(past, TIMELINE, BEGIN_NS + round(seconds * NS_PER_S))
    assert read(past.folder).end is None


@pytest.mark.parametrize(
    ("states", "says"), [((RUNNING,), "run is over"), ((RUNNING, State(at_ns=3, states=("scrapped",))), "cancelled")]
)
def test_a_match_that_is_over_is_refused_and_found_no_more(tmp_path, states, says):
    past = cut_short(tmp_path, START, *states)
    name = short_name(past.folder)
    with pytest.raises(JournalError, match=f"{name}: that .*{says}: nothing to go on with") as raised:
        demand_unfinished(past, TIMELINE, BEGIN_NS + 140 * NS_PER_S)
    assert raised.value.exit_code == 22
    assert f"`tocsin runs --show {name}`" in raised.value.hint
    end = read(past.folder).end
    assert end is not None
    assert end.outcome == "crashed"
    with pytest.raises(JournalError, match="there is no run to go on with"):
        newest_past(tmp_path, "b", pytest.fail)
