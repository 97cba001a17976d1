"""Show words, and for a cue the whole field, then a frame. One thread owns SDL's window.

A cue's picture is drawn ahead on a second surface and copied to the window's surface just before the cue is due, so
that the cue itself is a single flip. In between only changes are drawn.
"""

import copy
from collections import Counter
from collections.abc import Sequence
from types import ModuleType
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from tocsin.channels.device import Channel, DeviceState, Event, ShotResult
from tocsin.channels.screen.composer import Composer
from tocsin.channels.screen.drawing import Look, Painter
from tocsin.channels.screen.events import Events
from tocsin.channels.screen.field import REGIONS, Box
from tocsin.channels.screen.steering import LOOK_NS, Steering
from tocsin.channels.screen.window import close_window, open_window
from tocsin.channels.sdl import import_pygame
from tocsin.model.clock.schedule import Key, Shot
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import foremost
from tocsin.model.pattern import Patterns, ScreenPattern
from tocsin.model.plan import ChannelName
from tocsin.model.rig import Rig
from tocsin.model.safety import OKABE_ITO, FlashGuard
from tocsin.model.timeline.timeline import Firing, Point, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

if TYPE_CHECKING:
    from pygame import Surface

ARM_NS = 20 * NS_PER_MS                # so shortly before a cue its picture is copied to the window's surface
GIVE_UP_NS = 60 * NS_PER_MS            # a cue that has not come so long after its time does not come
REOPEN_NS = NS_PER_S
TEST_NS = 500 * NS_PER_MS
_TEST = ScreenPattern(field="none", colours=(OKABE_ITO["white"],), letters=OKABE_ITO["white"], lasts_ns=TEST_NS)
_TEST_ID = "preflight"


class _ReadyPicture(NamedTuple):
    """A cue's picture on the back surface, and which cues lasted when it was drawn."""

    shot: Shot
    look: Look
    lasting: tuple[Key, ...]


class ScreenChannel(Channel):
    """A window with the words and the cues."""

    name: ClassVar[ChannelName] = "screen"
    tick_ns = 10 * NS_PER_MS               # a key reads 5 ms late on average

    def __init__(self, rig: Rig) -> None:
        super().__init__(rig)
        self._pygame: ModuleType | None = None
        self._painter: Painter | None = None
        self._events: Events | None = None
        self._composer: Composer | None = None
        self._latency_ns = rig.screen.latency_ns if rig.screen else 0
        self._state: DeviceState = "absent"
        self._reopen_ns = 0
        self._status: Status | None = None
        self._shots: dict[Key, Shot] = {}
        self._guard = FlashGuard(REGIONS)
        self._look: Look | None = None
        self._draw_ns = 0
        self._back: Surface | None = None
        self._ready: _ReadyPicture | None = None
        self._armed = False
        self._steering: Steering | None = None
        self._told: list[Event] = []

    @property
    def look(self) -> Look | None:
        """The content of the window."""
        return self._look

    def open(self, now_ns: int) -> list[Event]:
        """Open the window; "absent" without a display or without a screen in the rig."""
        if self.rig.screen is None:
            return [self._device(now_ns, "absent", why=tr("no [screen] in the rig"))]
        self._pygame = import_pygame("screen")
        return [self._open_window(self._pygame, now_ns)]

    def _open_window(self, pygame: ModuleType, now_ns: int) -> Event:
        assert self.rig.screen is not None
        opened = open_window(pygame, self.rig.screen, drives_robot=self.rig.drives_robot)
        if opened.why:
            return self._device(now_ns, "absent" if self._state == "absent" else "lost", why=opened.why)
        self._painter = Painter(pygame)
        self._events = Events(pygame)
        measure = self._painter.measure
        self._composer = Composer(measure) if self._composer is None else self._composer.measured_by(measure)
        self._look = None
        self._draw_ns = 0
        return self._device(now_ns, "ready", name=opened.name)

    def load(self, timeline: Timeline, patterns: Patterns) -> None:
        """Take the timeline and the looks of its cues; content of an earlier timeline is cleared."""
        self._shots.clear()
        self._forget_ready()
        if self._composer is not None:
            counts = Counter(f.cue for f in timeline.firings if f.channel == "screen")
            self._composer.load(timeline, {**patterns.screen, _TEST_ID: _TEST}, counts)
        self._draw_ns = 0

    def make_safe(self, now_ns: int) -> bool:
        """Take every cue off the window now; a running steering task ends."""
        self._shots.clear()
        self._steer(None, now_ns)
        self._forget_ready()
        self._guard.force(now_ns)
        self._look = None
        self._draw(now_ns)
        return True

    def show_status(self, status: Status, now_ns: int) -> None:
        """Take a new status; the window shows it with the next tick."""
        self._status = status
        self._draw_ns = 0

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Show the test picture for half a second on "preflight"."""
        if verb == "preflight":
            shot = _test_shot(now_ns)
            self._shots[shot.key] = shot
            self._draw_ns = 0
        return []

    def steer(self, seed: int, now_ns: int) -> None:
        """Begin the steering line."""
        self._steer(Steering(seed, now_ns), now_ns)

    def prepare(self, shot: Shot, now_ns: int) -> None:
        """Draw the picture of a cue on the back surface."""
        surface = self._surface()
        lasting = [s for s in self._shots.values() if s.end_ns is None or s.end_ns > shot.begin_ns]
        if surface is None or self._painter is None or foremost([*lasting, shot]) is not shot:
            return
        ready = self._ready
        if ready is not None and ready.shot.key != shot.key and ready.shot.begin_ns < shot.begin_ns:
            return                                 # the nearer one first; this one is drawn when it is due
        self._forget_ready()
        if self._back is None or self._back.get_size() != surface.get_size():
            self._back = surface.copy()
        # The guard is asked on a copy: what is drawn ahead may never be shown.
        look = self._compose(shot.begin_ns, [*lasting, shot], copy.deepcopy(self._guard))
        if look is not None:
            self._painter.paint(self._back, look)
            self._ready = _ReadyPicture(shot, look, tuple(sorted(s.key for s in lasting)))

    def fire(self, shot: Shot, now_ns: int) -> ShotResult:
        """Show a cue: one flip if its picture is ready."""
        pygame, surface, painter = self._pygame, self._surface(), self._painter
        if pygame is None or surface is None or painter is None:
            return ShotResult(outcome="skipped", why="absent")
        before = tuple(sorted(s.key for s in self._shots.values() if s.end_ns is None or s.end_ns > shot.begin_ns))
        ready = self._ready
        try:
            if ready is not None and _same(ready.shot, shot) and ready.lasting == before:
                if not self._armed and self._back is not None:
                    surface.blit(self._back, (0, 0))
                    self._draw_steering(surface)
                pygame.display.flip()
                self._shots[shot.key] = shot
                self._guard.admit(now_ns, [*ready.look.field, *ready.look.frame])
                self._look = ready.look
            else:
                self._shots[shot.key] = shot
                if foremost(self._lasting(now_ns)) is not shot:
                    self._draw_ns = 0
                    return ShotResult(outcome="skipped", why="outranked")
                self._look = None
                self._draw(now_ns)
        except pygame.error as error:
            return ShotResult(outcome="failed", why=str(error))
        self._ready, self._armed = None, False
        self._draw_ns = now_ns + NS_PER_MS         # what the picture lacks comes after the reports
        return ShotResult(outcome="played")

    def end(self, shot: Shot, now_ns: int) -> None:
        """Take a cue away; a sustained cue below it shows again with the next tick."""
        self._shots.pop(shot.key, None)
        self._draw_ns = 0

    def next_ns(self, now_ns: int) -> int | None:
        """Return when the picture changes by itself, or when the next cue's picture must be copied to the window's
        surface."""
        if self._surface() is None:
            return None
        if self._ready is not None and self._armed:
            return self._ready.shot.begin_ns + GIVE_UP_NS
        due_ns = self._draw_ns if self._steering is None else min(self._draw_ns, now_ns + LOOK_NS)
        return due_ns if self._ready is None else min(due_ns, self._ready.shot.begin_ns - ARM_NS)

    def tick(self, now_ns: int) -> Sequence[Event]:
        """Take SDL's events and draw changes, unless a cue's picture waits on the window's surface."""
        pygame, events = self._pygame, self._events
        if pygame is None:
            return []
        try:
            if self._surface() is None or events is None:
                return [*self._take_told(), *self._try_again(pygame, now_ns)]
            told = events.take(now_ns)
            if events.resized or events.exposed:
                self._look = None
                self._draw_ns = 0
            if events.resized:
                self._forget_ready()
                self._back = None
            self._arm(now_ns)
            if not self._armed and now_ns >= self._draw_ns:
                self._draw(now_ns)
            self._move_steering(told, now_ns)
            return [*told, *self._take_told()]
        except pygame.error as error:
            close_window(pygame)
            self._forget_ready()
            self._reopen_ns = now_ns + REOPEN_NS
            return [self._device(now_ns, "lost", why=f"{error}")]

    def close(self) -> None:
        """Close the window."""
        self._shots.clear()
        self._forget_ready()
        if self._pygame is not None:
            close_window(self._pygame)

    def _try_again(self, pygame: ModuleType, now_ns: int) -> list[Event]:
        """Open the window again once a second if there was one."""
        if self._state != "lost" or now_ns < self._reopen_ns:
            return []
        self._reopen_ns = now_ns + REOPEN_NS
        event = self._open_window(pygame, now_ns)
        return [event] if event.state == "ready" else []

    def _surface(self) -> "Surface | None":
        if self._pygame is None or not self._pygame.display.get_init():
            return None
        surface: Surface | None = self._pygame.display.get_surface()
        return surface

    def _forget_ready(self) -> None:
        if self._armed:
            self._look = None                      # the window's surface holds a picture that nobody has seen
            self._draw_ns = 0
        self._ready, self._armed = None, False

    def _arm(self, now_ns: int) -> None:
        """Copy the next cue's picture to the window's surface once it is near; drop it if the cue has not come."""
        ready, surface = self._ready, self._surface()
        if ready is None or surface is None or self._back is None:
            return
        left_ns = ready.shot.begin_ns - now_ns
        if left_ns < -GIVE_UP_NS:
            self._forget_ready()
        elif left_ns <= ARM_NS and not self._armed:
            surface.blit(self._back, (0, 0))
            self._draw_steering(surface)
            self._armed = True

    def _lasting(self, now_ns: int) -> list[Shot]:
        return [shot for shot in self._shots.values() if shot.end_ns is None or shot.end_ns > now_ns]

    def _compose(self, now_ns: int, shots: Sequence[Shot], guard: FlashGuard) -> Look | None:
        surface = self._surface()
        if self._composer is None or surface is None:
            return None
        focused = self._events is None or self._events.focused
        return self._composer.look(
            self._status, foremost(shots), guard, surface.get_size(), now_ns, self._latency_ns, focused=focused
        )

    def _draw(self, now_ns: int) -> None:
        """Draw what has changed and show it."""
        pygame, surface, painter = self._pygame, self._surface(), self._painter
        if pygame is None or surface is None or painter is None or self._composer is None:
            return
        self._shots = {shot.key: shot for shot in self._lasting(now_ns)}
        look = self._compose(now_ns, tuple(self._shots.values()), self._guard)
        if look is None:
            return
        if self._look is None:
            painter.paint(surface, look)
            self._draw_steering(surface)
            pygame.display.flip()
        elif changed := painter.repaint(surface, self._look, look):
            pygame.display.update(changed + self._draw_steering(surface))
        self._look = look
        # The test picture has no schedule that would end it.
        ends_ns = [shot.end_ns for shot in self._shots.values() if shot.end_ns is not None]
        self._draw_ns = max(now_ns + NS_PER_MS, min([self._composer.stale_ns, *ends_ns]))

    def _steer(self, steering: Steering | None, now_ns: int) -> None:
        """Begin to steer, or end it and tell how well it was done."""
        if self._steering is not None:
            self._told.append(self._steering.note(now_ns))
        if (steering is None) != (self._steering is None):
            self._forget_ready()                   # its picture has another layout
            self._look, self._draw_ns = None, 0
        self._steering = steering
        if self._composer is not None:
            self._composer.steered = steering is not None

    def _move_steering(self, told: Sequence[Event], now_ns: int) -> None:
        """Move the marker; show it when its frame is due, unless a cue's picture waits on the window's surface."""
        pygame, surface, steering = self._pygame, self._surface(), self._steering
        if pygame is None or surface is None or steering is None:
            return
        steering.take(told)
        steering.advance(now_ns)
        if not self._armed and steering.due(now_ns):
            pygame.display.update(self._draw_steering(surface))

    def _draw_steering(self, surface: "Surface") -> list[Box]:
        """Draw the line over what stands there, if there is one; return the boxes to be shown."""
        return [self._steering.draw(surface)] if self._steering is not None else []

    def _take_told(self) -> list[Event]:
        told, self._told = self._told, []
        return told

    def _device(self, now_ns: int, state: DeviceState, *, name: str = "", why: str = "") -> Event:
        self._state = state
        return Event(kind="device", at_ns=now_ns, state=state, name=name, why=why)


def _same(one: Shot, other: Shot) -> bool:
    return (one.key, one.begin_ns, one.end_ns, other.resumed) == (other.key, other.begin_ns, other.end_ns, False)


def _test_shot(now_ns: int) -> Shot:
    firing = Firing(
        no=-1, cue=_TEST_ID, n=0, channel="screen", role=None, begin=Point(_TEST_ID, 0), until=None, sustained=False,
        pattern=_TEST_ID, word="Test", late_limit_ns=0, priority=-1, when="", match_ns=None, lasts_ns=TEST_NS,
    )  # fmt: skip
    return Shot(firing=firing, instance=0, begin_ns=now_ns, end_ns=now_ns + TEST_NS)
