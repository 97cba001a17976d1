"""Evenings of pushes that the call home found, written as a conductor would, files and all."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import msgspec

from tocsin.analysis.rounds.variation import Condition
from tocsin.config.drills import load_drill
from tocsin.features.records.round_files import DROPPED, RoundFacts
from tocsin.journal import records
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.options import ROUND
from tocsin.units import NS_PER_S as S

_ORIGIN_NS = 5_000 * S


def record_evening(
    runs: Path, day: date, took_s: Sequence[float | None], *, plan: str = "full", error_ms: int = 60,
    match: bool = False, half_speed: bool = False, source: str = "", dropped: int = 0, ways_s: Sequence[float] = (),
) -> None:  # fmt: skip
    """Record rounds of one evening, each a push that ended so long after the call, in seconds, as a scribe's key marked
    it (or a ``video``, its ``source``); None for a push that nobody saw end. Matches in place of a drill's rounds where
    ``match``; of the rounds so many are ``dropped`` afterwards."""
    found = load_drill("break_off", "nothing", plan=plan)
    files = tuple(records.FileRecord.of(file.name, file.text) for file in found.files.files)
    if match:
        files = tuple(file for file in files if "tocsin-drill/" not in file.text)
    timeline = found.files.plans[0].timeline
    home = next(one for one in timeline.firings if one.cue == "home" and one.channel == "light")
    call_ns = _ORIGIN_NS + home.begin.offset_ns
    for place, took in enumerate(took_s):
        facts = RoundFacts(
            name="Break off", key=f"{day:%m%d}", seed=1, round=place + 1, crew="A", battery=place % 3,
            half_speed=half_speed, condition=msgspec.to_builtins(Condition(number=place + 1, half_speed=half_speed)),
        )  # fmt: skip
        options = {} if match else {ROUND: msgspec.to_builtins(facts)}
        record = RunRecord(runs, Heading(options=options, label="", files=files))
        record.begin(_ORIGIN_NS, f"{day.isoformat()}T{17 + place // 20}:{3 * (place % 20):02}:00.000Z", timeline, ())
        record.add(
            records.OriginRecord(
                at_ns=_ORIGIN_NS, anchor="match", origin_ns=_ORIGIN_NS, cause="start", error_ms=error_ms
            )
        )
        record.add(
            records.FiringRecord(
                at_ns=call_ns, cue="home", n=0, channel="light", role=None, anchor="match", due_ns=home.begin.offset_ns,
                match_ns=home.match_ns, late_ns=0, took_ns=0, outcome="played", why="", no=home.no, instance=0,
            )
        )  # fmt: skip
        end_ns = None if took is None else call_ns + round(took * 1000) * S // 1000
        record.add(
            records.MarkRecord(
                at_ns=end_ns or call_ns - 3 * S, label="contact", begin_ns=call_ns - 4 * S, end_ns=end_ns,
                open=end_ns is None, source=source,
            )
        )
        if ways_s and end_ns is not None:
            home_ns = end_ns + round(ways_s[place] * 1000) * S // 1000
            record.add(records.MarkRecord(at_ns=home_ns, label="home", begin_ns=home_ns, end_ns=None))
        if place < dropped:
            record.add(records.Note(at_ns=call_ns + 30 * S, what=DROPPED, text="wrong set-up"))
        record.add(records.End(at_ns=_ORIGIN_NS + 144 * S, outcome="over", exit=0))
        assert not record.close()
