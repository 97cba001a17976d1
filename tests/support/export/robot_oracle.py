"""What a robot's program has to answer, by the schedule that the laptop's own channels follow.

A robot's program knows the segment that it is polled in, and no other: the oracle places the origin of that segment's
anchor so that the polled position is now, and forgets the origins of earlier ones. The schedule decides what begins, is
resumed, skipped. Two rules are the robot's own and are kept here: each firing is given once a match (the laptop shows
a state again after a hold), and a firing of a call is told apart as "called".
"""

from tocsin.model.clock.origins import Origin, Origins, next_occurrence
from tocsin.model.clock.schedule import Schedule
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

OK, WRONG_PERIOD, EARLIER, LOST, READING, NOT_CALLABLE, OTHER_VARIANT, WRONG_VARIANT, TWICE, FELL_BACK = range(10)
FAR_NS = 10**15                     # between the segments' origins on the oracle's own clock
MOST_MS = 500_000_000               # larger milliseconds are taken as these
LATE_PRESS_MS = 250
LOST_STEPS = ((0, 60, 300),)


class Oracle:
    """One robot's program. Methods return the text that the drivers of all languages print for the same deed."""

    def __init__(self, source, roles, cues):
        self.timeline = source.timeline
        self.patterns = source.plan.patterns.rumble
        self.roles, self.cues = roles, cues            # ids by number, without the clock-lost cue
        self.rumble = [firing for firing in self.timeline.firings if firing.channel == "rumble"]
        self.anchors = [segment.anchor for segment in self.timeline.segments]
        self.restart(-1)

    def answer(self, deed):
        """Return what one deed has to print."""
        verb, a, b, c = deed
        return {
            "p": lambda: self.poll(a, b), "c": lambda: self.call(a, b), "v": lambda: self.choose(a),
            "r": lambda: self.restart(a), "l": self.clock_lost, "o": lambda: self.official(a, b, c),
            "b": lambda: self.busy(a, b), "L": lambda: self.level(a, b),
        }[verb]()  # fmt: skip

    # -- deeds --------------------------------------------------------------------------------------------------------

    def restart(self, variant):
        variants = self.timeline.variants
        self.variant = variants[variant] if 0 <= variant < len(variants) else self.timeline.default_variant
        calls = [firing for firing in self.rumble if firing.begin.anchor.startswith("call.")]
        self.schedule = Schedule([firing for firing in self.rumble if firing not in calls], self.anchors)
        self.by_hand = Schedule(calls, self.anchors)
        self._choose(self.variant)
        self.given = set()
        self.period = self.slot = None
        self.polled_ms = []             # in the newest period, with a known clock
        self.position_ms = None
        self.first_anchor = self.starts_ms = None
        self.lost = self.lost_told = False
        self.corrected, self.correction_ms = None, 0
        self.heard, self.heard_ms = None, 0
        self.logged = ("-", -1)
        self.pressed = {}
        self.instances = 0
        self.pads = [Pad() for _ in self.roles]
        return f"{WRONG_VARIANT if not -1 <= variant < len(variants) else OK}"

    def poll(self, period, ms):
        for pad in self.pads:
            pad.age()
        if not 0 <= period < len(self.timeline.periods):
            return f"{WRONG_PERIOD} "
        if self.period is not None and period < self.period:
            return f"{EARLIER} "
        slot = self.timeline.periods[period]
        if ms < 0:
            self.logged = (slot.id, ms)
            return self._tell_lost()
        if self.heard is None or self.heard.anchor != slot.anchor:
            for pad in self.pads:
                pad.forget_busy()
        self.heard, self.heard_ms = slot, self._position_ms(period, ms)
        self.logged = (slot.id, self.heard_ms - slot.begin_ns // MS)
        if self.lost:
            return self._tell_lost()
        if period != self.period:
            self.polled_ms = []
            self._enter(period, slot)
        self.polled_ms.append(ms)
        status = FELL_BACK if ms < max(self.polled_ms) - 5000 else OK
        self.position_ms = self.heard_ms
        orders = self.schedule.due(self._now_ns())
        lines = [
            self._line(order.shot.firing, "played" if order.verb == "begin" else "resumed")
            for order in orders
            if order.verb in ("begin", "resume") and order.shot.firing.no not in self.given
            and not self.given.add(order.shot.firing.no)
        ]  # fmt: skip
        return f"{status} {';'.join(lines)}"

    def call(self, number, now_ms):
        cue = self.cues[number] if 0 <= number < len(self.cues) else None
        calls = [firing for firing in self.rumble if firing.begin.anchor == f"call.{cue}"]
        if not calls:
            return f"{NOT_CALLABLE} "
        if calls[0].when not in ("", self.variant):
            return f"{OTHER_VARIANT} "
        before_ms = self.pressed.get(cue)
        self.pressed[cue] = now_ms
        if before_ms is not None and (now_ms - before_ms) % (1 << 32) < 1000:
            return f"{TWICE} "
        self.instances += 1
        at_ns = self.instances * FAR_NS
        self.by_hand.set_origin(Origin(anchor=f"call.{cue}", origin_ns=at_ns, instance=self.instances))
        orders = [order for order in self.by_hand.due(at_ns) if order.verb == "begin"]
        lines = [self._line(order.shot.firing, "called") for order in orders]
        if self.period is not None:
            self.schedule.give(self._next_occurrence(cue))
        return f"{OK} {';'.join(lines)}"

    def choose(self, variant):
        if not 0 <= variant < len(self.timeline.variants):
            return f"0 {WRONG_VARIANT}"
        self._choose(self.timeline.variants[variant])
        return f"1 {OK}"

    def clock_lost(self):
        self.lost = True
        self.polled_ms = []
        self.corrected = None
        return f"{OK}"

    def official(self, period, ms, shown_s):
        if not 0 <= period < len(self.timeline.periods):
            return f"0 {WRONG_PERIOD}"
        if self.period is not None and period < self.period:
            return f"0 {EARLIER}"
        slot = self.timeline.periods[period]
        at_ms = None if ms < 0 or shown_s < 0 else self._shown_at_ms(slot, shown_s)
        if at_ms is None:
            return f"0 {READING}"
        self.corrected = None
        self.correction_ms = at_ms + LATE_PRESS_MS - self._position_ms(period, ms)
        self.corrected = period
        self.lost = self.lost_told = False
        if self.slot is not None:
            self._set_origin()
        return f"1 {OK}"

    def busy(self, role, ms):
        if self.heard is None or ms < 0:
            return "0"
        at_ms = self._position_ms(self.timeline.periods.index(self.heard), ms)
        if self.pads[role].busy(at_ms):
            return "1"
        # Ahead of what the newest poll decided; what waits behind it after a choice or a call is left to the next poll.
        return "0" if self.lost or self.heard is not self.slot else self._soon(role, at_ms)

    def level(self, role, now_ms):
        strong, weak = self.pads[role].level(now_ms)
        return f"{strong} {weak} {max(strong, weak)}"

    # -- how ----------------------------------------------------------------------------------------------------------

    def _choose(self, variant):
        self.variant = variant
        self.schedule.choose(variant)
        self.by_hand.choose(variant)

    def _position_ms(self, period, ms):
        since_ms = min(ms, MOST_MS) + (self.correction_ms if period == self.corrected else 0)
        return self.timeline.periods[period].begin_ns // MS + max(since_ms, 0)

    def _enter(self, period, slot):
        if self.slot is None:
            self.first_anchor, self.starts_ms = slot.anchor, slot.begin_ns // MS
        if self.slot is None or self.slot.anchor != slot.anchor:
            self.schedule.withdraw()
        self.period, self.slot = period, slot
        self._set_origin()

    def _set_origin(self):
        base_ns = self._base_ns()
        starts_ns = base_ns + self.starts_ms * MS if self.slot.anchor == self.first_anchor else 0
        self.schedule.set_origin(Origin(anchor=self.slot.anchor, origin_ns=base_ns, starts_ns=starts_ns))

    def _base_ns(self):
        return (1 + self.anchors.index(self.slot.anchor)) * FAR_NS

    def _now_ns(self):
        return self._base_ns() + self.position_ms * MS

    def _next_occurrence(self, cue):
        """As the laptop's match counts it, with earlier segments left a moment ago, each before its end. A moment
        within the millisecond of the newest poll was given by that poll, and is not behind it yet."""
        rank = self.anchors.index(self.slot.anchor)
        left = [Origin(anchor=anchor, origin_ns=place - rank) for place, anchor in enumerate(self.anchors[:rank])]
        origins = Origins(self.timeline, [*left, Origin(anchor=self.slot.anchor, origin_ns=0)])
        elapsed_ns = origins.elapsed_ns((self.position_ms - 1) * MS + 1)
        rumble = {firing.no for firing in self.rumble}
        return [no for no in next_occurrence(self.timeline, origins, elapsed_ns, self.variant, cue) if no in rumble]

    def _shown_at_ms(self, slot, shown_s):
        """Return where in the segment, rounded up, the official display changes to a reading, or None."""
        timeline = self.timeline
        left_ns = (shown_s + (1 if timeline.digits == "floor" else 0)) * S
        if slot.end_ns is None or slot.kind == "settle":
            return None
        if timeline.counts == "period":
            at_ms = -(-(slot.end_ns - left_ns) // MS)
            return at_ms if slot.begin_ns // MS <= at_ms else None
        begins_ns = {segment.anchor: segment.match_ns for segment in timeline.segments}
        end = timeline.match_end()
        at_ms = -(-(begins_ns[end.anchor] + end.offset_ns - left_ns - begins_ns[slot.anchor]) // MS)
        last_ns = max(one.end_ns for one in timeline.periods if one.anchor == slot.anchor and one.end_ns is not None)
        return at_ms if slot.begin_ns // MS <= at_ms <= -(-last_ns // MS) else None

    def _tell_lost(self):
        lines = []
        if not self.lost_told:
            for role, id in enumerate(self.roles):
                self.pads[role].begin(5, LOST_STEPS, self._heard_or_none())
                lines.append(self._text("clock-lost", 0, id, "played"))
        self.lost_told = True
        return f"{LOST} {';'.join(lines)}"

    def _line(self, firing, outcome):
        steps = steps_of(self.patterns[firing.pattern], firing.lasts_ns)
        self.pads[self.roles.index(firing.role)].begin(firing.priority, steps, self._heard_or_none())
        return self._text(firing.cue, firing.n, firing.role, outcome)

    def _heard_or_none(self):
        return None if self.heard is None else self.heard_ms

    def _text(self, cue, n, role, outcome):
        period, ms = self.logged
        return f"TOCSIN1 period={period} ms={ms} cue={cue} n={n} role={role} outcome={outcome}"

    def _soon(self, role, at_ms):
        """Return whether a firing of the role that can still come is due soon; "?" where a poll has to come first."""
        if self.schedule.next_ns() == 0:
            return "?"
        base_ns = self._base_ns()
        for shot in self.schedule.upcoming(1 << 62):
            firing, begin_ns = shot.firing, shot.begin_ns - base_ns
            near = -(-begin_ns // MS) - 300 <= at_ms <= (begin_ns + firing.late_limit_ns) // MS
            if near and firing.role == self.roles[role] and firing.no not in self.given:
                return "1"
        return "0"


def steps_of(pattern, lasts_ns):
    """Return (strong, weak, end in ms) of a pattern's steps, as they are written, cut after ``lasts_ns``."""
    found, at_ns = [], 0
    for step in pattern.steps * pattern.times:
        at_ns += step.lasts_ns
        found.append((_percent(step.strong), _percent(step.weak), min(at_ns, lasts_ns) // MS))
    return tuple(found)


def _percent(strength):
    return 0 if strength == 0 else max(1, round(100 * strength))


class Pad:
    """One role's pad: what it plays, and when it is to be left alone."""

    def __init__(self):
        self.next = self.playing = None
        self.waited = 0
        self.forget_busy()

    def forget_busy(self):
        self.busy_from, self.busy_until = 0, 0

    def begin(self, priority, steps, at_ms):
        if self.next is None or priority >= self.next[0]:
            self.next, self.waited = (priority, steps), 0
        if at_ms is None:
            return
        until = at_ms + steps[-1][2] + 150
        if at_ms < self.busy_from or at_ms - 300 > self.busy_until:
            self.busy_from, self.busy_until = at_ms - 300, until
        else:
            self.busy_until = max(self.busy_until, until)

    def busy(self, at_ms):
        return self.busy_from <= at_ms < self.busy_until

    def age(self):
        if self.next is not None:
            self.waited += 1
            if self.waited > 50:
                self.next = None

    def level(self, now_ms):
        if self.playing is not None and self._ago(now_ms) >= self.playing[1][-1][2]:
            self.playing = None
        if self.next is not None:
            if self.playing is None or self.next[0] >= self.playing[0]:
                self.playing = (*self.next, now_ms)
            self.next = None
        if self.playing is None:
            return 0, 0
        ago_ms = self._ago(now_ms)
        return next((strong, weak) for strong, weak, end_ms in self.playing[1] if ago_ms < end_ms)

    def _ago(self, now_ms):
        return (now_ms - self.playing[2]) % (1 << 32)
