"""One run of a season: what was done, pressed and noted in it, and what its row must say, worked out by hand.

Times are whole milliseconds of the match as its clock was started. What a row must say is arithmetic on these times and
on the definitions in ``analysis/seasons/row.py``, in a few lines a field: nothing of what reads journals is used. Marks
are off by 0.8 s either way (a key) or 0.2 s (a video); an end that nobody noted lies before the next turn or home.
"""

import random
from typing import Any, NamedTuple

from tests.support.analysis.season_rounds import Stage
from tocsin.journal import records
from tocsin.units import NS_PER_MS

ORIGIN_NS = 5_000_000_000_000
END_MS, CLOSED_MS = 136_000, 140_000           # of the match, and of the last window
OVER_MS = 144_000                              # the run's end
KEY_OFF_MS, VIDEO_OFF_MS = 800, 200
PUSHES = ("exact", "exact", "exact", "exact", "open", "tap", "ended", "none")
HOMES = ("home", "home", "home", "home_half", "home_none", "")


class Push(NamedTuple):
    """A contact of ours as it was noted: ``kind`` exact (a span), touch (a key that came up at once), open (it never
    came up), tap (a terminal's key); ``off_ms`` is how far its times may be off."""

    kind: str
    begin_ms: int
    end_ms: int | None = None
    off_ms: int = KEY_OFF_MS
    source: str = "key 7"


class Script(NamedTuple):
    """What was noted in a run. ``moved_ms``: so much later did a tap move the clock's zero, after the call. ``twice``
    are pushes that a video noted beside the key, ``later`` those that somebody typed in instead of the key's.
    ``second``: somebody at a board noted each push with an end, turn and home too, within the key's times."""

    pushes: tuple[Push, ...] = ()
    turned_ms: int | None = None
    home: str = ""
    home_ms: int | None = None
    moved_ms: int = 0
    beside: tuple[Push, ...] = ()
    by: str = "key"
    partner: bool = False
    withdrawn: bool = False
    said_watched: bool = False
    failed: bool = False
    second: bool = False

    @property
    def counting(self) -> tuple[Push, ...]:
        """The pushes that count: those of a better source alone."""
        return self.beside or self.pushes

    @property
    def marks(self) -> int:
        """How many marks count."""
        return len(self.counting) + self._besides

    @property
    def marks_noted(self) -> int:
        """How many marks stand."""
        return len(self.pushes) + len(self.beside) + self._besides + len(self.by_board) + self.second * self._alike

    @property
    def by_board(self) -> tuple[Push, ...]:
        """The pushes that a second scribe noted."""
        ended = [push for push in self.pushes if push.kind == "exact" and self.second]
        return tuple(
            Push("exact", push.begin_ms + 200, (push.end_ms or 0) - 100, source="board 1") for push in ended
        )

    @property
    def _alike(self) -> int:
        return (self.turned_ms is not None) + bool(self.home)

    @property
    def _besides(self) -> int:
        return self._alike + self.partner

    @property
    def watched(self) -> bool:
        """Whether anybody marked anything, or said that there was nothing."""
        return bool(self.marks) or self.said_watched


def drawn(rng: random.Random, stage: Stage) -> Script:
    """Return what is noted of a run by chance."""
    if rng.random() < 0.06:
        return Script(said_watched=rng.random() < 0.5)
    call_ms, window_ms = round(stage.call_s * 1000), round(stage.window_s * 1000)
    kind, pushes, free_ms = rng.choice(PUSHES), [], call_ms + 900
    if kind in ("exact", "open", "tap"):
        free_ms = call_ms + rng.randrange(1200, 8000)
        end_ms = free_ms if kind == "exact" else None
        pushes.append(Push(kind, call_ms - rng.randrange(1000, 6000), end_ms))
    elif kind == "ended":
        pushes.append(Push("exact", call_ms - 9000, call_ms - rng.randrange(1000, 4000)))
    turned_ms = free_ms + rng.randrange(200, 900) if rng.random() < 0.8 else None
    again_ms = max(window_ms, free_ms) + rng.randrange(4500, 6000)
    if rng.random() < 0.2:
        pushes.append(Push("exact", again_ms, again_ms + rng.randrange(1000, 3000)))
    if rng.random() < 0.1:
        pushes.append(Push("touch", window_ms + rng.randrange(300, 700)))
    home, home_ms = rng.choice(HOMES), None
    if home in ("home", "home_half"):
        home_ms = min(END_MS - 500, free_ms + rng.randrange(3000, 12_000))
    elif home == "home_none":
        home_ms = END_MS + 1000
    script = Script(
        tuple(pushes), turned_ms, home, home_ms, moved_ms=rng.choice((0, 0, 0, -250, 250)),
        partner=rng.random() < 0.2, withdrawn=rng.random() < 0.15, failed=rng.random() < 0.1,
        second=rng.random() < 0.3,
    )  # fmt: skip
    return _noted_better(rng, script)


def _noted_better(rng: random.Random, script: Script) -> Script:
    """Return a script whose pushes were noted by a video too, or typed in later: of spans and touches alone."""
    if not script.pushes or any(push.kind in ("open", "tap") for push in script.pushes) or rng.random() < 0.5:
        return script
    by = rng.choice(("video", "later"))
    off_ms = VIDEO_OFF_MS if by == "video" else KEY_OFF_MS
    beside = []
    for push in script.pushes:
        early_ms = rng.randrange(300, 800)
        end_ms = None if push.end_ms is None else push.end_ms - early_ms
        beside.append(Push(push.kind, push.begin_ms - 250, end_ms, off_ms, by))
    return script._replace(beside=tuple(beside), by=by)


def records_of(script: Script, stage: Stage, error_ms: int) -> list[records.Record]:
    """Return the records of a run from its clock's start up to what follows its last mark."""
    home = next(one for one in stage.timeline.firings if one.cue == "home" and one.channel == "light")
    call_ns = ns(round(stage.call_s * 1000))
    found: list[records.Record] = [
        records.OriginRecord(
            at_ns=ORIGIN_NS, anchor="match", origin_ns=ORIGIN_NS, cause="start", error_ms=error_ms
        ),
        _firing(home, call_ns, "played"),
    ]
    if script.failed:
        found.append(_firing(home, call_ns, "failed", channel="sound"))
    if script.moved_ms:
        at_ns = call_ns + 1_000 * NS_PER_MS
        found.append(
            records.OriginRecord(
                at_ns=at_ns, anchor="match", origin_ns=ns(script.moved_ms), cause="sync", error_ms=error_ms
            )
        )
    marks = [mark_of(push) for push in script.pushes]
    if script.partner:
        begin_ms = round(stage.call_s * 1000) - 12_000
        marks.append(mark_of(Push("exact", begin_ms, begin_ms + 2000), by="partner"))
    if script.turned_ms is not None:
        marks.append(mark_of(Push("touch", script.turned_ms, source="key 8"), label="turned"))
    if script.home_ms is not None:
        marks.append(mark_of(Push("touch", script.home_ms, source="key 9"), label=script.home))
    if script.second:
        marks += [mark_of(push) for push in script.by_board]
        if script.turned_ms is not None:
            marks.append(mark_of(Push("touch", script.turned_ms + 300, source="board 1"), label="turned"))
        if script.home_ms is not None:
            marks.append(mark_of(Push("touch", script.home_ms + 700, source="board 1"), label=script.home))
    if script.withdrawn:
        window_ms = round(stage.window_s * 1000)
        marks.append(mark_of(Push("exact", window_ms + 3000, window_ms + 6000)))
        at_ns = marks[-1].at_ns
        marks.append(
            records.MarkRecord(at_ns=at_ns, label="contact", begin_ns=at_ns, source="key z", takes_back=len(marks) - 1)
        )
    return [*found, *marks]


def mark_of(push: Push, label: str = "contact", by: str = "") -> records.MarkRecord:
    """Return a push, or what else was noted, as a journal keeps it."""
    end_ns = None if push.end_ms is None else ns(push.end_ms)
    return records.MarkRecord(
        at_ns=end_ns or ns(push.begin_ms), label=label, begin_ns=ns(push.begin_ms), end_ns=end_ns, by=by,
        open=push.kind == "open", pointlike=push.kind == "tap", source=push.source,
        error_ns=VIDEO_OFF_MS * NS_PER_MS if push.off_ms == VIDEO_OFF_MS else None,
    )  # fmt: skip


def ns(match_ms: int) -> int:
    """Return the shared time of a match time."""
    return ORIGIN_NS + match_ms * NS_PER_MS


def _firing(firing: Any, at_ns: int, outcome: records.FiringOutcome, channel: Any = None) -> records.FiringRecord:
    played = outcome == "played"
    return records.FiringRecord(
        at_ns=at_ns, cue=firing.cue, n=firing.n, channel=channel or firing.channel, anchor="match",
        due_ns=firing.begin.offset_ns, match_ns=firing.match_ns, late_ns=0 if played else None,
        took_ns=0 if played else None, outcome=outcome, no=firing.no, instance=0,
    )  # fmt: skip


# --- what the row must say -------------------------------------------------------------------------------------------


def wanted(script: Script, stage: Stage, *, asks_turn: bool) -> dict[str, object]:
    """Return what the row of a run must say of what happened; ``asks_turn``: its rule asks when it turned."""
    call_ms, moved_ms = round(stage.call_s * 1000), script.moved_ms
    fields: dict[str, object] = {
        "watched": script.watched, "marks": script.marks, "marks_noted": script.marks_noted, "call": "landed",
        "calls_failed": int(script.failed), "home": script.home,
        **_contacts(script, round(stage.window_s * 1000) + moved_ms, CLOSED_MS + moved_ms),
        **_break_off(script, call_ms), **_margin(script, round(stage.window_s * 1000) + moved_ms),
        **_turn_and_way(script, call_ms, END_MS + moved_ms, asks_turn=asks_turn),
    }  # fmt: skip
    return fields


def over_ms(push: Push, script: Script) -> tuple[int, str]:
    """Return when a push was over at the latest, and who noted that: nobody where only the run's end says so."""
    if push.kind == "exact":
        assert push.end_ms is not None
        return push.end_ms, script.by
    if push.kind == "touch":
        return push.begin_ms, script.by
    gone = [script.turned_ms, script.home_ms if script.home in ("home", "home_half") else None]
    later = [at_ms for at_ms in gone if at_ms is not None and at_ms >= push.begin_ms]
    return (min(later), "key") if later else (OVER_MS, "")


def _contacts(script: Script, window_ms: int, closed_ms: int) -> dict[str, object]:
    if not script.watched:
        return {"contacts": None, "contacts_unclear": None, "contact_s": None, "cost_points": None}
    inside = unclear = lasted_ms = 0
    for push in script.counting:
        over, off = over_ms(push, script)[0], push.off_ms
        if push.kind == "exact":
            surely = push.begin_ms + off < closed_ms and over - off > window_ms
            never = over + off <= window_ms
        elif push.kind == "touch":
            surely = push.begin_ms - off >= window_ms
            never = push.begin_ms + off < window_ms
        else:
            surely, never = False, over + off <= window_ms
        inside, unclear = inside + surely, unclear + (not surely and not never)
        lasted_ms += min(over, closed_ms) - max(push.begin_ms, window_ms) if surely and push.kind == "exact" else 0
    return {
        "contacts": inside, "contacts_unclear": unclear, "contact_s": lasted_ms / 1000,
        "cost_points": 9 * inside + 14 * (inside >= 2),
    }  # fmt: skip


def _break_off(script: Script, call_ms: int) -> dict[str, object]:
    none = {"break_off_at_least_s": None, "break_off_at_most_s": None, "break_off_by": ""}
    lags = tuple(
        (key.end_ms - seen.end_ms) / 1000
        for key, seen in sorted(zip(script.pushes, script.beside, strict=False), key=lambda pair: pair[1].begin_ms)
        if script.by == "video" and key.end_ms is not None and seen.end_ms is not None
    )
    found = {"push_at_call": False if script.watched else None, "scribe_lags_s": lags, **none}
    for push in script.counting:
        over, by = over_ms(push, script)
        if push.begin_ms <= call_ms < over and push.kind != "touch":
            exact = push.kind == "exact"
            found |= {
                "push_at_call": True, "break_off_by": by,
                "break_off_at_least_s": (over - call_ms) / 1000 if exact else 0.0,
                "break_off_at_most_s": (over - call_ms) / 1000 if by else None,
            }  # fmt: skip
    return found


def _margin(script: Script, window_ms: int) -> dict[str, object]:
    before = [push for push in script.counting if push.begin_ms < window_ms]
    if not before:
        low = high = None
    else:
        low = window_ms - max(over_ms(push, script)[0] for push in before)
        ends = [push.end_ms if push.end_ms is not None else push.begin_ms for push in before]
        high = window_ms - max(ends)
    known = before and all(push.kind in ("exact", "touch") for push in before)
    return {
        "break_off_margin_at_least_s": _s(low), "break_off_margin_at_most_s": _s(high),
        "break_off_margin_s": _s(low) if known else None,
    }  # fmt: skip


def _turn_and_way(script: Script, call_ms: int, end_ms: int, *, asks_turn: bool) -> dict[str, object]:
    turn = None if script.turned_ms is None else script.turned_ms - call_ms
    home = None if script.home_ms is None or script.home == "home_none" else script.home_ms - call_ms
    turn_low, turn_high = (turn, turn) if turn is not None else (0, home) if home is not None else (None, None)
    if turn is None and home is None and asks_turn and script.watched:
        turn_low = OVER_MS - call_ms
    way_low = way_high = None
    if home is not None:
        way_low, way_high = (0, home) if turn is None else (home - turn, home - turn)
    elif script.home == "home_none":
        way_low = 0 if turn is None else max(0, end_ms - call_ms - turn)
    return {
        "turn_s": _s(turn), "turn_at_least_s": _s(turn_low), "turn_at_most_s": _s(turn_high),
        "way_at_least_s": _s(way_low), "way_at_most_s": _s(way_high),
        "way_s": _s(way_high) if turn is not None else None,
        "home_margin_s": None if home is None else _s(end_ms - call_ms - home),
        "turn_by": "key" if turn_high is not None else "", "home_by": "key" if script.home else "",
    }  # fmt: skip


def _s(ms: int | None) -> float | None:
    return None if ms is None else ms / 1000
