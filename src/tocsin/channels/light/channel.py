"""Drive the LED strip: patterns as whole frames on a serial port, as fast as wire and strip allow.

Of several running shots the highest priority shows, the newest among equals; the covered one shows again when that
ends. No frame begins that would still be on the wire when the next shot begins.
"""

import copy
from collections.abc import Sequence

import msgspec

from tocsin import monotime
from tocsin.channels.device import DEAF, UNANSWERED, UNHEARD, Channel, DeviceState, Event, Shot, ShotResult
from tocsin.channels.installed import Loaded, NotUsableError
from tocsin.channels.light.forms import MOVING, colours_at
from tocsin.channels.light.named import NamedStrip
from tocsin.channels.light.port import ERRORS, PortError, StripPort, reason
from tocsin.channels.light.protocol import encode, frame_interval_ns
from tocsin.model.clock.schedule import Key
from tocsin.model.pattern import LightPattern, Patterns, Rgb
from tocsin.model.rig import Light, Rig
from tocsin.model.safety import BLACK, FlashGuard
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

KEEP_ALIVE_NS = NS_PER_S               # many controllers show an effect of their own after 1 to 2.5 s of silence
FIRST_RETRY_NS, LONGEST_RETRY_NS = 200 * NS_PER_MS, 2 * NS_PER_S
STEADY_NS = 3 * NS_PER_S               # so long without a fault: the next one is retried quickly again
FEEL_NS = 500 * NS_PER_MS              # how often the port is asked whether it is still there
PREFLIGHT_NS = 500 * NS_PER_MS
SLOW_NS = 50 * NS_PER_MS
WAITS_NS = 10 * NS_PER_MS              # how soon what could not go out is tried again
_PREFLIGHT = LightPattern(form="plain", colours=((255, 255, 255),), level=0.3, lasts_ns=PREFLIGHT_NS)


class _ReadyFrame(msgspec.Struct):
    """A shot's first frame, made ahead, the guard as it will be once that is shown, and whether that held back some."""

    key: Key
    data: bytes
    guard: FlashGuard
    dirty: bool


class LightChannel(Channel):
    """One strip on one port, or one that a package brings."""

    name = "light"

    def __init__(self, rig: Rig) -> None:
        super().__init__(rig)
        self._light = rig.light or Light()
        self._interval_ns = frame_interval_ns(self._light)
        self._has_strip = rig.light is not None
        self._loaded: Loaded | None = None             # of a package
        self._port: StripPort | NamedStrip | None = None
        self._told: tuple[DeviceState | None, str] = (None, "")
        self._in_use = False                           # the port's board takes frames
        self._deaf = False
        self._events: list[Event] = []
        self._patterns: dict[str, LightPattern] = {}
        self._shots: dict[Key, Shot] = {}
        self._coming: dict[Key, Shot] = {}
        self._ready: _ReadyFrame | None = None
        self._guard = FlashGuard(self._light.leds)
        self._test_until_ns = 0
        self._wrote_ns: int | None = None
        self._dirty = True
        self._retry_ns = 0
        self._pause_ns = FIRST_RETRY_NS
        self._opened_ns = 0
        self._slow_told = False
        self._felt_ns = 0

    def open(self, now_ns: int) -> list[Event]:
        """Open the port and wait until its board listens: up to 2.5 s on USB. A missing strip is "absent"."""
        if self.rig.light is None:
            return [Event(kind="device", at_ns=now_ns, state="absent", why=tr("the rig has no [light]"))]
        if self._light.device:
            try:
                self._loaded = Loaded(self._light.device, "strip")
            except NotUsableError as error:
                self._has_strip = False                # no use in looking again: packages do not come by themselves
                state: DeviceState = "absent" if error.absent else "failed"
                return [Event(kind="device", at_ns=now_ns, state=state, name=self._light.device, why=str(error))]
        self._reopen(now_ns)
        while self._port is not None and not self._in_use:
            now_ns = monotime.now_ns()
            self._settle(now_ns)
            monotime.sleep_ns(10 * NS_PER_MS)
        return self._take_events()

    def load(self, timeline: Timeline, patterns: Patterns) -> None:
        """Take the patterns of the timeline's firings."""
        names = {firing.pattern for firing in timeline.firings if firing.channel == "light"}
        self._patterns = {name: patterns.light[name] for name in sorted(names)}

    def make_safe(self, now_ns: int) -> bool:
        """Turn the strip black at once; return False while it cannot be reached."""
        self._shots.clear()
        self._coming.clear()
        self._ready = None
        self._test_until_ns = 0
        self._guard.force(now_ns)
        return self._write(encode(self._light, self._guard.shown), now_ns) or not self._has_strip

    def take_over(self, now_ns: int) -> None:
        """Turn the strip black. What an earlier worker showed in the last second is unknown: the guard takes it for as
        much as is allowed, so that no row of crashes flashes either."""
        self._guard.spend(now_ns)
        self.make_safe(now_ns)

    def prepare(self, shot: Shot, now_ns: int) -> None:
        """Keep the wire free for a shot."""
        self._coming[shot.key] = shot

    def fire(self, shot: Shot, now_ns: int) -> ShotResult:
        """Show a shot; its first frame is sent before anything else."""
        if self._listening is None:
            self._shots[shot.key] = shot
            absent = self._told[0] in (None, "absent")
            return (
                ShotResult(outcome="skipped", why="absent")
                if absent
                else ShotResult(outcome="failed", why=tr("strip lost"))
            )
        ready, self._ready = self._ready, None
        self._coming.pop(shot.key, None)
        self._shots[shot.key] = shot
        if self._foremost() is not shot:
            return ShotResult(outcome="skipped", why="outranked")
        if ready is not None and ready.key == shot.key:
            self._guard, self._dirty, data = ready.guard, ready.dirty, ready.data
        else:
            data = self._frame(self._guard, now_ns)
        if not self._write(data, now_ns):
            return ShotResult(outcome="failed", why=self._events[-1].why)
        return ShotResult(outcome="failed", why=DEAF) if self._deaf else ShotResult(outcome="played")

    def end(self, shot: Shot, now_ns: int) -> None:
        """End a shot; the strip then shows the covered shot, or black."""
        self._shots.pop(shot.key, None)
        self._coming.pop(shot.key, None)
        self._dirty = True

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Show a soft white for half a second on "preflight"."""
        if verb == "preflight":
            self._test_until_ns = now_ns + PREFLIGHT_NS
            self._dirty = True
        return []

    def tick(self, now_ns: int) -> Sequence[Event]:
        """Check the port; write the next frame if one is wanted and the wire is free."""
        if not self._has_strip:
            return []
        if self._port is None and now_ns >= self._retry_ns:
            self._reopen(now_ns)
        self._settle(now_ns)
        if (port := self._listening) is not None:
            self._show(port, now_ns)
        self._feel(now_ns)
        return self._take_events()

    def next_ns(self, now_ns: int) -> int | None:
        """Return when the next frame may be sent while a pattern moves, and soon while a frame waits for its turn."""
        if self._listening is None:
            return None
        shot = self._foremost()
        if shot is not None and self._patterns[shot.firing.pattern].form in MOVING:
            return max(now_ns + NS_PER_MS, (self._wrote_ns or 0) + self._interval_ns)
        waits = self._dirty or self._coming or self._test_until_ns
        return now_ns + WAITS_NS if waits else None

    def close(self) -> None:
        """Make the strip black and close the port."""
        try:
            if self._port is not None:
                self.make_safe(monotime.now_ns())
        finally:
            port, self._port = self._port, None
            if port is not None:
                port.close()

    @property
    def _listening(self) -> StripPort | NamedStrip | None:
        """The port, if its board takes frames."""
        return self._port if self._in_use else None

    def _feel(self, now_ns: int) -> None:
        """Notice a pulled plug also while nothing is written, and what the board says or leaves unsaid."""
        port = self._listening
        if port is None or now_ns - self._felt_ns < FEEL_NS:
            return
        self._felt_ns = now_ns
        try:
            port.feel()
        except ERRORS as error:
            self._lose(reason(port.name, error), now_ns)
            return
        if port.replies.lost_one(now_ns):
            self._dirty = True                         # torn on the line: what it should show is sent again
        self._judge(port, now_ns)

    def _judge(self, port: StripPort | NamedStrip, now_ns: int) -> None:
        """Tell what is known of the board, where that has changed."""
        verdict = port.replies.verdict(now_ns)
        self._deaf = verdict == "deaf"
        why = {"silent": UNANSWERED, "deaf": DEAF}.get(verdict, "")
        if verdict == "greets" and not self._light.confirmed:          # else a person saw it by this protocol
            why = UNHEARD
        state: DeviceState = "lost" if self._deaf else "ready"
        if self._told != (state, why):
            self._tell(state, why, now_ns)

    def _show(self, port: StripPort | NamedStrip, now_ns: int) -> None:
        """Write a frame if something moves, has changed, or the controller must be kept from its own effects."""
        # Fired already, if it comes at all: whatever is due is fired before this is called.
        self._coming = {key: s for key, s in self._coming.items() if s.begin_ns > now_ns - self._interval_ns}
        soonest = min(self._coming.values(), key=lambda shot: shot.begin_ns, default=None)
        if soonest is not None and now_ns + self._interval_ns > soonest.begin_ns:
            if self._ready is None or self._ready.key != soonest.key:
                self._make_ready(soonest)
            return
        if self._wrote_ns is not None and now_ns < self._wrote_ns + self._interval_ns:
            return
        shot = self._foremost()
        moves = shot is not None and self._patterns[shot.firing.pattern].form in MOVING
        # A board that answers is sent black too, so that a deaf one is known before the match.
        kept = port.replies.answering or any(colour != BLACK for colour in self._guard.shown)
        quiet = self._wrote_ns is None or now_ns - self._wrote_ns >= KEEP_ALIVE_NS
        if self._test_until_ns and now_ns >= self._test_until_ns:
            self._test_until_ns, self._dirty = 0, True
        if moves or self._dirty or (kept and quiet):
            self._write(self._frame(self._guard, now_ns), now_ns)

    def _make_ready(self, shot: Shot) -> None:
        """Make a shot's first frame. What is shown stays as it is, since the shot may yet be withdrawn."""
        guard = copy.deepcopy(self._guard)
        shots, dirty = self._shots, self._dirty
        # What will have ended by then must not cover the new shot.
        lasting = {key: s for key, s in shots.items() if s.end_ns is None or s.end_ns > shot.begin_ns}
        self._shots = {**lasting, shot.key: shot}
        data = self._frame(guard, shot.begin_ns)
        self._ready = _ReadyFrame(shot.key, data, guard, self._dirty)
        self._shots, self._dirty = shots, dirty

    def _frame(self, guard: FlashGuard, now_ns: int) -> bytes:
        """Return the bytes of what is wanted now, as far as the guard lets it out."""
        wanted = self._wanted(now_ns)
        shown = guard.admit(now_ns, wanted)
        self._dirty = shown != wanted                          # what the guard held back is asked for again
        return encode(self._light, shown)

    def _wanted(self, now_ns: int) -> list[Rgb]:
        if now_ns < self._test_until_ns:
            return colours_at(_PREFLIGHT, self._light.leds, 0, 1.0)
        shot = self._foremost()
        if shot is None:
            return [BLACK] * self._light.leds
        left = 1.0
        if shot.end_ns is not None and shot.end_ns > shot.begin_ns:
            left = (shot.end_ns - now_ns) / (shot.end_ns - shot.begin_ns)
        return colours_at(self._patterns[shot.firing.pattern], self._light.leds, max(0, now_ns - shot.begin_ns), left)

    def _foremost(self) -> Shot | None:
        return max(self._shots.values(), key=lambda s: (s.firing.priority, s.begin_ns, s.firing.no), default=None)

    def _write(self, data: bytes, now_ns: int) -> bool:
        port = self._listening
        if port is None:
            return False
        began_ns = monotime.now_ns()
        try:
            port.write(data)
        except ERRORS as error:
            self._lose(reason(port.name, error), now_ns)
            return False
        self._wrote_ns = now_ns
        port.replies.wrote(now_ns)
        if self._loaded is not None:
            self._tell_slow(self._loaded.title, monotime.now_ns() - began_ns, now_ns)
        if now_ns - self._opened_ns > STEADY_NS:
            self._pause_ns = FIRST_RETRY_NS
        return True

    def _tell_slow(self, title: str, took_ns: int, now_ns: int) -> None:
        """Say once that a package takes too long over a frame."""
        if took_ns > SLOW_NS and not self._slow_told:
            self._slow_told = True
            what = tr("{title} takes {took} ms a frame", title=title, took=took_ns // NS_PER_MS)
            why = tr("the next cue of the light is late by as much; tell whoever wrote it")
            self._events.append(Event(kind="fault", at_ns=now_ns, what=what, why=why))

    def _reopen(self, now_ns: int) -> None:
        self._retry_ns = now_ns + self._pause_ns
        self._pause_ns = min(2 * self._pause_ns, LONGEST_RETRY_NS)
        try:
            opened = NamedStrip(self._loaded, self._light, now_ns) if self._loaded else StripPort(self._light, now_ns)
            self._port = opened
        except PortError as error:
            if self._told[0] is None:
                self._tell("absent", str(error), now_ns)

    def _settle(self, now_ns: int) -> None:
        """Take a port into use once its board listens; black first, unless something is to be shown."""
        port = self._port
        if port is None or self._in_use:
            return
        try:
            if port.booting(now_ns):
                return
        except ERRORS as error:
            self._lose(reason(port.name, error), now_ns)
            return
        self._opened_ns = now_ns
        self._guard.force(now_ns)
        self._in_use = True
        self._judge(port, now_ns)
        self._write(encode(self._light, self._guard.shown), now_ns)
        self._dirty = True

    def _lose(self, why: str, now_ns: int) -> None:
        if self._port is not None:
            self._port.close(discard=True)
            self._port = None
        self._in_use = self._deaf = False
        self._ready = None
        self._retry_ns = now_ns + self._pause_ns
        self._tell("lost", why, now_ns)

    def _tell(self, state: DeviceState, why: str, now_ns: int) -> None:
        self._told = (state, why)
        wanted = self._loaded.title if self._loaded else self._light.port
        name = tr("{name}, {leds} LEDs", name=self._port.name if self._port else wanted, leds=self._light.leds)
        self._events.append(Event(kind="device", at_ns=now_ns, state=state, name=name, why=why))

    def _take_events(self) -> list[Event]:
        events, self._events = self._events, []
        return events
