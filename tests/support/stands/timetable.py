"""When the firings of a run land, and which of them are to be seen, felt and heard.

Worked out from the journal's header and origin alone, by the rules that the design states: a firing lands at origin
plus offset by rate; patterns run in real time; a pad and the loudspeaker play one thing at a time, strip and screen
show the foremost of what lasts; two seconds after the end of everything nothing plays any more.
"""

from itertools import pairwise
from typing import Any, NamedTuple

from tocsin.units import NS_PER_MS, NS_PER_S

RING_OUT_NS = 2 * NS_PER_S
JOIN_NS = NS_PER_MS                    # shorter spans of a look are no spans


class Due(NamedTuple):
    """A firing in real time. ``ends_ns`` is when its pattern, or what it holds until, ends."""

    cue: str
    n: int
    channel: str
    role: str | None
    pattern: str
    priority: int
    no: int
    lands_ns: int
    ends_ns: int


class Span(NamedTuple):
    """Between two times, what strip or screen shows: a firing, or None for nothing."""

    begins_ns: int
    ends_ns: int
    due: Due | None


class Timetable:
    """The firings of the match's own clock, in the order in which they land."""

    def __init__(self, records: list[dict[str, Any]]) -> None:
        header = next(r for r in records if r["kind"] == "header")
        (self.origin,) = [r for r in records if r["kind"] == "origin"]
        self.rate = self.origin["rate"]
        firings = [f for f in header["timeline"]["firings"] if f["begin"]["anchor"] == "match"]
        dues = [self._due(firing) for firing in firings]
        # What a start in mid-match leaves out never comes.
        self.left_out = [due for due in dues if due.lands_ns < self.origin["starts_ns"]]
        last = header["timeline"]["periods"][-1]
        self.silent_ns = self._real_ns({"anchor": last["anchor"], "offset_ns": last["end_ns"]}) + RING_OUT_NS
        self.coming = [due for due in dues if due.lands_ns >= self.origin["starts_ns"]]

    def match_s(self, due: Due) -> float:
        """Return the match second at which a firing lands."""
        return (due.lands_ns - self.origin["origin_ns"]) * self.rate / NS_PER_S

    def of(self, channel: str, role: str | None = None) -> list[Due]:
        """Return what is coming on a channel, or on the pads of a role."""
        return [due for due in self.coming if due.channel == channel and role in (None, due.role)]

    def outranked(self) -> set[int]:
        """Return the numbers of firings that come while a more important one has their device."""
        found = set()
        for channel, role in [("rumble", role) for role in ("driver", "operator", "coach")] + [("sound", None)]:
            playing: Due | None = None
            for due in self.of(channel, role):
                if playing and playing.priority > due.priority and playing.ends_ns > due.lands_ns:
                    found.add(due.no)
                else:
                    playing = due
        for channel in ("light", "screen"):
            for due in self.of(channel):
                if _foremost(self.of(channel), due.lands_ns) is not due:
                    found.add(due.no)
        return found

    def played(self, channel: str, role: str | None = None) -> list[Due]:
        """Return what the device of a channel, or the pad of a role, is to play, in order."""
        outranked = self.outranked()
        return [due for due in self.of(channel, role) if due.no not in outranked]

    def spans(self, channel: str) -> list[Span]:
        """Return what strip or screen shows from the clock's start until all has rung out, span after span."""
        dues = self.of(channel)
        times = {time_ns for due in dues for time_ns in (due.lands_ns, due.ends_ns) if time_ns < self.silent_ns}
        spans = [Span(self.origin["starts_ns"] or self.origin["origin_ns"], min(times), None)]
        for begins_ns, ends_ns in pairwise(sorted(times | {self.silent_ns})):
            due = _foremost(dues, begins_ns)
            if due == spans[-1].due or ends_ns - begins_ns < JOIN_NS:
                spans[-1] = spans[-1]._replace(ends_ns=ends_ns)
            else:
                spans.append(Span(begins_ns, ends_ns, due))
        if spans[-1].due is not None:
            spans.append(Span(self.silent_ns, self.silent_ns, None))
        return spans

    def _due(self, firing: dict[str, Any]) -> Due:
        lands_ns = self._real_ns(firing["begin"])
        held = firing["until"] is not None and firing["channel"] in ("light", "screen")
        return Due(
            cue=firing["cue"], n=firing["n"], channel=firing["channel"], role=firing["role"],
            pattern=firing["pattern"], priority=firing["priority"], no=firing["no"], lands_ns=lands_ns,
            ends_ns=self._real_ns(firing["until"]) if held else lands_ns + firing["lasts_ns"],
        )  # fmt: skip

    def _real_ns(self, point: dict[str, Any]) -> int:
        assert point["anchor"] == "match"
        return self.origin["origin_ns"] + round(point["offset_ns"] / self.rate)


def _foremost(dues: list[Due], at_ns: int) -> Due | None:
    lasting = [due for due in dues if due.lands_ns <= at_ns < due.ends_ns]
    return max(lasting, key=lambda due: (due.priority, due.lands_ns, due.no), default=None)
