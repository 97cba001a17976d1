"""Define a team's project: which game, plans, rig and drills are its own, who is in its crews, and what it asks.

Files and names are as the project file states them; `config/project.py` says which files they mean.
"""

from typing import Literal

import msgspec

from tocsin.model.plan import Role

#: What ``[vary]`` of a drill deals, and so what can be asked about it.
Asked = Literal["coach", "setup", "plan", "draw_out", "shift"]
DEFAULT_SECOND = (0.5, 1.0)            # points; common practice, no source
MOST_SECOND = 10.0                     # more is a slip: 150 s of it would be 1,500 points a match; common practice


class Event(msgspec.Struct, frozen=True, kw_only=True):
    """What holds at events: the plan (empty: the usual one), and their days as ISO 8601 writes them."""

    plan: str = ""
    dates: tuple[str, ...] = ()


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """The question of the month: what is dealt to find it out, and the day ``since`` which it is asked (empty: not
    said): evenings after it count, since whoever has seen an evening asks otherwise."""

    asks: Asked
    since: str = ""


class Project(msgspec.Struct, frozen=True, kw_only=True):
    """A project. Empty texts and tuples mean that it does not say.

    ``second`` is what a second of playing is worth in points, from and to. ``crews`` maps a crew to the keys of its
    people by role: names stand in the file of people alone.
    """

    name: str
    game: str = ""
    plans: tuple[str, ...] = ()
    rig: str = ""
    drills: tuple[str, ...] = ()
    patterns: tuple[str, ...] = ()
    runs: str = ""
    language: str = ""
    second: tuple[float, float] = DEFAULT_SECOND
    event: Event = Event()
    question: Question | None = None
    crews: dict[str, dict[Role, str]] = {}
