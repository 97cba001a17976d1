"""Runs written as a conductor would: a push that the call home found, and how long after it the push ended."""

import msgspec

from tocsin.config.drills import load_drill
from tocsin.config.load import load
from tocsin.features.records.round_files import DROPPED, RoundFacts
from tocsin.journal import records
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.options import ROUND
from tocsin.units import NS_PER_S as S

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
FILES = tuple(records.FileRecord.of(file.name, file.text) for file in load_drill("break_off", "nothing").files.files)
HOME = next(one for one in TIMELINE.firings if one.cue == "home" and one.channel == "light")
ORIGIN_NS = 5000 * S
CALL_NS = ORIGIN_NS + HOME.begin.offset_ns


def record_push(runs, number, took_s, *, outcome="over", half_speed=False, dropped=False, drill=True, **facts):
    """Record a run in which a push that the call found ended so long after it; ``facts`` stand in its header."""
    of_round = RoundFacts(
        name="Break off", key="k", seed=1, round=number, crew="A", battery=number, half_speed=half_speed
    )
    options = ({ROUND: msgspec.to_builtins(of_round)} if drill else {}) | facts
    record = RunRecord(runs, Heading(options=options, label="", files=FILES))
    record.begin(ORIGIN_NS, f"2031-03-01T10:{number:02}:00.000Z", TIMELINE, ())
    record.add(records.OriginRecord(at_ns=ORIGIN_NS, anchor="match", origin_ns=ORIGIN_NS, cause="start", error_ms=60))
    record.add(
        records.FiringRecord(
            at_ns=CALL_NS, cue="home", n=0, channel="light", role=None, anchor="match", due_ns=HOME.begin.offset_ns,
            match_ns=HOME.match_ns, late_ns=0, took_ns=0, outcome="played", why="", no=HOME.no, instance=0,
        )
    )  # fmt: skip
    end_ns = CALL_NS + round(took_s * 10) * S // 10
    record.add(records.MarkRecord(at_ns=end_ns, label="contact", begin_ns=CALL_NS - 4 * S, end_ns=end_ns))
    if dropped:
        record.add(records.Note(at_ns=end_ns, what=DROPPED, text="wrong set-up"))
    if outcome:
        record.add(records.End(at_ns=CALL_NS + 60 * S, outcome=outcome, exit=0))
    assert not record.close()
