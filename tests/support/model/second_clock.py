"""A second model of the match clock: what holds, and which firing comes when, from the definitions alone.

It imports nothing of the program and works in another way. The program keeps a list of what waits and asks at each
moment what is due; this one walks through a life from event to event, on the stretches between which every clock is
linear, and works out anew what lies in each stretch. Its rules:

- An *anchor* has an origin once it is known: the match by its start, a period begun by hand (and what follows it) by
  its begin, a mark, a call. A firing's instant is ``origin + offset / rate``. Intervals are half open.
- A *part* of the match lasts from its anchor's origin to that of the next part. What it still had ahead then never
  comes; what was to last until a moment of it ends.
- What begins at an anchor still unknown waits; what ends at one holds until it is known.
- A *one-shot* firing is played at most once for each mark or call it hangs on, and no more once it is later than its
  limit. A *sustained* one is a state: who comes into its interval (hold over, clock set, variant chosen) shows what is
  left. A *pulse* (a pad's share of a sustained cue) comes like a state, but what was felt is not taken away again. What
  a mark or a call begins after the moment that it was to last until lasts as long as its pattern.
- A hold stops all clocks and ends what shows. When the clock goes on all origins move by the time held, but for calls:
  they were given.
- A clock that begins in mid-match leaves out what lies before: the parts before are known by that start, and are
  corrected with it. Set back before its start it shows nothing of them either.
- A call plays its cue now; the next scheduled occurrence that can still come counts as given.
"""

from dataclasses import dataclass, field, replace

RING_OUT_NS = 2_000_000_000


@dataclass(frozen=True)
class Period:
    """A period: ``lasts_ns`` None is open, ``by_hand`` begun by a person."""

    id: str
    lasts_ns: int | None
    by_hand: bool = False
    settle: bool = False


@dataclass(frozen=True)
class Moment:
    """``offset_ns`` after an edge of a period (by its place), or after a mark (by its name)."""

    base: int | str
    edge: str = "begin"
    offset_ns: int = 0


@dataclass(frozen=True)
class Cue:
    """A cue: its moments, their ends if it lasts, its repeat, its channels, and when it is played."""

    id: str
    at: tuple[Moment, ...]
    until: tuple[Moment, ...] = ()
    every_ns: int | None = None
    channels: tuple[str, ...] = ("light",)
    when: str = ""
    callable: bool = False
    limit_ns: int = 150_000_000


@dataclass(frozen=True)
class Firing:
    """One channel's share of one occurrence of a cue."""

    cue: str
    n: int
    channel: str
    begin: tuple[str, int]
    end: tuple[str, int] | None
    kind: str                          # one-shot, sustained, pulse
    limit_ns: int
    when: str
    called: bool = False


class Game:
    """Periods laid into parts, and the points that moments stand for."""

    def __init__(self, periods):
        self.periods = periods
        self.parts = ["match"]
        self.places = []               # of each period: part, begin, end or None
        at_ns, was_open = 0, False
        for place, period in enumerate(periods):
            if place and (period.by_hand or was_open):
                self.parts.append(period.id)
                at_ns = 0
            was_open = period.lasts_ns is None
            end_ns = None if was_open else at_ns + period.lasts_ns
            self.places.append((self.parts[-1], at_ns, end_ns))
            at_ns = at_ns if was_open else end_ns
        played = [place for place, period in enumerate(periods) if not period.settle]
        self.match_end = self.point(Moment(played[-1] if played else 0, "end"))
        self.last_end = self.point(Moment(len(periods) - 1, "end"))

    def point(self, moment):
        if isinstance(moment.base, str):
            return f"mark.{moment.base}", moment.offset_ns
        part, begin_ns, end_ns = self.places[moment.base]
        if moment.edge == "begin":
            return part, begin_ns + moment.offset_ns
        if end_ns is None:
            return self.places[moment.base + 1][0], moment.offset_ns
        return part, end_ns + moment.offset_ns

    def order(self, point):
        return (self.parts.index(point[0]) if point[0] in self.parts else len(self.parts), point[1])

    def nominal_ns(self, point):
        """Where a point lies if nothing is late and open periods take no time."""
        before = self.parts[: self.parts.index(point[0])]
        return point[1] + sum(max((end or begin) for p, begin, end in self.places if p == part) for part in before)

    def firings(self, cue):
        begins = [self.point(moment) for moment in cue.at]
        ends = [self._rung_out(self.point(moment)) for moment in cue.until] or [None] * len(begins)
        pairs = list(zip(begins, ends, strict=True))
        if cue.every_ns is not None:
            strikes = [(b, self.point(m)[1]) for b, m in zip(begins, cue.until, strict=True)]
            strikes = [(b, min(e, self.match_end[1] + 1) if b[0] == self.match_end[0] else e) for b, e in strikes]
            pairs = [((b[0], ns), None) for b, e in strikes for ns in range(b[1], e, cue.every_ns)]
        pairs.sort(key=lambda pair: self.order(pair[0]))
        found = [self._firing(cue, n, channel, *pair) for n, pair in enumerate(pairs) for channel in cue.channels]
        if cue.callable:
            single = len(cue.until) == 1 and cue.every_ns is None and ends[0][0] in self.parts
            call = (f"call.{cue.id}", 0)
            end = ends[0] if single else None
            found += [replace(self._firing(cue, len(pairs), c, call, end), called=True) for c in cue.channels]
        return found

    def _firing(self, cue, n, channel, begin, end):
        kind = "one-shot" if end is None or channel == "sound" else "pulse" if channel == "rumble" else "sustained"
        return Firing(cue.id, n, channel, begin, None if kind == "one-shot" else end, kind, cue.limit_ns, cue.when)

    def _rung_out(self, point):
        last = (self.match_end[0], self.match_end[1] + RING_OUT_NS)
        return min(point, last, key=self.order) if point[0] in self.parts else point


@dataclass
class SecondClock:
    """A life of the clock. ``log`` holds what came: (time, what, cue, n, channel), what being played, resumed, off."""

    game: Game
    firings: list
    windows: list                      # (name, begin, end)
    variant: str = ""
    lasts_ns: dict = field(default_factory=dict)      # of the patterns of each channel
    rate: float = 1.0
    now_ns: int = 0
    phase: str = "standby"
    starts_ns: int = 0                 # of a clock that begins in mid-match
    counted_ns: int = 0
    begun_at: str = "match"
    origins: dict = field(default_factory=dict)
    count: dict = field(default_factory=dict)
    held_since_ns: int = 0
    decided: set = field(default_factory=set)
    given: set = field(default_factory=set)
    shown: dict = field(default_factory=dict)
    log: list = field(default_factory=list)
    skipped: set = field(default_factory=set)

    # -- where things lie -------------------------------------------------------------------------------------------

    def real_ns(self, point):
        return None if point[0] not in self.origins else self.origins[point[0]] + round(point[1] / self.rate)

    def cut_ns(self, anchor):
        """When a part has passed since a later one begins; None for marks and calls, and as far as is known."""
        if anchor not in self.game.parts:
            return None
        later = self.game.parts[self.game.parts.index(anchor) + 1 :]
        return min((self.origins[part] for part in later if part in self.origins), default=None)

    def span(self, firing):
        """Return begin and end (None: not known yet) of a firing that comes, else None."""
        begin_ns = self.real_ns(firing.begin)
        if begin_ns is None or firing.when not in ("", self.variant):
            return None
        cut_ns = self.cut_ns(firing.begin[0])
        if cut_ns is not None and begin_ns >= cut_ns:
            return None
        if firing.end is None:
            return begin_ns, begin_ns
        known = [ns for ns in (self.real_ns(firing.end), self.cut_ns(firing.end[0])) if ns is not None]
        end_ns = min(known, default=None)
        if firing.begin[0] not in self.game.parts and end_ns is not None and end_ns <= begin_ns:
            end_ns = begin_ns + self.lasts_ns[firing.channel]
        return begin_ns, end_ns

    def key(self, firing):
        return firing.cue, firing.n, firing.channel, self.count.get(firing.begin[0], 0)

    # -- what people do: each returns whether it is taken -----------------------------------------------------------

    def start(self, point, origin_ns, rate):
        if self.phase != "standby" or self.game.order(point) >= self.game.order(self.game.last_end):
            return False
        self.rate, self.phase, self.counted_ns, self.begun_at = rate, "waiting", origin_ns, point[0]
        for part in self.game.parts[: self.game.parts.index(point[0]) + 1]:
            behind_ns = self.game.nominal_ns(point) - self.game.nominal_ns((part, 0))
            self.origins[part] = origin_ns - round(behind_ns / rate)
        if point != ("match", 0):
            self.starts_ns = origin_ns
        return self._changed()

    def begin(self, origin_ns):
        awaited = self._awaited()
        if self.phase != "running" or awaited is None or origin_ns < self.origins[self._latest()]:
            return False
        period, awaits, *_ = self.holds()
        first = next(place for place, one in enumerate(self.game.periods) if one.id == awaited)
        if awaits != awaited and period != self.game.periods[first - 1].id:
            return False
        self.origins[awaited] = origin_ns
        return self._changed()

    def hold(self):
        if self.phase != "running":
            return False
        self.phase, self.held_since_ns = "held", self.now_ns
        for firing in [one for one in self.firings if self.key(one) in self.shown]:
            self._off(firing)
        return True

    def go_on(self):
        if self.phase != "held":
            return False
        for anchor, origin_ns in self.origins.items():
            if not (anchor.startswith("call.") and origin_ns <= self.held_since_ns):
                self.origins[anchor] += self.now_ns - self.held_since_ns
        if self.starts_ns:
            self.starts_ns += self.now_ns - self.held_since_ns
        self.phase = "running"
        return self._changed()

    def correct(self, by_ns):
        """Put the clock on by real time (or back)."""
        if self.phase not in ("waiting", "running", "held"):
            return False
        latest = self._latest()
        moved = [latest]
        if self.starts_ns and latest == self.begun_at:
            moved = self.game.parts[: self.game.parts.index(latest) + 1]
            self.starts_ns -= by_ns
        for part in moved:
            self.origins[part] -= by_ns
        if self.phase == "waiting":
            self.counted_ns -= by_ns
        return self._changed()

    def choose(self, variant):
        if self.phase in ("over", "scrapped"):
            return False
        self.variant = variant
        return self._changed()

    def mark(self, name, at_ns):
        if self.phase not in ("running", "held", "over"):
            return False
        anchor = f"mark.{name}"
        at_ns = min(at_ns, self.held_since_ns) if self.phase == "held" else at_ns
        hangs = {f.begin[0] for f in self.firings} | {f.end[0] for f in self.firings if f.end}
        if anchor in hangs | {p[0] for _, *points in self.windows for p in points}:
            self._anew(anchor, at_ns)
        return self._changed()

    def call(self, cue):
        own = [f for f in self.firings if f.cue == cue and f.called and f.when in ("", self.variant)]
        if self.phase != "running" or not own:
            return False
        coming = [
            f for f in self.firings
            if f.cue == cue and not f.begin[0].startswith(("call.", "mark.")) and f.when in ("", self.variant)
            and self._may_come(f)
        ]  # fmt: skip
        first = min((self.game.order(f.begin) for f in coming), default=None)
        self.given |= {(f.cue, f.n) for f in coming if self.game.order(f.begin) == first}
        self._anew(f"call.{cue}", self.now_ns)
        return self._changed()

    def scrap(self):
        if self.phase not in ("waiting", "running", "held"):
            return False
        self.phase = "scrapped"
        for firing in [one for one in self.firings if self.key(one) in self.shown]:
            self._off(firing)
        return True

    # -- what holds -------------------------------------------------------------------------------------------------

    def holds(self):
        """Return the period, what waits for a person, the open windows, and whether all is over."""
        begun = [part for part in self.game.parts if part in self.origins and self._elapsed_ns(part) >= 0]
        if not begun:
            return "", "", (), False
        part = begun[-1]
        at_ns = self._elapsed_ns(part)
        period = ""
        for one, (own, begin_ns, end_ns) in zip(self.game.periods, self.game.places, strict=True):
            if own == part and begin_ns <= at_ns and (end_ns is None or at_ns < end_ns):
                period = one.id
        place = self.game.parts.index(part)
        awaits = self.game.parts[place + 1] if not period and place + 1 < len(self.game.parts) else ""
        ended = self._passed(self.game.last_end, part)
        opened = () if ended else tuple(
            name for name, begin, end in self.windows if self._passed(begin, part) and not self._passed(end, part)
        )  # fmt: skip
        return period, awaits, opened, ended

    # -- time goes on -----------------------------------------------------------------------------------------------

    def advance(self, to_ns):
        """Let time pass: at each instant at which something begins or ends look at all of it."""
        while True:
            edges = [self.counted_ns] if self.phase == "waiting" else []
            if self.phase in ("waiting", "running", "over"):
                for firing in self.firings:
                    edges += [ns for ns in (self.span(firing) or ()) if ns is not None]
                    edges += [ns for ns in (self.cut_ns(firing.begin[0]),) if ns is not None]
                edges += [self.starts_ns, *(ns for ns in [self.real_ns(self.game.last_end)] if ns is not None)]
            ahead = min((ns for ns in edges if self.now_ns < ns <= to_ns), default=None)
            if ahead is None:
                break
            self.now_ns = ahead
            self._changed()
        self.now_ns = to_ns

    # -- how --------------------------------------------------------------------------------------------------------

    def _latest(self):
        return [part for part in self.game.parts if part in self.origins][-1]

    def _awaited(self):
        place = self.game.parts.index(self._latest()) + 1 if self.origins else 0
        return self.game.parts[place] if self.origins and place < len(self.game.parts) else None

    def _anew(self, anchor, at_ns):
        for firing in [one for one in self.firings if one.begin[0] == anchor and self.key(one) in self.shown]:
            self._off(firing)
        self.count[anchor] = self.count.get(anchor, -1) + 1
        self.origins[anchor] = at_ns

    def _may_come(self, firing):
        begin_ns = self.real_ns(firing.begin)
        if begin_ns is None:
            return True
        cut_ns = self.cut_ns(firing.begin[0])
        return max(self.now_ns, self.starts_ns) <= begin_ns and (cut_ns is None or begin_ns < cut_ns)

    def _elapsed_ns(self, anchor):
        now_ns = self.held_since_ns if self.phase == "held" else self.now_ns
        return round((now_ns - self.origins[anchor]) * self.rate)

    def _passed(self, point, part):
        if point[0] in self.game.parts and point[0] != part:
            return self.game.parts.index(point[0]) < self.game.parts.index(part)
        return point[0] in self.origins and self._elapsed_ns(point[0]) >= point[1]

    def _changed(self):
        if self.phase == "waiting" and self.now_ns >= self.counted_ns:
            self.phase = "running"
        if self.phase == "running" and self.holds()[3]:
            self.phase = "over"
        if self.phase in ("waiting", "running", "over"):
            for firing in self.firings:
                self._decide(firing)
        return True

    def _decide(self, firing):
        span, key = self.span(firing), self.key(firing)
        if span is None:
            if key in self.shown:
                self._off(firing)
            cut_ns, begin_ns = self.cut_ns(firing.begin[0]), self.real_ns(firing.begin)
            cut_off = None not in (begin_ns, cut_ns) and cut_ns <= self.now_ns and begin_ns >= cut_ns
            if cut_off and firing.when in ("", self.variant):
                self._skip(key)
            return
        begin_ns, end_ns = span
        of_start = firing.begin[0] in self.game.parts and self.origins[firing.begin[0]] <= self.starts_ns
        first_ns = max(begin_ns, self.starts_ns) if of_start else begin_ns
        if key in self.shown:
            back = first_ns > self.now_ns and firing.kind == "sustained"
            if back or (end_ns is not None and end_ns <= self.now_ns):
                self._off(firing)
            return
        if first_ns > self.now_ns:
            return
        fresh = key not in self.decided
        inside = firing.kind != "one-shot" and (end_ns is None or self.now_ns < end_ns)
        if (firing.cue, firing.n) in self.given and not firing.called:
            self._skip(key)
        elif fresh and first_ns == begin_ns and self.now_ns <= begin_ns + firing.limit_ns and (
            inside or firing.kind != "sustained"
        ):
            self._on(firing, "played", inside)
        elif inside:
            self._on(firing, "resumed", True)
        else:
            self._skip(key)

    def _skip(self, key):
        if key not in self.decided:
            self.skipped.add(key)
        self.decided.add(key)

    def _on(self, firing, what, stays):
        self.decided.add(self.key(firing))
        if stays:
            self.shown[self.key(firing)] = True
        self.log.append((self.now_ns, what, firing.cue, firing.n, firing.channel))

    def _off(self, firing):
        del self.shown[self.key(firing)]
        if firing.channel == "light":
            self.log.append((self.now_ns, "off", firing.cue, firing.n, firing.channel))
