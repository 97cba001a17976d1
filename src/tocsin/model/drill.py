"""Define a drill: rounds of a plan from one moment on, what varies between rounds, what makes a round clean."""

from typing import Literal, get_args

import msgspec

from tocsin.model.moment import Moment
from tocsin.model.plan import ChannelName, Plan

OWN_ROUNDS = 5                         # so many rounds of a crew set its own limits
Place = Literal["bench", "field"]
Coach = Literal["silent", "calling"]
CREWS = ("A", "B", "C")                # that may share a drill

# What of the future may be seen: the clock, by which one can count to a cue, and what comes next and how soon.
Shown = Literal["clock", "ahead"]
ALL_SHOWN: tuple[Shown, ...] = get_args(Shown)


class Clean(msgspec.Struct, frozen=True, kw_only=True):
    """The rule for a clean round; each part may be left out (None or empty).

    No own contact in the windows ``keep_off``; home marked ``home_ns`` before the end of the match or earlier; turned
    within ``turned_ns`` of the call home. No own mark with a label of ``never``.

    ``turned_own``: the limit for the turn comes from the crew's own first rounds; ``turned_ns`` is None until then.
    """

    keep_off: tuple[str, ...] = ()
    home_ns: int | None = None
    turned_ns: int | None = None
    turned_own: bool = False
    never: tuple[str, ...] = ()


class Goal(msgspec.Struct, frozen=True, kw_only=True):
    """``clean`` of the last ``of`` counted rounds."""

    clean: int
    of: int


class Vary(msgspec.Struct, frozen=True, kw_only=True):
    """The variation of rounds, each field by itself and balanced over the rounds.

    ``plans`` are bundled names or files beside the drill; ``setups`` are sentences for people; ``draw_out`` channels
    that are silent ("" for none); ``shift_ns`` moves the lead ``shift_lead`` (above 0: earlier); ``late_start_ns`` is
    how long after the count-in's last beat the match really begins; ``from_spread_ns`` lets a round begin up to that
    long before the drill's moment; ``shuffle`` gives the cues in random order at the plan's moments (bench only).
    """

    plans: tuple[str, ...] = ()
    setups: tuple[str, ...] = ()
    draw_out: tuple[ChannelName | Literal[""], ...] = ()
    coach: tuple[Coach, ...] = ()
    shift_lead: str = ""
    shift_ns: tuple[int, ...] = ()
    late_start_ns: tuple[int, ...] = ()
    from_spread_ns: int = 0
    shuffle: bool = False

    def moved(self, plan: Plan, shift_ns: int) -> Plan:
        """Return a plan with the lead ``shift_lead`` longer by ``shift_ns``, but never below zero."""
        if not shift_ns:
            return plan
        lead_ns = max(0, plan.leads[self.shift_lead] + shift_ns)
        return msgspec.structs.replace(plan, leads={**plan.leads, self.shift_lead: lead_ns})


class Drill(msgspec.Struct, frozen=True, kw_only=True):
    """A drill as read from its file. ``game`` may be empty: the plan's. ``begin`` is the moment from which a round
    runs. The first ``half_speed`` rounds are driven at half speed, and are shown but not counted. ``marks`` are the
    labels that count. ``shows`` is what of a round's future people may see while it runs. A robot's battery lasts
    ``battery_rounds`` (0: nobody said). ``questions`` are asked before the first round; those of them
    that are ``field_questions`` again after each change of battery."""

    name: str
    trains: str
    place: Place
    plan: str
    game: str = ""
    begin: Moment | None = None
    rounds: int
    half_speed: int = 0
    rest_ns: int = 0
    vary: Vary = Vary()
    marks: tuple[str, ...] = ()
    shows: tuple[Shown, ...] = ()
    battery_rounds: int = 0
    clean: Clean = Clean()
    goal: Goal | None = None
    safely: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    field_questions: tuple[str, ...] = ()

    @property
    def plans(self) -> tuple[str, ...]:
        """The different plans of its rounds, as its file names them: those that it deals by lot, or the one."""
        return tuple(dict.fromkeys(self.vary.plans)) or (self.plan,)
