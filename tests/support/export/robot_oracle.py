"""What a robot's program has to answer, by the schedule that the laptop's own channels follow.

A robot's program knows the segment that it is polled in, and no other: the oracle places the origin of that segment's
anchor so that the polled position is now, and forgets the origins of earlier ones. The schedule decides what begins, is
resumed, skipped. Two rules are the robot's own and are kept here: each firing is given once a match (the laptop shows
a state again after a hold), and a firing of a call is told apart as "called".

What a strip shows is worked out from the timeline's own firings at the polled position (``Strip``).
"""

from fractions import Fraction

from tocsin.export.robot.light import colours, look
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
        self.sound = [firing for firing in self.timeline.firings if firing.channel == "sound"]
        self.tunes = source.plan.patterns.sound
        self.looks = source.plan.patterns.light
        self.anchors = [segment.anchor for segment in self.timeline.segments]
        self.restart(-1)

    def answer(self, deed):
        """Return what one deed has to print."""
        verb, a, b, c = deed
        return {
            "p": lambda: self.poll(a, b), "c": lambda: self.call(a, b), "v": lambda: self.choose(a),
            "r": lambda: self.restart(a), "l": self.clock_lost, "o": lambda: self.official(a, b, c),
            "b": lambda: self.busy(a, b), "L": lambda: self.level(a, b),
            "H": lambda: self.strip.shows(a, b), "T": lambda: self.speaker.tone(a),
            "B": lambda: self.begin(a), "R": lambda: self.roll(a), "S": lambda: self.sync(a, b),
            "W": lambda: self.told(a),
        }[verb]()  # fmt: skip

    # -- deeds --------------------------------------------------------------------------------------------------------

    def restart(self, variant):
        variants = self.timeline.variants
        self.variant = variants[variant] if 0 <= variant < len(variants) else self.timeline.default_variant
        calls = [firing for firing in self.rumble if firing.begin.anchor.startswith("call.")]
        self.schedule = Schedule([firing for firing in self.rumble if firing not in calls], self.anchors)
        self.by_hand = Schedule(calls, self.anchors)
        self.strip, self.speaker = Strip(self), Pad()
        self.tones = [Schedule([f for f in self.sound if f.begin.anchor in self.anchors], self.anchors)]
        self.running, self.began_ms = None, 0
        self.known = False
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

    def poll(self, period, ms, logged=None):
        for pad in (*self.pads, self.speaker):
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
        self.logged = logged or (slot.id, self.heard_ms - slot.begin_ns // MS)
        if self.lost:
            return self._tell_lost()
        if period != self.period:
            self.polled_ms = []
            self._enter(period, slot)
        self.polled_ms.append(ms)
        status = FELL_BACK if ms < max(self.polled_ms) - 5000 else OK
        self.position_ms = self.heard_ms
        self.known = True
        for order in self.tones[0].due(self._now_ns()):
            if order.verb == "begin":
                self._sound(order.shot.firing)
        self.strip.polled()
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
        calls = [firing for firing in self.timeline.firings
                 if firing.channel != "screen" and firing.begin.anchor == f"call.{cue}"]  # fmt: skip
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
        for firing in calls:
            if firing.channel == "light":
                self.strip.call(firing, now_ms)
            elif firing.channel == "sound":
                self._sound(firing)
        if self.period is not None:
            coming = self._next_occurrence(cue)
            self.schedule.give(coming)
            self.tones[0].give(coming)
            self.strip.give(coming)
        return f"{OK} {';'.join(lines)}"

    def choose(self, variant):
        if not 0 <= variant < len(self.timeline.variants):
            return f"0 {WRONG_VARIANT}"
        self._choose(self.timeline.variants[variant])
        return f"1 {OK}"

    def clock_lost(self):
        self.lost = True
        self.known = False
        self.polled_ms = []
        self.corrected = None
        return f"{OK}"

    # -- on one clock -------------------------------------------------------------------------------------------------

    def begin(self, now_ms):
        if not self._waits(now_ms):
            return "0"
        self.running = 0 if self.running is None else self.running + 1
        self.began_ms = now_ms - LATE_PRESS_MS
        return "1"

    def roll(self, now_ms):
        if self.running is None and not self.lost:
            for pad in (*self.pads, self.speaker):
                pad.age()
            return f"{OK} "
        periods = self.timeline.periods
        if self.running is None:
            return self.poll(periods.index(self._main()), -1)
        own = [slot for slot in periods if slot.anchor == self.anchors[self.running]]
        at_ms = self._since_ms(now_ms)
        slot = [slot for slot in own if slot.begin_ns // MS <= at_ms][-1]
        return self.poll(periods.index(own[0]), at_ms, (slot.id, at_ms - slot.begin_ns // MS))

    def sync(self, now_ms, shown_s):
        anew = self.lost or self.running is None
        slots = self.timeline.periods
        slots = [self._main()] if anew else [one for one in slots if one.anchor == self.anchors[self.running]]
        here_ms = 0 if anew else self._since_ms(now_ms)
        known = [(slot, self._shown_at_ms(slot, shown_s)) for slot in slots if 0 <= shown_s <= MOST_MS // 1000]
        found = [(slot, at_ms) for slot, at_ms in known if at_ms is not None]
        if not found:
            return f"0 {READING}"
        slot, at_ms = min(found, key=lambda one: abs(one[1] - here_ms))
        self.running = self.anchors.index(slot.anchor)
        if self.slot is not None and self.anchors.index(self.slot.anchor) > self.running:
            self.period = self.slot = None
        self.began_ms = now_ms - at_ms - LATE_PRESS_MS
        self.corrected = None
        self.polled_ms = []
        self.lost = self.lost_told = False
        if self.slot is not None:
            self._set_origin()
        return f"1 {OK}"

    def told(self, now_ms):
        last = self.timeline.periods[-1]
        over = self.running == len(self.anchors) - 1 and self._since_ms(now_ms) >= last.end_ns // MS
        ms = -1 if self.running is None else self._since_ms(now_ms)
        return f"{int(self._waits(now_ms))} {int(over)} {ms}"

    def _waits(self, now_ms):
        if self.running is None:
            return not self.lost
        if self.running + 1 == len(self.anchors):
            return False
        segment = self.timeline.segments[self.running]
        last = [slot for slot in self.timeline.periods if slot.anchor == segment.anchor][-1]
        ends_ns = last.begin_ns if segment.lasts_ns is None else segment.lasts_ns
        return self._since_ms(now_ms) >= ends_ns // MS

    def _since_ms(self, now_ms):
        return min((now_ms - self.began_ms) % (1 << 32), MOST_MS)

    def _main(self):
        played = [slot for slot in self.timeline.periods if slot.kind != "settle"]
        return ([slot for slot in played if slot.kind == "driver"] or played)[-1]

    def _sound(self, firing):
        steps, at_ns = [], 0
        pattern = self.tunes[firing.pattern]
        for step in pattern.steps * pattern.times:
            at_ns += step.lasts_ns
            hz, to_hz = (round(step.hz), round(step.to_hz or step.hz)) if step.hz else (0, 0)
            end_ms = min(at_ns, firing.lasts_ns) // MS
            steps.append((hz, to_hz, _percent(step.level) if step.hz else 0, end_ms))
        self.speaker.begin(firing.priority, steps, None)

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
        self.tones[0].choose(variant)
        self.strip.schedule.choose(variant)
        self.schedule.choose(variant)
        self.by_hand.choose(variant)

    def _position_ms(self, period, ms):
        since_ms = min(ms, MOST_MS) + (self.correction_ms if period == self.corrected else 0)
        return self.timeline.periods[period].begin_ns // MS + max(since_ms, 0)

    def _enter(self, period, slot):
        if self.slot is None:
            self.first_anchor, self.starts_ms = slot.anchor, slot.begin_ns // MS
        if self.slot is None or self.slot.anchor != slot.anchor:
            for schedule in (self.schedule, self.tones[0], self.strip.schedule):
                schedule.withdraw()
        self.period, self.slot = period, slot
        self._set_origin()

    def _set_origin(self):
        base_ns = self._base_ns()
        starts_ns = base_ns + self.starts_ms * MS if self.slot.anchor == self.first_anchor else 0
        for schedule in (self.schedule, self.tones[0], self.strip.schedule):
            schedule.set_origin(Origin(anchor=self.slot.anchor, origin_ns=base_ns, starts_ns=starts_ns))

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
        return next_occurrence(self.timeline, origins, elapsed_ns, self.variant, cue)

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
        self.known = False
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


class Strip:
    """What the strip shows: by the timeline's firings and the position of the newest poll.

    A firing that holds shows whenever the position lies in it, unless it was given by hand ahead of its time. A
    one-shot shows if the schedule begins it, and once. Each segment is by itself. Of calls the newest shows, unless one
    of a higher priority does; until the moment of the match that it holds to, if that lies ahead in this segment.
    """

    def __init__(self, oracle):
        self.oracle = oracle
        self.firings = [firing for firing in oracle.timeline.firings if firing.channel == "light"]
        once = [f for f in self.firings if not f.sustained and f.begin.anchor in oracle.anchors]
        self.schedule = Schedule(once, oracle.anchors)
        self.begun, self.over, self.given = set(), set(), set()
        self.called = None

    def polled(self):
        for order in self.schedule.due(self.oracle._now_ns()):
            if order.verb == "begin":
                self.begun.add(order.shot.firing.no)

    def give(self, numbers):
        self.schedule.give(numbers)
        self.given.update(numbers)

    def call(self, firing, now_ms):
        oracle = self.oracle
        if self._called(now_ms) and self.called[0].priority > firing.priority:
            return
        here = oracle.heard.anchor if oracle.known else None
        until_ms = None
        if firing.until is not None and firing.until.anchor == here:
            until_ms = -(-firing.until.offset_ns // MS)
            until_ms = until_ms if oracle.position_ms < until_ms else None
        self.called = (firing, now_ms, here, oracle.position_ms or 0, until_ms)

    def shows(self, now_ms, leds):
        found = [one for firing in self.firings if (one := self._scheduled(firing))]
        best = max(found, key=lambda one: (one[0].priority, one[0].begin.offset_ns, one[0].no), default=None)
        if not self._called(now_ms):
            self.called = None
        else:
            firing, at_ms, here, from_ms, until_ms = self.called
            newer = best is None or (here is not None and here == self._here() and from_ms >= best[1])
            rank = -1 if best is None else best[0].priority
            if firing.priority > rank or (firing.priority == rank and newer):
                ago_ms, lasts_ms = max(_signed(now_ms - at_ms), 0), firing.lasts_ns // MS
                whole_ms, left_ms = lasts_ms, lasts_ms - ago_ms
                if until_ms is not None and self.oracle.known:
                    whole_ms, left_ms = until_ms - from_ms, until_ms - self.oracle.position_ms
                return self._drawn(firing, leds, ago_ms, left_ms, whole_ms)
        if best is None:
            return " ".join(["0", *["000000"] * (leds + 2)])
        firing, begin_ms, end_ms = best
        at_ms = self.oracle.position_ms
        if end_ms is None:
            return self._drawn(firing, leds, at_ms - begin_ms, 1, 1)
        return self._drawn(firing, leds, at_ms - begin_ms, end_ms - at_ms, end_ms - begin_ms)

    def _here(self):
        return (self.oracle.heard or self.oracle.timeline.periods[0]).anchor

    def _called(self, now_ms):
        if self.called is None:
            return False
        firing, at_ms, here, _, until_ms = self.called
        if until_ms is None or not self.oracle.known:
            return (now_ms - at_ms) % (1 << 32) < firing.lasts_ns // MS
        return self.oracle.heard.anchor == here and self.oracle.position_ms < until_ms

    def _scheduled(self, firing):
        """Return a firing with its begin and its end (None: unknown), in milliseconds, if it shows."""
        oracle = self.oracle
        if not oracle.known or firing.begin.anchor != oracle.heard.anchor:
            return None
        begin_ms = -(-firing.begin.offset_ns // MS)
        if firing.sustained:
            known = firing.until.anchor == firing.begin.anchor
            end_ms = -(-firing.until.offset_ns // MS) if known else None
        else:
            end_ms = begin_ms + firing.lasts_ns // MS
        inside = firing.when in ("", oracle.variant) and begin_ms <= oracle.position_ms
        inside = inside and (end_ms is None or oracle.position_ms < end_ms)
        if firing.sustained:
            return (firing, begin_ms, end_ms) if inside and firing.no not in self.given else None
        if firing.no not in self.begun or firing.no in self.over:
            return None
        if not inside:
            self.over.add(firing.no)
            return None
        return firing, begin_ms, end_ms

    def _drawn(self, firing, leds, ago_ms, left_ms, whole_ms):
        made = look(firing.pattern, self.oracle.looks[firing.pattern], firing.lasts_ns)
        shown = colours(made, leds, ago_ms, left_ms, whole_ms) if leds else []
        return " ".join(["1", "000000", *(bytes(colour).hex() for colour in shown), "000000"])


def _signed(ms):
    return (ms + (1 << 31)) % (1 << 32) - (1 << 31)


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
        until = at_ms + steps[-1][-1] + 150
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
        if not self._play(now_ms):
            return 0, 0
        ago_ms = self._ago(now_ms)
        return next((strong, weak) for strong, weak, end_ms in self.playing[1] if ago_ms < end_ms)

    def tone(self, now_ms):
        if not self._play(now_ms):
            return "0 0"
        ago_ms, from_ms = self._ago(now_ms), 0
        for hz, to_hz, percent, end_ms in self.playing[1]:
            if ago_ms < end_ms:
                share = Fraction(ago_ms - from_ms, end_ms - from_ms)
                return f"{hz + int((to_hz - hz) * share)} {percent}"
            from_ms = end_ms
        raise AssertionError("what has ended does not play")

    def _play(self, now_ms):
        if self.playing is not None and self._ago(now_ms) >= self.playing[1][-1][-1]:
            self.playing = None
        if self.next is not None:
            if self.playing is None or self.next[0] >= self.playing[0]:
                self.playing = (*self.next, now_ms)
            self.next = None
        return self.playing is not None

    def _ago(self, now_ms):
        return (now_ms - self.playing[2]) % (1 << 32)
