"""A match whose clock another laptop keeps: its states and origins come from that one's records, not from people here.

A follower is a resume that never ends: whenever something new is known, the match is restored anew from all records,
as ``tocsin run --resume`` does once. What falls due between two of them, its own clock brings.
"""

from collections import Counter
from typing import Any

import msgspec

from tocsin.journal import records
from tocsin.journal.past import Past
from tocsin.model.clock.sync import Sync
from tocsin.runner.match import count_in
from tocsin.runner.match.match import Match
from tocsin.runner.match.resume import life_of
from tocsin.runner.outcome import Outcome, Refused
from tocsin.translation import tr

_BOUNDARY = "boundary"                 # of these states this clock takes note itself


class FollowedMatch(Match):
    """A match that follows its keeper's."""

    def __init__(self, *arguments: Any) -> None:
        super().__init__(*arguments)
        self._states_taken = 0             # of the keeper's states, how many were taken note of
        self._origins_taken: Counter[tuple[str, int]] = Counter()      # and of its origins, by anchor and instance
        self._noted: dict[tuple[str, int], records.OriginRecord] = {}

    def adopt(self, now_ns: int, past: Past, follows: records.Follows) -> None:
        """Go on by what the keeper's records say, told by this laptop's clock: ``follows`` is the offset by which they
        were told, and its ±."""
        if self.over(now_ns):
            return
        with self.record.together():
            if "scrapped" in past.states:
                self.scrap(now_ns)
                return
            before = self.lifecycle.states
            self._count_in = next((one for one in past.origins if one.anchor == count_in.ANCHOR), None)
            self.lifecycle = life_of(past, self.timeline, now_ns)
            self.early_ms = past.early_ms
            self._sync = Sync.carried_on(past.error_ms)
            if self.lifecycle.phase != "over":
                self.over_ns = None
            new = past.given - self.given_ever
            self.given += sorted(new)
            self.given_ever |= new
            self.changed = True
            self._note_states(past, before, now_ns)
            self._note_followed(past, follows, now_ns)

    def mark(
        self, now_ns: int, name: str, begin_ns: int, end_ns: int | None, source: str, *, pointlike: bool = False,
        error_ns: int | None = None,
    ) -> Outcome:
        """Refuse a mark: the keeper's records are those of the match."""
        return Refused(tr("marks are noted at the keeper"))

    def left_open(self, now_ns: int, name: str, begin_ns: int, source: str) -> None:
        """Leave a mark out whose key is still down: it was none."""

    def _fix(self, now_ns: int) -> None:
        """Leave the clock as it is: the keeper corrects it."""

    def _note_states(self, past: Past, before: tuple[str, ...], now_ns: int) -> None:
        """Note what people did at the keeper, with its time, and where that has led."""
        told = [record for record in past.journal.records if isinstance(record, records.State)]
        states = before
        for state in told[self._states_taken :]:
            if state.event != _BOUNDARY and not state.refused:
                self.record.add(state)
                states = state.states
        self._states_taken = len(told)
        if states != self.lifecycle.states:
            self.record.add(
                records.State(
                    at_ns=now_ns, states=self.lifecycle.states, event=_BOUNDARY, variant=self.lifecycle.variant,
                    held_ns=self.lifecycle.held_ns,
                )
            )  # fmt: skip

    def _note_followed(self, past: Past, follows: records.Follows, now_ns: int) -> None:
        """Note each origin that is new, or that lies elsewhere now."""
        said: dict[tuple[str, int], records.OriginRecord] = {}
        counts: Counter[tuple[str, int]] = Counter()
        for record in past.journal.records:
            if isinstance(record, records.OriginRecord):
                said[record.anchor, record.instance] = record
                counts[record.anchor, record.instance] += 1
        counting = () if self._count_in is None else (self._count_in,)
        for origin in (*counting, *self.lifecycle.origins):
            key = (origin.anchor, origin.instance)
            found, old = msgspec.structs.replace(said[key], at_ns=now_ns, follows=follows), self._noted.get(key)
            if old is not None and _place(old) == _place(found):
                continue
            if counts[key] == self._origins_taken[key]:        # not the keeper moved it, but what is known of its clock
                found = msgspec.structs.replace(found, cause="sync", gives=())
            self._noted[key] = found
            self.record.add(found)
        self._origins_taken = counts


def _place(record: records.OriginRecord) -> tuple[Any, ...]:
    return record.origin_ns, record.rate, record.starts_ns, record.early_ms, record.error_ms
