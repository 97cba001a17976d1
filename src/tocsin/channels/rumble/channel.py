"""Play cues on the motors of the pads that are plugged into this laptop, or on what packages bring in their place; read
those pads' buttons.

A pad that comes (back) inside the interval of a cue with an ``until`` plays that cue's pattern once; of several cues
the one of the highest priority. This channel keeps and plays such shots by itself; it tells the worker by the pad's
"ready" event, whose ``why`` begins with ``CAUGHT_UP``.

A driver's True does not mean that a hand feels it: the preflight shakes pad after pad, for a person to confirm.
"""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from tocsin import monotime
from tocsin.channels.device import Channel, DeviceState, Event, Shot, ShotResult
from tocsin.channels.rumble.arbiter import Arbiter, Buzz, Call, Stop
from tocsin.channels.rumble.joysticks import Button, Joysticks
from tocsin.channels.rumble.pads import FoundPad, bind, describe, listing
from tocsin.channels.rumble.shakers import Shakers
from tocsin.model.clock.schedule import Key
from tocsin.model.pattern import Patterns, RumblePattern, RumbleStep
from tocsin.model.plan import ChannelName, Role
from tocsin.model.rig import Pad, Rig
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

CAUGHT_UP = tr("caught up with")
BUTTONS_NS = 4 * NS_PER_MS             # a press reads 2 ms late on average
SLOW_NS = 50 * NS_PER_MS
PREFLIGHT = RumblePattern(steps=(RumbleStep(strong=1.0, weak=1.0, lasts_ns=500 * NS_PER_MS),))
PREFLIGHT_APART_NS = 750 * NS_PER_MS
BELOW_ALL_CUES = -1
# Too weak to be felt, but not zero in the eight bits that some drivers send.
_TOUCH = 0.01
_TOUCH_MS = 50


class _Seat:
    """A rig entry and the pad that it has now, or had last."""

    def __init__(self, pad: Pad) -> None:
        self.pad = pad
        self.arbiter = Arbiter(pad.strength)
        self.found: FoundPad | None = None
        self.touched = False                       # whether this process has driven the pad's motors
        self.stop_when_found = False               # made safe before its pad was found
        self.slow_told = False
        self.refusal_told = False

    @property
    def name(self) -> str:
        return self.found.name if self.found else ""

    def plug(self, found: FoundPad | None) -> None:
        """Take another pad, or none."""
        self.found = found
        self.arbiter.clear()
        self.touched = self.refusal_told = False


class RumbleChannel(Channel):
    """All pads of a rig. Rumble durations, buttons and hot-plug need SDL's pump, and each tick pumps; pads whose
    buttons have an action are pumped more often, so that presses are read on time. Pattern steps wake the worker by
    themselves."""

    name: ClassVar[ChannelName] = "rumble"

    def __init__(self, rig: Rig) -> None:
        super().__init__(rig)
        if any(pad.buttons for pad in rig.pads):
            self.tick_ns = BUTTONS_NS
        self._seats = [_Seat(pad) for pad in rig.pads]
        self._before: dict[int, FoundPad] = {}
        self._sdl: Joysticks | None = None
        self._sdl_why = ""
        self._shakers = Shakers(rig.pads)
        self._patterns: dict[str, RumblePattern] = {}
        self._live: dict[Key, Shot] = {}
        self._told: list[Event] = []
        self._known_roles: dict[Role, tuple[str, str, str]] = {}
        self._ever_ready = False
        self._ready = False
        self._known_channel = False

    # -- the hooks --------------------------------------------------------------------------------------------------

    def open(self, now_ns: int) -> list[Event]:
        """Find the rig's pads; return their states and the channel's. SDL is not loaded for a rig without pads of its
        own."""
        if not self._seats:
            return [Event(kind="device", at_ns=now_ns, state="absent", why=tr("the rig names no pad: add a [[pad]]"))]
        of_sdl = [seat for seat in self._seats if not seat.pad.device]
        if of_sdl:
            self._start_sdl()
        if self._sdl_why and len(of_sdl) == len(self._seats):
            return [Event(kind="device", at_ns=now_ns, state="failed", why=self._sdl_why)]
        self._shakers.load()
        self._shakers.look(now_ns)
        self._rebind(now_ns)
        return self._take_told()

    def load(self, timeline: Timeline, patterns: Patterns) -> None:
        """Take the patterns; nothing needs to be prepared."""
        self._patterns = dict(patterns.rumble)
        self._live.clear()

    def make_safe(self, now_ns: int) -> bool:
        """Stop every motor, also one that an earlier process left running, and forget all shots; return False while no
        pad of the rig is there."""
        self._live.clear()
        for seat in self._seats:
            seat.stop_when_found = seat.found is None
        for seat, found in self._plugged():
            self._stop_surely(seat, found)
        if self._sdl is not None:
            self._sdl.pump()
        return not self._seats or any(self._plugged())

    def fire(self, shot: Shot, now_ns: int) -> ShotResult:
        """Begin a shot on all pads of its role; ``by`` names them.

        Skipped with "absent" (no pad of the role is plugged in) or "outranked"; failed when no pad took it.
        """
        known = shot.key in self._live
        if shot.firing.until is not None:
            self._live[shot.key] = shot
        if known and shot.resumed:
            return ShotResult(outcome="played")         # only its end has moved: no second pulse
        played: list[str] = []
        refused: list[str] = []
        outranked = False
        for seat, found in self._plugged(shot.firing.role):
            if not self._begin(seat, shot, now_ns):
                outranked = True
                continue
            ok, now_ns = self._step(seat, found, now_ns)
            (played if ok else refused).append(found.name)
        if played:
            return ShotResult(outcome="played", by=tuple(played))
        if refused:
            return ShotResult(outcome="failed", why=_refusal(refused), by=tuple(refused))
        return ShotResult(outcome="skipped", why="outranked" if outranked else "absent")

    def end(self, shot: Shot, now_ns: int) -> None:
        """End a withdrawn shot: its motors stop at once."""
        self._live.pop(shot.key, None)
        for seat, found in self._plugged(shot.firing.role):
            seat.arbiter.end(shot.key)
            _, now_ns = self._step(seat, found, now_ns)

    def command(self, verb: str, now_ns: int) -> list[Event]:
        """Shake pad after pad for half a second, in the rig's order, on "preflight"."""
        if verb == "preflight":
            for turn, (seat, _) in enumerate(self._plugged()):
                begin_ns = now_ns + turn * PREFLIGHT_APART_NS
                seat.arbiter.begin("preflight", PREFLIGHT, begin_ns, now_ns, BELOW_ALL_CUES)
        return []

    def next_ns(self, now_ns: int) -> int | None:
        """Return when the next step of any pad's pattern is due, or None when nothing plays."""
        due = (seat.arbiter.next_ns() for seat, _ in self._plugged())
        return min((ns for ns in due if ns is not None), default=None)

    def tick(self, now_ns: int) -> Sequence[Event]:
        """Step the patterns, pump SDL, report buttons, and pads that came or went."""
        if not self._known_channel:                    # no pad, or no software for any
            return []
        at_ns = now_ns
        for seat, found in self._plugged():
            _, at_ns = self._step(seat, found, at_ns)
        buttons, changed = self._sdl.poll() if self._sdl is not None else ([], False)
        changed |= self._shakers.look(now_ns)
        for button in buttons:
            self._button(button, now_ns)
        self._live = {key: s for key, s in self._live.items() if s.end_ns is None or s.end_ns > now_ns}
        if changed:
            self._rebind(now_ns)
        return self._take_told()

    def close(self) -> None:
        """Stop every motor and give the pads back."""
        self.make_safe(0)
        if self._sdl is not None:
            self._sdl.close()
            self._sdl = None

    def _start_sdl(self) -> None:
        try:
            sdl = Joysticks(hidapi=any(seat.pad.hidapi for seat in self._seats))
            sdl.start()
        except (RuntimeError, ImportError) as error:
            self._sdl_why = tr("SDL's joysticks do not start: {error}", error=error)
            return
        self._sdl = sdl
        sdl.poll()

    # -- the motors -------------------------------------------------------------------------------------------------

    def _plugged(self, role: Role | None = None) -> Iterator[tuple[_Seat, FoundPad]]:
        """Yield the seats that have a pad, all or those of a role, in the rig's order."""
        for seat in self._seats:
            if seat.found is not None and role in (None, seat.pad.role):
                yield seat, seat.found

    def _begin(self, seat: _Seat, shot: Shot, now_ns: int) -> bool:
        pattern = self._patterns[shot.firing.pattern]
        return seat.arbiter.begin(shot.key, pattern, shot.begin_ns, now_ns, shot.firing.priority)

    def _step(self, seat: _Seat, found: FoundPad, now_ns: int) -> tuple[bool, int]:
        """Make the device call that is due; return whether the pad took it, and the time after the call."""
        call = seat.arbiter.step(now_ns)
        if call is None:
            return True, now_ns
        began_ns = monotime.now_ns()
        ok = self._call(found, call)
        took_ns = monotime.now_ns() - began_ns
        seat.touched = True
        if not ok:
            seat.arbiter.clear()
            self._tell_refusal(seat, found, now_ns)
        if took_ns > SLOW_NS and not seat.slow_told:
            seat.slow_told = True
            what = tr(
                "{name} ({role}): its software takes {took} ms a call", name=found.name, role=seat.pad.role,
                took=took_ns // NS_PER_MS,
            )
            why = tr("a cable instead of radio mostly helps; other pads after it are late by as much")
            self._told.append(Event(kind="fault", at_ns=now_ns, what=what, why=why))
        return ok, now_ns + took_ns

    def _call(self, found: FoundPad, call: Call) -> bool:
        if found.device:
            return self._shakers.make(found.device, call)
        assert self._sdl is not None  # a pad was found by it
        if isinstance(call, Buzz):
            return self._sdl.rumble(found.instance_id, call.strong, call.weak, call.ms)
        self._sdl.stop(found.instance_id)
        return True

    def _stop_surely(self, seat: _Seat, found: FoundPad) -> None:
        """Stop a pad's motors whoever set them.

        SDL sends nothing for a stop when it believes the motors off already (measured), as in a fresh process after
        one that was killed: there they are set to next to nothing first.
        """
        seat.arbiter.clear()
        if found.device:
            self._shakers.make(found.device, Stop())
            return
        assert self._sdl is not None  # a pad was found by it
        if not seat.touched:
            self._sdl.rumble(found.instance_id, _TOUCH, _TOUCH, _TOUCH_MS)
            seat.touched = True
        self._sdl.stop(found.instance_id)

    def _tell_refusal(self, seat: _Seat, found: FoundPad, now_ns: int) -> None:
        if not seat.refusal_told:
            seat.refusal_told = True
            what = tr("{name} ({role}) did not take the rumble", name=found.name, role=seat.pad.role)
            why = self._shakers.why(found.device) if found.device else _refusal([found.name])
            self._told.append(Event(kind="fault", at_ns=now_ns, what=what, why=why))

    # -- pads that come and go --------------------------------------------------------------------------------------

    def _rebind(self, now_ns: int) -> None:
        """Bind what is plugged in to the rig's entries; say what changed; let new pads catch up."""
        binding = bind(self.rig.pads, self._sdl.found if self._sdl is not None else (), self._before)
        self._before |= binding.pads
        if self._sdl is not None:
            self._sdl.keep({pad.instance_id for pad in binding.pads.values()})
        there = binding.pads | self._shakers.found
        caught_up: dict[Role, str] = {}
        for slot, seat in enumerate(self._seats):
            found = there.get(slot)
            if found == seat.found:
                continue
            seat.plug(found)
            if found is None:
                continue
            if cue := self._catch_up(seat, found, now_ns):
                caught_up[seat.pad.role] = cue
            elif seat.stop_when_found:             # some systems find pads only some time after the start
                self._stop_surely(seat, found)
            seat.stop_when_found = False
        asks = {self._seats[slot].pad.role: text for slot, text in binding.asks.items()}
        for role in dict.fromkeys(pad.role for pad in self.rig.pads):
            self._tell_role(role, asks.get(role, ""), caught_up.get(role, ""), now_ns)
        self._tell_channel(now_ns)

    def _catch_up(self, seat: _Seat, found: FoundPad, now_ns: int) -> str:
        """Play what holds for a pad that came, once; return the cue's id or nothing."""
        shots = [shot for shot in self._live.values() if shot.firing.role == seat.pad.role]
        shots = [shot for shot in shots if shot.end_ns is None or shot.end_ns > now_ns]
        if not shots:
            return ""
        shot = max(shots, key=lambda s: (s.firing.priority, s.begin_ns))
        self._begin(seat, shot, now_ns)
        ok, _ = self._step(seat, found, now_ns)
        return shot.firing.cue if ok else ""

    def _tell_role(self, role: Role, ask: str, cue: str, now_ns: int) -> None:
        """Tell a role's state if it is another than the one told before."""
        seats = [seat for seat in self._seats if seat.pad.role == role]
        name = " + ".join(seat.name for seat in seats if seat.found)
        missing = [seat.pad for seat in seats if seat.found is None]
        before = self._known_roles.get(role)
        state: DeviceState
        if name:
            state, why = "ready", f"{CAUGHT_UP} {cue}" if cue else ask
            if missing and not why:
                why = tr("missing: {map}", map="; ".join(map(describe, missing)))
        else:
            had_one = before is not None and before[0] in ("ready", "lost")
            state = "lost" if had_one else "absent"
            why = self._fix(missing, lost=had_one)
        if before == (state, name, why):
            return
        self._known_roles[role] = (state, name, why)
        old_name = before[1] if before else ""
        event = Event(kind="device", at_ns=now_ns, what=role, state=state, name=name or old_name, why=why)
        self._told.append(event)

    def _tell_channel(self, now_ns: int) -> None:
        """Tell the channel's state: ready while at least one bound pad is there."""
        names = [found.name for _, found in self._plugged()]
        if names:
            self._ever_ready = True
            event = Event(kind="device", at_ns=now_ns, state="ready", name=", ".join(names))
        else:
            why = self._fix([seat.pad for seat in self._seats], lost=self._ever_ready)
            event = Event(kind="device", at_ns=now_ns, state="lost" if self._ever_ready else "absent", why=why)
        if bool(names) != self._ready or not self._known_channel:
            self._told.append(event)
        self._ready, self._known_channel = bool(names), True

    def _fix(self, missing: Sequence[Pad], *, lost: bool) -> str:
        named = [self._shakers.why(pad.device) for pad in missing if pad.device]
        if len(named) == len(missing):
            return "; ".join(named)
        if lost:
            return tr("unplugged: plug it in again")
        if self._sdl is None:
            return self._sdl_why
        wanted = "; ".join(dict.fromkeys(describe(pad) for pad in missing if not pad.device))
        found = listing(self._sdl.found)
        return (
            tr("plug in {wanted}", wanted=wanted)
            + (tr(" (there is {found})", found=found) if found else tr(" (no pad is plugged in)"))
        )

    def _button(self, button: Button, now_ns: int) -> None:
        """Report a button that the rig names; all others stay between the pad and its robot."""
        for seat, found in self._plugged():
            if found.instance_id == button.instance_id and str(button.button) in seat.pad.buttons:
                what = f"pad.{seat.pad.role}.{button.button}"
                self._told.append(Event(kind=button.kind, at_ns=now_ns, what=what))

    def _take_told(self) -> list[Event]:
        told, self._told = self._told, []
        return told


def _refusal(names: Sequence[str]) -> str:
    return tr("{names}: unplugged, or its software knows no motors", names=", ".join(names))
