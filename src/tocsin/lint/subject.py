"""Gather what is inspected: a compiled plan, perhaps its rig, and how the devices draw and send."""

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

from tocsin.lint.tracks import PlacedFiring, Track, tracks_of
from tocsin.model.clock.schedule import Shot
from tocsin.model.diagnostics import Path
from tocsin.model.game import Game
from tocsin.model.pattern import LightPattern, Rgb, ScreenPattern
from tocsin.model.plan import ChannelName, Cue, Plan, Role
from tocsin.model.rig import Light, Rig
from tocsin.model.timeline.timeline import Timeline

MAIN = "home"                          # the id of the main call


class Devices(NamedTuple):
    """The channels' functions about their devices. They are an argument, since the channels lie beside this package; so
    the findings see the same frames that a run sends."""

    strip_colours: Callable[[LightPattern, int, int, float], list[Rgb]]     # pattern, LEDs, elapsed ns, share left
    strip_jumps_ns: Callable[[LightPattern, int], list[int]]                # when in its cycle it takes other colours
    field_colours: Callable[[ScreenPattern, Shot, int], tuple[Rgb, ...]]  # at a time in ns
    full_until_ns: Callable[[ScreenPattern, Shot], int]
    frame_share: float                                                      # of the screen that a frame takes
    side_share: float                                                       # of a field that either side takes
    current_ma: Callable[[Sequence[Rgb]], float]
    limited: Callable[[Sequence[Rgb], float, float], list[Rgb]]             # colours, brightness, most mA
    most_ma: Callable[[Light], float]                                       # of the LEDs, by brightness and limit
    board_ma: float                                                         # of the strip's board
    frame_wire_ns: Callable[[Light], int]
    frame_interval_ns: Callable[[Light], int]
    not_installed: Callable[[str], str]           # of a named device: what to do, empty if a package brings it


class MeasuredLead(NamedTuple):
    """The lead that ``rounds`` show as needed, in nanoseconds: the bound for nine in ten, or, while rounds are
    ``missing`` for one, the longest time seen."""

    ns: int
    rounds: int
    missing: int = 0


class Subject:
    """A plan without mistakes in its game. ``own`` names the patterns, by channel and id, in the plan's own file;
    ``measured`` holds the leads that runs needed, by name; ``said_ns`` the lengths of words that this laptop has made,
    as far as known."""

    def __init__(
        self, game: Game, plan: Plan, timeline: Timeline, devices: Devices, *, rig: Rig | None = None,
        own: frozenset[tuple[ChannelName, str]] = frozenset(), measured: Mapping[str, MeasuredLead] | None = None,
        said_ns: Mapping[str, int] | None = None,
    ) -> None:  # fmt: skip
        self.game = game
        self.plan = plan
        self.timeline = timeline
        self.devices = devices
        self.rig = rig
        self.measured = dict(measured or {})
        self.said_ns = dict(said_ns or {})
        self._own = own
        self._places = {cue.id: index for index, cue in enumerate(plan.cues)}

    @cached_property
    def tracks(self) -> tuple[Track, ...]:
        """All firings, placed on tracks."""
        return tracks_of(self.timeline)

    @cached_property
    def used(self) -> dict[tuple[ChannelName, str], str]:
        """The used patterns, by channel and id, each with the first cue that names it."""
        found: dict[tuple[ChannelName, str], str] = {}
        for cue in self.plan.cues:
            for channel, name in cue.patterns.items():
                found.setdefault((channel, name), cue.id)
        return found

    @property
    def main(self) -> Cue | None:
        """The most important call, if the plan has one."""
        return self.cue(MAIN) if MAIN in self._places else None

    @property
    def light(self) -> Light:
        """The strip of the rig, or a usual one."""
        return self.rig.light if self.rig is not None and self.rig.light is not None else Light()

    def cue(self, cue_id: str) -> Cue:
        """Return a cue by its id."""
        return self.plan.cues[self._places[cue_id]]

    def cue_of(self, placed: PlacedFiring) -> Cue:
        """Return the cue that a firing belongs to."""
        return self.cue(placed.firing.cue)

    def at(self, cue_id: str, *keys: str) -> Path:
        """Return the path of a cue's key in the plan's file; for a missing key, that of the cue."""
        return ("cue", self._places[cue_id], *keys)

    def moment(self, cue_id: str) -> Path:
        """Return the path of the key that sets when a cue comes."""
        cue = self.cue(cue_id)
        return self.at(cue_id, "announces" if cue.announces else "at" if cue.at else "callable")

    def rhythm(self, cue_id: str) -> Path:
        """Return the path of the key that repeats a cue: ``every``, or else its moments."""
        cue = self.cue(cue_id)
        return self.at(cue_id, "every") if cue.every_ns is not None and not cue.announces else self.moment(cue_id)

    def word(self, cue_id: str) -> Path:
        """Return the path of the word that a cue shows."""
        return self.at(cue_id, "say" if self.cue(cue_id).say else "id")

    def pattern(self, channel: ChannelName, name: str, cue_id: str, *keys: str | int) -> Path:
        """Return the path of a pattern's key in the plan's file; for a bundled one, of the cue's key that names it."""
        return ("pattern", channel, name, *keys) if (channel, name) in self._own else self.at(cue_id, channel)

    def owners(self, channel: ChannelName, name: str) -> list[str]:
        """Return the cues at which to report a pattern: one if it stands in the plan's file, else all that name it."""
        if (channel, name) in self._own:
            return [self.used[channel, name]]
        return [cue.id for cue in self.plan.cues if cue.patterns.get(channel) == name]

    def pads(self, role: Role) -> list[int]:
        """Return the places of a role's pads in the rig."""
        return [] if self.rig is None else [n for n, pad in enumerate(self.rig.pads) if pad.role == role]
