"""Schedule one channel's firings on the shared clock. Pure: origins go in, due orders come out.

The rules it keeps:

* A firing lands at ``origin + offset / rate``; the device's latency is taken off, so all channels land together.
* A *one-shot* firing begins at most once a run and instance, whatever origins come. Later than its ``late_limit`` it is
  skipped: "crossed" if the clock was set past it, "late" if this process was late. A count-in to a moment in mid-match
  crosses all firings before that moment, and begins none of them.
* A firing with an ``until`` is a state: whenever now lies in its interval and it does not show, it is resumed (rumble:
  one pulse). Its end may move, or be unknown as long as its anchor is.
* A clock that is put back ends a state whose begin lies ahead again; but a pad is not shaken for it twice.
* Once a later segment of the match has begun, the remaining firings of earlier segments are crossed, and states that
  were to last until a moment of them end.
"""

from collections.abc import Iterable, Sequence
from itertools import takewhile
from typing import Literal

import msgspec

from tocsin.model.clock.origins import NEVER_NS, Origin, cut_ns
from tocsin.model.timeline.timeline import Firing, Point

Key = tuple[int, int]                  # the firing's number in the timeline, the instance of its anchor
Verb = Literal["begin", "resume", "change", "end", "skip"]


class Shot(msgspec.Struct, frozen=True, kw_only=True):
    """A firing placed in real time on the shared clock, device latency already taken off.

    It lasts ``[begin_ns, end_ns)``; ``end_ns`` is None while the end hangs on an unknown anchor. ``resumed`` means that
    the begin has passed and only the rest is to be shown. ``instance`` tells apart repeated marks and calls.
    """

    firing: Firing
    instance: int
    begin_ns: int
    end_ns: int | None
    resumed: bool = False

    @property
    def key(self) -> Key:
        """Return what identifies this shot within a run."""
        return (self.firing.no, self.instance)


class Order(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to do now. "begin" and "resume" fire the shot, "change" shows its new end, "end" ends it, "skip" only
    records ``why`` (late, crossed, given)."""

    verb: Verb
    shot: Shot
    why: str = ""


class Schedule:
    """The firings of one channel against the known origins.

    ``segments`` are the anchors of the match's segments in order; ``done`` holds the firings that an earlier process of
    this channel has recorded.
    """

    def __init__(
        self, firings: Sequence[Firing], segments: Sequence[str], *, latency_ns: int = 0, done: Iterable[Key] = ()
    ) -> None:
        self._firings = tuple(firings)
        self._rank = {anchor: rank for rank, anchor in enumerate(segments)}
        self._latency_ns = latency_ns
        self._latency_of_role_ns: dict[str, int] = {}
        self._origins: dict[str, Origin] = {}
        self._variant = ""
        self._done = set(done)
        self._given: set[int] = set()
        self._live: dict[Key, Shot] = {}
        self._waiting: list[Shot] = []
        self._stale = True

    @property
    def live(self) -> tuple[Shot, ...]:
        """The shots that have begun and not ended."""
        return tuple(self._live.values())

    def set_role_latency(self, latency_ns: dict[str, int]) -> None:
        """Use the delay of each role's device instead of the channel's."""
        self._latency_of_role_ns = dict(latency_ns)
        self._stale = True

    def set_origin(self, origin: Origin) -> None:
        """Take an anchor's origin, new or moved."""
        self._origins[origin.anchor] = origin
        self._stale = True

    def withdraw(self) -> None:
        """Forget all origins: the clock is held, or the run is over. Running shots end with the next ``due``."""
        self._origins.clear()
        self._stale = True

    def choose(self, variant: str) -> None:
        """Set the variant."""
        self._variant = variant
        self._stale = True

    def give(self, numbers: Iterable[int]) -> None:
        """Count these firings as given by hand: they are skipped when due."""
        self._given.update(numbers)
        self._stale = True

    def next_ns(self) -> int | None:
        """Return when the next order falls due, in shared time, or None if nothing waits. May lie in the past."""
        if self._stale:
            return 0
        ends = [shot.end_ns for shot in self._live.values() if shot.end_ns is not None]
        if self._waiting:
            ends.append(self._waiting[0].begin_ns)
        return min(ends, default=None)

    def next_begin_ns(self) -> int | None:
        """Return when the next shot begins, in shared time, or None."""
        return self._waiting[0].begin_ns if self._waiting and not self._stale else None

    def upcoming(self, until_ns: int) -> list[Shot]:
        """Return the shots that begin before ``until_ns``, in order, so that they can be prepared."""
        soon = takewhile(lambda shot: shot.begin_ns < until_ns, self._waiting)
        return [shot for shot in soon if shot.firing.no not in self._given]

    def due(self, now_ns: int) -> list[Order]:
        """Return the orders due at ``now_ns``, ends before begins, and count them as done."""
        orders: list[Order] = []
        if self._stale:
            self._stale = False
            orders += self._replace(now_ns)
        orders += self._ends(now_ns)
        while self._waiting and self._waiting[0].begin_ns <= now_ns:
            order = self._begin(self._waiting.pop(0), now_ns)
            if order is not None:
                orders.append(order)
        return orders

    def _ends(self, now_ns: int) -> list[Order]:
        over = [s for s in self._live.values() if s.end_ns is not None and s.end_ns <= now_ns]
        for shot in over:
            del self._live[shot.key]
        # Motors and sounds end by themselves with their pattern; an end here would cut what the device still plays.
        return [Order(verb="end", shot=s) for s in over if s.firing.channel in ("light", "screen")]

    def _begin(self, shot: Shot, now_ns: int) -> Order | None:
        """Decide about a shot whose begin has come; None if there is nothing to say (a state that is past again)."""
        fresh = shot.key not in self._done
        self._done.add(shot.key)
        firing = shot.firing
        if firing.no in self._given:
            return Order(verb="skip", shot=shot, why="given") if fresh else None
        if self._cut_off(shot):
            return Order(verb="skip", shot=shot, why="crossed") if fresh else None
        origin = self._origins[firing.begin.anchor]
        left_out = origin.real_ns(firing.begin.offset_ns) < origin.starts_ns
        # A state that is over by now has nothing left to show, however short it was.
        over = firing.sustained and shot.end_ns is not None and shot.end_ns <= now_ns
        on_time = not left_out and not over and now_ns <= shot.begin_ns + firing.late_limit_ns
        state = firing.until is not None
        if state and (shot.end_ns is None or now_ns < shot.end_ns) and not (fresh and on_time):
            shot = msgspec.structs.replace(shot, resumed=True)
            self._live[shot.key] = shot
            return Order(verb="resume", shot=shot)
        if fresh and on_time:
            self._live[shot.key] = shot
            return Order(verb="begin", shot=shot)
        why = "crossed" if left_out or shot.begin_ns + firing.late_limit_ns < origin.sent_ns else "late"
        return Order(verb="skip", shot=shot, why=why) if fresh else None

    def _cut_off(self, shot: Shot) -> bool:
        """Return whether a later segment began before this shot could."""
        begin = shot.firing.begin
        return self._origins[begin.anchor].real_ns(begin.offset_ns) >= self._cut_ns(begin.anchor)

    def _replace(self, now_ns: int) -> list[Order]:
        """Place all firings anew after origins, variant or latencies changed; return what that ends or moves."""
        placed = {shot.key: shot for firing in self._firings if (shot := self._place(firing)) is not None}
        orders: list[Order] = []
        for key, old in list(self._live.items()):
            new = placed.pop(key, None)
            if new is not None and old.firing.until is None:
                continue                                       # a one-shot pattern runs on in real time
            ahead = new is not None and new.begin_ns > now_ns and old.firing.sustained
            if new is None or ahead or (new.end_ns is not None and new.end_ns <= now_ns):
                del self._live[key]
                orders.append(Order(verb="end", shot=old))
                if new is not None:
                    placed[key] = new
            elif new.end_ns != old.end_ns:
                self._live[key] = msgspec.structs.replace(old, end_ns=new.end_ns)
                orders.append(
                    Order(verb="change", shot=msgspec.structs.replace(self._live[key], resumed=True))
                )
        self._waiting = sorted(
            (s for s in placed.values() if s.key not in self._done or s.firing.until is not None),
            key=lambda s: (s.begin_ns, s.firing.no),
        )
        return orders

    def _place(self, firing: Firing) -> Shot | None:
        """Return where a firing stands on the shared clock, or None while it cannot come."""
        origin = self._origins.get(firing.begin.anchor)
        if origin is None or (firing.when and firing.when != self._variant):
            return None
        latency_ns = self._latency_of_role_ns.get(firing.role or "", self._latency_ns)
        land_ns = origin.real_ns(firing.begin.offset_ns)
        cut = self._cut_ns(firing.begin.anchor)
        if land_ns >= cut:
            return self._shot(firing, origin, cut, cut)     # to be recorded as crossed when that begins
        end_ns = self._end_ns(firing, land_ns)
        if end_ns is not None:
            end_ns -= latency_ns
        return self._shot(firing, origin, max(land_ns, origin.starts_ns) - latency_ns, end_ns)

    def _shot(self, firing: Firing, origin: Origin, begin_ns: int, end_ns: int | None) -> Shot:
        return Shot(firing=firing, instance=origin.instance, begin_ns=begin_ns, end_ns=end_ns)

    def _end_ns(self, firing: Firing, land_ns: int) -> int | None:
        if firing.until is None:
            return land_ns + firing.lasts_ns
        end_ns = self._real_ns(firing.until)
        # Wherever it began: it ends no later than the segment in which its end lies.
        end_ns = min(NEVER_NS if end_ns is None else end_ns, self._cut_ns(firing.until.anchor))
        if end_ns <= land_ns and firing.begin.anchor not in self._rank:
            return land_ns + firing.lasts_ns                   # called after the moment that it was to hold until
        return None if end_ns == NEVER_NS else end_ns

    def _real_ns(self, point: Point) -> int | None:
        origin = self._origins.get(point.anchor)
        return None if origin is None else origin.real_ns(point.offset_ns)

    def _cut_ns(self, anchor: str) -> int:
        """Return when a later segment than the anchor's begins, as far as that is known."""
        return cut_ns(anchor, self._rank, self._origins)
