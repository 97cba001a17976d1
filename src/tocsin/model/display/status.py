"""Hold the status of a run for window and terminal: plain facts, no layout."""

from typing import Literal

import msgspec

from tocsin.model.clock.origins import Origin, Phase
from tocsin.model.display.boards import BoardsFact
from tocsin.model.display.round_picture import RoundPicture
from tocsin.model.drill import ALL_SHOWN, Shown
from tocsin.model.plan import ROLES
from tocsin.model.rig import Start
from tocsin.model.timeline.point import MATCH, Point
from tocsin.translation import marked, tr

marked("ready", "absent", "lost", "failed", "off")      # the states, as people read them
marked("driver", "operator", "coach", "scribe", "feeder")      # and the roles
marked("rumble", "light", "screen", "sound")            # and the channels
_OF_PADS = {"lost": tr("out"), "absent": tr("not plugged in")}


class DeviceFact(msgspec.Struct, frozen=True, kw_only=True):
    """One device as people see it: ``what`` is the channel or the pad's role, ``text`` the device's name, or the
    fix."""

    what: str
    state: Literal["ready", "absent", "lost", "failed", "off"]
    text: str = ""

    @property
    def subject(self) -> str:
        """Return what people call it: in trouble it is the driver's pad that is out, not the driver who is lost; and
        where a pad was never there, nobody is missing."""
        what = tr(self.what)
        return tr("{what}'s pad", what=what) if self.what in ROLES and self._in_trouble else what

    @property
    def condition(self) -> str:
        """Return how people call its state."""
        return _OF_PADS.get(self.state, tr(self.state)) if self.what in ROLES else tr(self.state)

    @property
    def _in_trouble(self) -> bool:
        return self.state in ("absent", "lost", "failed")


class KeyHelp(msgspec.Struct, frozen=True, kw_only=True):
    """A key and its action, for the help line, e.g. ``page down`` and ``start``.

    ``action`` is the program's name of it (a field of the rig's keys), so that a front end can say which key to press
    for the step that it waits for.
    """

    key: str
    does: str
    action: str = ""


ALL_KEYS = "all_keys"                  # the action of the key that shows the others
GIVE_RIGHTS, TAKE_RIGHTS = "phones", "phones_off"      # of those by which phones may mark and steer, and may no more


class Afar(msgspec.Struct, frozen=True, kw_only=True):
    """What boards show in place of the same of a status: without the keys of a laptop that nobody has at hand there."""

    ask: str = ""
    card: tuple[str, ...] = ()
    notice: str = ""


class Status(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that window and terminal show beside the timeline and the cues.

    ``origins`` are the known ones (if the match's lies ahead, the front end counts in). While held, ``held_ns`` is the
    shared time at which the clock stopped. ``error_ms`` is the 95 % ± of the clock, None before a start. ``plans`` are
    the names to choose from by 1, 2, 3 and ``plan_no`` the chosen one, from 0. ``result`` lines stand after the end, or
    ``picture`` in their place. ``start`` is the rig's, so that a front end can say when to press. ``card`` are the
    lines about what comes next in a drill, and ``ask``, if not empty, what a person has to do before anything can
    start. ``begins`` is where on the match clock it starts, ``behind_ns`` by how much the start comes after the counted
    beat: nobody sees it before. ``given`` are the numbers of firings that were given by hand and will not come again.
    ``early_ms`` is by how much calls come early since the clock is unsure. ``shows`` is what of the future
    may be seen, and ``sign`` what stands in place of the clock where it may not, the largest line first.
    ``keys`` are all that mean something now, those that are needed most first; with ``all_keys`` all of them are shown.
    ``scribe`` are the keys of a scribe's marks, which stand large on the screen.
    ``afar`` is what boards show in their place of what names the laptop's keys, None while there are no boards.
    ``names_plan``: the plan's name is no secret. ``named`` is a line of the card with people: no board gets it.
    """

    phase: Phase
    origins: tuple[Origin, ...] = ()
    held_ns: int | None = None
    variant: str = ""
    label: str = ""
    plans: tuple[str, ...] = ()
    plan_no: int = 0
    error_ms: int | None = None
    rate: float = 1.0
    devices: tuple[DeviceFact, ...] = ()
    keys: tuple[KeyHelp, ...] = ()
    all_keys: bool = False
    scribe: tuple[KeyHelp, ...] = ()
    typed: str = ""                # what somebody is typing of the official display's time: ``1:2_``
    battery: str = ""
    awake: str = ""
    notice: str = ""               # the newest thing to know: a refusal, a lost device
    earlier: tuple[str, ...] = ()  # and what was to know before it, where that is still of use
    result: tuple[str, ...] = ()
    picture: RoundPicture | None = None
    video: str = ""                # of a result that cannot be told: how a video tells it
    card: tuple[str, ...] = ()
    named: str = ""
    ask: str = ""
    clear_until_ns: int | None = None      # until when somebody's word that the field is clear holds
    keeps_out: bool = False                # whether people stay outside after the end
    outside_until_ns: int | None = None    # until when nothing stands but that people stay outside
    start: Start = Start()
    begins: Point = Point(MATCH, 0)
    behind_ns: int = 0
    given: tuple[int, ...] = ()
    early_ms: int = 0
    shows: tuple[Shown, ...] = ALL_SHOWN
    sign: tuple[str, ...] = ()
    names_plan: bool = True
    of_match: bool = True          # else it is a measurement: nothing is told of a match
    follows: str = ""              # where another laptop keeps the clock: which, and how well that is known here
    boards: BoardsFact | None = None       # None while no service is on
    afar: Afar | None = None

    @property
    def for_boards(self) -> "Status":
        """Return it as boards may know it: without people's names, without codes, since who reads one has the right
        that it gives, and without the laptop's keys in what people read."""
        afar = self.afar or Afar(ask=self.ask, card=self.card, notice=self.notice)
        return msgspec.structs.replace(
            self, named="", boards=None, afar=None, ask=afar.ask, card=afar.card, notice=afar.notice
        )
