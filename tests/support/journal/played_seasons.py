"""Whole seasons of an invented team as real journals, written by the writer of a run, with what their rows must say.

Five evenings: one goes on over midnight, two are of one date with more than four hours between them. Two crews take
turns, each with people of its own, in drills dealt by lot; one drill is as an earlier version wrote it, where nobody
knows whose people stand in it. Then matches, at an event or in practice. Rounds are taken out, played again, cancelled,
cut short, driven at half speed, or their clock is too unsure; marks come later, by hand or by a video beside the key.
Every other season lies on two laptops. Equal seeds give equal seasons.
"""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from tests.support.analysis.season_rounds import Stage, match_stage, round_stage
from tests.support.journal.played_round import OVER_MS, Script, drawn, mark_of, ns, records_of, wanted
from tests.support.people.table_crew import loaded
from tocsin.analysis.rounds.variation import Condition, conditions
from tocsin.features.records.round_files import DROPPED, REPEATED, WATCHED, RoundFacts
from tocsin.journal import records
from tocsin.journal.people import People
from tocsin.journal.writer import JournalWriter
from tocsin.runner.options import ROUND
from tocsin.units import NS_PER_S

DRILL = "break_off"
WORDS = "Bo Beam was tired"            # why a round was taken out: nothing that a row may say
NAMES = {"A": ("Ann Anvil", "Cy Crane"), "B": ("Bo Beam", "Di Dross")}
FATES = ("counts",) * 14 + ("dropped", "repeated", "scrapped", "cut short", "slept", "unsure")
ZONES_H = (-8, -3, 0, 1, 2, 10)
SURE_MS, UNSURE_MS = 60, 900
# Local begins by day and time; the name of each evening, from the first day's date on.
EVENINGS = ((0, "18:30", ""), (2, "23:10", ""), (7, "13:00", ""), (7, "20:15", ".2"), (9, "18:00", ""))
FIRST = datetime(2031, 1, 7)           # local, in whatever zone
LEAD_S, OTHER_LEADS_S = 4.0, {"last_load": 16.0}


class Told(NamedTuple):
    """A run's folder, and what its row must say: now, and after what was marked later."""

    folder: Path
    now: dict[str, object]
    later: dict[str, object]
    added: tuple[records.Record, ...]


class PlayedSeason:
    """A season that was recorded in folders of runs; ``runs`` are in their order of time."""

    def __init__(self, root: Path, seed: int) -> None:
        self._rng = random.Random(f"{seed} journals")
        self.folders = (root / "one", root / "other")[: 1 + seed % 2]
        people = People(root / "one")
        self._keys = {crew: [people.keep(name) for name in names] for crew, names in NAMES.items()}
        self._zone = timedelta(hours=self._rng.choice(ZONES_H))
        self._files = {
            drill: tuple(records.FileRecord.of(one.name, one.text) for one in loaded(DRILL).files.files
                         if drill or "tocsin-drill/" not in one.text)
            for drill in (True, False)
        }  # fmt: skip
        self._evening, self._now = "", FIRST
        self.runs = [told for evening in EVENINGS for told in self._played(*evening)]

    def add_later(self) -> None:
        """Add what was marked later to the journals that it is of."""
        for told in self.runs:
            if told.added:
                writer = JournalWriter.reopen(told.folder)
                for record in told.added:
                    writer.append(record)
                assert not writer.close()

    def _played(self, day: int, begin: str, number: str) -> Iterator[Told]:
        hours, minutes = map(int, begin.split(":"))
        self._now = FIRST + timedelta(days=day, hours=hours, minutes=minutes)
        self._evening = f"{self._now:%Y-%m-%d}{number}"
        seed, old = self._rng.randrange(1 << 31), day == 0
        crews = self._rng.choice(("A", "AB"))
        dealt = {crew: conditions(loaded(DRILL).drill, f"{seed} {crew}") for crew in crews}
        for place in range(12):
            crew, place_of = crews[place % len(crews)], place // len(crews)
            yield self._round(dealt[crew][place_of], crew, f"{seed:08x}", seed, old=old, mixed=old and len(crews) > 1)
        for match in range(self._rng.randrange(3)):
            yield self._match(match + 1)

    def _round(self, condition: Condition, crew: str, key: str, seed: int, *, old: bool, mixed: bool) -> Told:
        stage = round_stage(DRILL, LEAD_S, condition.shift_ns, condition.draw_out, condition.coach)
        facts = RoundFacts(
            name=loaded(DRILL).drill.name, key=key, seed=seed, round=condition.number, crew=crew,
            battery=condition.number % 3, half_speed=condition.half_speed, condition=msgspec.to_builtins(condition),
        )  # fmt: skip
        people = self._people(crew)
        options: dict[str, Any] = {ROUND: msgspec.to_builtins(facts), "people": people}
        if not old:
            options["roster"] = {one: self._people(one) for one in NAMES}
        fields: dict[str, object] = {
            "kind": "drill", "drill": facts.name, "session": key, "round": condition.number, "crew": crew,
            "people": {} if mixed else people, "people_unknown": mixed, "at": "practice", "match": None,
            "setup": condition.setup, "coach": condition.coach, "shift_s": condition.shift_ns / NS_PER_S,
            "earlier_s": condition.earlier_ns / NS_PER_S, "half_speed": condition.half_speed,
            "battery_rounds": condition.number % 3, "seed": seed, "score_us": None, "score_them": None,
            "leads_s": {"break_off": LEAD_S + condition.shift_ns / NS_PER_S, **OTHER_LEADS_S},
        }  # fmt: skip
        return self._run(stage, options, fields, half_speed=condition.half_speed, is_drill=True)

    def _match(self, number: int) -> Told:
        at, score = self._rng.choice(("practice", "event")), (self._rng.randrange(200), self._rng.randrange(200))
        people = self._people("A")
        fields: dict[str, object] = {
            "kind": "match", "drill": "", "session": "", "round": 0, "crew": "", "people": people,
            "people_unknown": False, "at": at, "match": number if at == "event" else None, "half_speed": False,
            "setup": "", "coach": "", "shift_s": None, "earlier_s": None, "seed": None,
            "leads_s": {"break_off": LEAD_S, **OTHER_LEADS_S}, "score_us": score[0], "score_them": score[1],
        }  # fmt: skip
        options = {"people": people, "roster": {}, "at": at, "match": fields["match"]}
        noted = records.Note(
            at_ns=ns(OVER_MS) + 1, what="score", values={"us": float(score[0]), "them": float(score[1])}
        )
        return self._run(match_stage("full", LEAD_S), options, fields, half_speed=False, is_drill=False, notes=(noted,))

    def _people(self, crew: str) -> dict[str, str]:
        driver, coach = self._keys[crew]
        return {"driver": driver, "coach": coach}

    def _run(
        self, stage: Stage, options: dict[str, Any], fields: dict[str, object], *, half_speed: bool, is_drill: bool,
        notes: tuple[records.Record, ...] = (),
    ) -> Told:  # fmt: skip
        """Write a run of some fate; return what its row must say."""
        script, fate = drawn(self._rng, stage), self._rng.choice(FATES)
        self._now += timedelta(minutes=self._rng.randrange(3, 9))
        wall = (self._now - self._zone).replace(tzinfo=UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        runs = self._rng.choice(self.folders)
        header = records.Header(
            at_ns=ns(-60_000), wall=wall, boot="b", options=options, files=self._files[is_drill],
            label=f"{self._rng.choice(NAMES['A'])} drives", timeline=stage.timeline,
            utc_offset_s=round(self._zone.total_seconds()),
        )  # fmt: skip
        error_ms = UNSURE_MS if fate == "unsure" else SURE_MS
        body = records_of(script._replace(beside=()), stage, error_ms)
        if fate == "slept":
            body.append(records.Fault(at_ns=ns(OVER_MS) - 1, channel="", what="slept"))
        if fate == "scrapped":
            body.append(records.End(at_ns=ns(OVER_MS), outcome="scrapped", exit=0))
        elif fate != "cut short":
            body.append(records.End(at_ns=ns(OVER_MS), outcome="over", exit=0))
        if script.said_watched:
            body.append(records.Note(at_ns=ns(OVER_MS) + 1, what=WATCHED))
        if fate in (DROPPED, REPEATED):
            body.append(records.Note(at_ns=ns(OVER_MS) + 1, what=fate, text=WORDS))
        writer = JournalWriter.create(runs, header)
        for record in (*body, *notes):
            writer.append(record)
        assert not writer.close()
        told = {
            **fields, "game": stage.timeline.game, "plan": stage.timeline.plan, "evening": self._evening,
            "local": _local(self._now, self._zone), "clock_spread_ms": round(error_ms / 1.96, 1),
            "outcome": {"scrapped": "scrapped", "cut short": "cut short"}.get(fate, "over"),
            "taken_out": fate if fate in (DROPPED, REPEATED) else "",
            "counted": fate == "counts" and not half_speed,
        }  # fmt: skip
        return Told(writer.folder, *_before_and_after(script, stage, told, is_drill=is_drill), _later(script))


def _before_and_after(
    script: Script, stage: Stage, told: dict[str, object], *, is_drill: bool
) -> tuple[dict[str, object], dict[str, object]]:
    """Return what a row must say before and after what was marked later; of a run that did not end there is no
    result."""
    plain = script._replace(beside=(), by="key")
    if told["outcome"] != "over":
        none = {"watched": None, "contacts": None, "break_off_at_most_s": None, "turn_s": None, "home": ""}
        failed = {"calls_failed": int(script.failed)}
        return {**told, **none, **failed, "marks": plain.marks}, {**told, **none, **failed, "marks": script.marks}
    return (
        {**told, **wanted(plain, stage, asks_turn=is_drill)}, {**told, **wanted(script, stage, asks_turn=is_drill)}
    )


def _later(script: Script) -> tuple[records.Record, ...]:
    return tuple(mark_of(push) for push in script.beside)


def _local(at: datetime, zone: timedelta) -> str:
    hours = round(zone.total_seconds() / 3600)
    return f"{at:%Y-%m-%dT%H:%M:%S}.000{'-' if hours < 0 else '+'}{abs(hours):02}:00"
