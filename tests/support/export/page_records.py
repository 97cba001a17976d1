"""Records as an exported page saves them, line by line, for readers of such files."""

import json
from functools import cache

from tocsin.cli.source import source_of
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

END_S, OVER_S = 136, 140               # of the bundled game: when the match ends, and when all is over
ORIGIN_NS = 30 * S                     # where matches of these records begin on the page's own clock


def as_bytes(lines):
    """Return a record as the file that a page saves."""
    return b"".join(json.dumps(line, ensure_ascii=False).encode() + b"\n" for line in lines)


def source_line(source):
    """Return the line with the files that a page was made from."""
    files = [{"kind": f.kind, "name": f.name, "sha256": f.sha256, "text": f.text} for f in source.files]
    return {"kind": "source", "format": "tocsin-page/1", "files": files}


@cache
def _usual():
    return source_of("full", None)


class Record:
    """A page's record in the making: ``lines`` without the files, ``data()`` with them."""

    def __init__(self, plan="full", game=None):
        self.source = _usual() if (plan, game) == ("full", None) else source_of(plan, game)
        self.lines = []

    def data(self):
        return as_bytes([source_line(self.source), *self.lines])

    def begin(self, wall="2031-03-01T10:05:00.000Z", by="press", origin_ns=ORIGIN_NS, **more):
        """Begin a match; its clock is zero at ``origin_ns``."""
        self.origin_ns = origin_ns
        self._add(
            "header", origin_ns - S, format="tocsin-page/1", wall=wall, game=self.source.game.name,
            game_sha256=self.source.game_sha256, plan=self.source.plan.name, plan_sha256=self.source.plan_sha256,
            made_by="Made by Tocsin 0.1.0", variant="", rate=1, by=by, **more,
        )  # fmt: skip
        return self.origin("start", -1, 0)

    def origin(self, cause, at_s, zero_s, anchor="match", **more):
        """Set an anchor's zero to ``zero_s`` behind the match's first begin."""
        at = {"origin_ns": self.at(zero_s), "rate": 1, "instance": 0, "starts_ns": 0, **more}
        return self._add("origin", self.at(at_s), anchor=anchor, cause=cause, **at)

    def hold(self, at_s, until_s):
        self._add("state", self.at(at_s), states=["held"], event="hold", held_ns=self.at(at_s))
        return self.origin("resume", until_s, until_s - at_s)

    def choose(self, at_s, variant):
        return self._add("state", self.at(at_s), event="choose", variant=variant)

    def mark(self, label, begin_s, end_s=None, **more):
        at = {"begin_ns": self.at(begin_s), "end_ns": None if end_s is None else self.at(end_s), "match_ns": None}
        return self._add("mark", self.at(end_s or begin_s), label=label, source="key Digit7", **{**at, **more})

    def firing(self, cue, channel="screen", late_ms=2.0, outcome="played", why=""):
        """Note the first scheduled firing of a cue on a channel."""
        found = next(
            f for f in self.source.timeline.firings if (f.cue, f.channel) == (cue, channel) and f.match_ns is not None
        )
        return self._add(
            "firing", self.origin_ns + found.begin.offset_ns + round((late_ms or 0) * MS), cue=cue, n=found.n,
            channel=channel, role=found.role, anchor=found.begin.anchor, due_ns=found.begin.offset_ns,
            match_ns=found.match_ns, late_ms=late_ms, outcome=outcome, why=why, no=found.no, instance=0, by=[channel],
        )  # fmt: skip

    def slept(self, at_s):
        return self._add("fault", self.at(at_s), what="slept", why="the wall clock moved by 20.0 s")

    def end(self, at_s=OVER_S, outcome="over"):
        return self._add("end", self.at(at_s), outcome=outcome)

    def at(self, match_s):
        return self.origin_ns + round(match_s * S)

    def _add(self, kind, at_ns, **rest):
        self.lines.append({"kind": kind, "at_ns": at_ns, **rest})
        return self


def played(record=None, **begin):
    """Return a record with a whole match: a push into the window, turned, home 7 s before the end."""
    record = record or Record()
    record.begin(**begin).firing("home").mark("contact", 115, 120.5).mark("turned", 116.2).mark("home", END_S - 7)
    return record.firing("over").end()


def two_matches():
    """Return a record with two matches and most of what may happen in one."""
    record = played().begin("2031-03-01T10:15:00.000Z", origin_ns=ORIGIN_NS + 900 * S).origin("nudge", 20, 0.2)
    record.hold(60, 70).choose(80, "").origin("call", 90, 90, anchor="call.home").mark("home", 122).mark("home", 123)
    return record.slept(132).firing("over", "rumble", None, "skipped", "absent").end(149)
