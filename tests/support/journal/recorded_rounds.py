"""Rounds of a bundled drill, written as a conductor would: pushes, turns and homes drawn from a seed, files and all."""

import random
from pathlib import Path

import msgspec

from tocsin.analysis.rounds.variation import conditions, varied
from tocsin.config.drills import load_drill
from tocsin.features.records.round_files import RoundFacts
from tocsin.journal import records
from tocsin.model.compiler.compiler import compile_plan
from tocsin.runner.match.record import Heading, RunRecord
from tocsin.runner.options import ROUND
from tocsin.units import NS_PER_S as S

_ORIGIN_NS = 5_000 * S


def record_rounds(
    runs: Path, drill: str, count: int, seed: int = 1, *, day: int = 1, people: dict[str, str] | None = None,
    label: str = "", minute: int = 0,
) -> None:  # fmt: skip
    """Record rounds of sessions, one after the other; every third push holds on into the window. They begin on a
    ``day`` of March, in a ``minute`` after midnight; ``people`` are the crew's keys by role."""
    found = load_drill(drill, "nothing")
    files = tuple(records.FileRecord.of(file.name, file.text) for file in found.files.files)
    plan = found.files.plans[0]
    rng = random.Random(seed)
    for place in range(count):
        session, number = divmod(place, found.drill.rounds)
        condition = conditions(found.drill, session)[number]
        timeline, mistakes = compile_plan(plan.game, varied(plan.plan, found.drill, condition))
        assert timeline is not None, mistakes
        facts = RoundFacts(
            name=found.drill.name, key=f"{minute:02x}{day - 1:02x}{session:04x}", seed=session, round=number + 1,
            crew="A", battery=number % 3, half_speed=condition.half_speed, condition=msgspec.to_builtins(condition),
        )  # fmt: skip
        options = {ROUND: msgspec.to_builtins(facts), **({"people": people, "roster": {"A": people}} if people else {})}
        record = RunRecord(runs, Heading(options=options, label=label, files=files))
        wall = f"2031-03-{day + place // 1000:02}T{(minute + place) // 60 % 24:02}:{(minute + place) % 60:02}:00.000Z"
        record.begin(_ORIGIN_NS, wall, timeline, ())
        record.add(
            records.OriginRecord(at_ns=_ORIGIN_NS, anchor="match", origin_ns=_ORIGIN_NS, cause="start", error_ms=60)
        )
        home = next(one for one in timeline.firings if one.cue == "home" and one.channel == "light")
        call_ns = _ORIGIN_NS + home.begin.offset_ns
        record.add(
            records.FiringRecord(
                at_ns=call_ns, cue="home", n=0, channel="light", role=None, anchor="match", due_ns=home.begin.offset_ns,
                match_ns=home.match_ns, late_ns=0, took_ns=0, outcome="played", why="", no=home.no, instance=0,
            )
        )  # fmt: skip
        off_ns = call_ns + round(rng.uniform(1.5, 3.0 if place % 3 else 9.0) * S)
        for label, begin_ns, end_ns in (
            ("contact", call_ns - 3 * S, off_ns), ("turned", off_ns - S // 2, None),
            ("home", off_ns + round(rng.uniform(5, 9) * S), None),
        ):  # fmt: skip
            record.add(records.MarkRecord(at_ns=begin_ns, label=label, begin_ns=begin_ns, end_ns=end_ns))
        record.add(records.End(at_ns=_ORIGIN_NS + 144 * S, outcome="over", exit=0))
        assert not record.close()
