"""Say before a season what so many evenings of a drill can show, and what they cannot. Pure.

It counts what the drill deals and asks for, with the least data of each question and the evidence that each comparison
takes (``better.py``): so nobody waits for what cannot come. What depends on how people play is taken as usual: times
that vary by 0.6 s a round, and a push in each round.
"""

import math
from collections import Counter
from collections.abc import Sequence

import msgspec

from tocsin.analysis.review.answer import Outcome, Question
from tocsin.analysis.review.better import USUAL_SPREAD_S
from tocsin.analysis.review.home import FEWEST_OF_SETUP
from tocsin.analysis.review.matches import FEWEST_MATCHES
from tocsin.analysis.review.outcomes import FEWEST_EVENINGS
from tocsin.analysis.review.times import FEWEST_FOR_MIDDLE
from tocsin.analysis.review.trends import FEWEST_EVENINGS_WITHIN, FEWEST_FOR_EVENING
from tocsin.analysis.seasons.evidence import needed_beside, pairs_for, pairs_for_shares
from tocsin.analysis.seasons.ranks import FEWEST_FOR_NINE
from tocsin.analysis.seasons.rounds_chart import BASELINE
from tocsin.analysis.seasons.slopes import FEWEST_EVENINGS as FEWEST_TO_LEARN
from tocsin.analysis.seasons.slopes import FEWEST_IN_EVENING
from tocsin.model.drill import Drill
from tocsin.model.project import Asked

USUAL_EVENINGS = 12
SECONDS = (1.0, 0.5, 0.3, 0.2)         # true differences that are asked for
SHARES = ((0.4, 0.1), (0.3, 0.15), (0.1, 0.0))         # of rounds with a contact; the last is the least that matters
_CONTACT, _TURNED, _HOME = "contact", "turned", "home"             # labels of marks


class Factor(msgspec.Struct, frozen=True, kw_only=True):
    """What a drill deals by lot: how many ``values``, and how many pairs of each two of them an evening holds in the
    mean."""

    asked: Asked
    values: int
    pairs: float

    @property
    def comparisons(self) -> int:
        """How many comparisons of two values it has."""
        return math.comb(self.values, 2)


class Planned(msgspec.Struct, frozen=True, kw_only=True):
    """What an evening of a drill gives: ``rounds`` at full speed of all ``crews`` together, of ``setups`` different
    ones. It ``guards`` a window in which contact costs; its call finds ``pushes``; it notes ``turns`` and
    ``homes``."""

    drill: str
    evenings: int
    crews: int
    rounds: int
    setups: int
    guards: bool
    pushes: bool
    turns: bool
    homes: bool
    factors: tuple[Factor, ...]

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """By what values may be compared, the one first by which they are where only one is."""
        asked: tuple[tuple[Outcome, bool], ...] = (
            ("break_off", self.pushes), ("turn", self.turns), ("contact", self.guards)
        )
        return tuple(outcome for outcome, is_asked in asked if is_asked)


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """From which ``evening`` on a figure can be told, by its name; None: this drill never gives enough."""

    question: Question
    figure: str
    evening: int | None


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """After how many ``pairs``, and at which ``evening``, a true difference is seen in half of all seasons, if it is
    the question of the month: one of ``size`` seconds, or contacts in a share ``size`` of rounds against ``other``.
    None: not in any season."""

    asked: Asked
    values: int
    outcome: Outcome
    size: float
    other: float | None = None
    needed: float
    pairs: int | None
    evening: int | None


class Outlook(msgspec.Struct, frozen=True, kw_only=True):
    """What the evenings that are ``planned`` can show; practice is compared with matches from so many ``matches``."""

    planned: Planned
    told: tuple[Told, ...]
    seen: tuple[Seen, ...]
    matches: int = FEWEST_MATCHES


def planned_of(drill: Drill, *, evenings: int = USUAL_EVENINGS, crews: int = 1) -> Planned:
    """Return what evenings of a drill give, if each crew plays all its rounds and all of them count.

    A drill that notes no turns begins after the call: no push is on then that it would find.
    """
    vary, guards = drill.vary, bool(drill.clean.keep_off)
    noted = set(drill.marks or (_CONTACT, _TURNED, _HOME))
    dealt: dict[Asked, Sequence[object]] = {
        "coach": vary.coach, "setup": vary.setups, "shift": vary.shift_ns, "draw_out": vary.draw_out,
        "plan": vary.plans,
    }  # fmt: skip
    factors = [
        Factor(asked=asked, values=len(set(values)), pairs=crews * _pairs(drill, values))
        for asked, values in dealt.items() if len(set(values)) > 1
    ]
    return Planned(
        drill=drill.name, evenings=evenings, crews=crews, rounds=crews * (drill.rounds - drill.half_speed),
        setups=len(set(vary.setups)), guards=guards, pushes=guards and {_CONTACT, _TURNED} <= noted,
        turns=_TURNED in noted, homes=_HOME in noted, factors=tuple(factors),
    )  # fmt: skip


def outlook_of(planned: Planned, *, spread_s: float = USUAL_SPREAD_S) -> Outlook:
    """Return what these evenings can show, and what they cannot; rounds vary by ``spread_s``, in seconds."""
    return Outlook(
        planned=planned, told=tuple(_told(planned)),
        seen=tuple(one for factor in planned.factors for one in _seen(planned, factor, spread_s)),
    )  # fmt: skip


def _pairs(drill: Drill, values: Sequence[object]) -> float:
    """Return how many pairs of each two values an evening holds in the mean: of a block that is cut short, or begins at
    half speed, the lot says which values are left."""
    size = len(values)
    if len(set(values)) < size:
        return 0.0                                     # a value that is dealt twice a block has no pair of its own
    full = Counter(place // size for place in range(drill.half_speed, drill.rounds))
    return sum(math.comb(rounds, 2) for rounds in full.values()) / math.comb(size, 2)


def _told(planned: Planned) -> list[Told]:
    rounds = planned.rounds

    def after(count: int, an_evening: float) -> int | None:
        return math.ceil(count / an_evening - 1e-9) if an_evening else None

    found: list[tuple[Question, str, int | None]] = []
    if planned.guards:
        found.append(("contact", "contact", after(FEWEST_EVENINGS, 1)))
    if planned.pushes:
        found += [
            ("break_off", "margin", after(FEWEST_FOR_MIDDLE, rounds)),
            ("break_off", "margin_nine_in_ten", after(FEWEST_FOR_NINE, rounds)),
        ]
    if planned.turns:
        found += [
            ("turn", "turn", after(FEWEST_FOR_MIDDLE, rounds)),
            ("turn", "turn_nine_in_ten", after(FEWEST_FOR_NINE, rounds)),
        ]
    if planned.homes:
        enough = after(FEWEST_FOR_MIDDLE, rounds)
        found.append(("home", "home_full", enough and max(enough, FEWEST_EVENINGS)))
        if planned.setups:
            found.append(("home", "way", after(FEWEST_OF_SETUP, rounds / planned.setups)))
    if planned.guards or planned.homes:
        found.append(("cost", "cost", after(FEWEST_EVENINGS, 1)))
    if planned.pushes:
        found += [
            ("odd", "odd", after(BASELINE + 1, rounds / planned.crews)),
            ("tired", "by_round", FEWEST_EVENINGS_WITHIN if rounds >= FEWEST_IN_EVENING else None),
            ("learning", "learning", FEWEST_TO_LEARN if rounds >= FEWEST_FOR_EVENING else None),
        ]
    return [
        Told(question=question, figure=figure, evening=evening if rounds else None)
        for question, figure, evening in found
    ]


def _seen(planned: Planned, factor: Factor, spread_s: float) -> list[Seen]:
    """Return after how many evenings differences are seen where this factor is the question of the month."""
    found = []
    for outcome in planned.outcomes:
        needed = _needed(planned, factor, outcome)
        sizes: Sequence[tuple[float, float | None]] = [(one, None) for one in SECONDS]
        if outcome == "contact":
            sizes = SHARES
        for size, other in sizes:
            pairs = (
                pairs_for(size, spread_s * math.sqrt(2), needed=needed) if other is None
                else pairs_for_shares(size, other, needed=needed)
            )
            evening = math.ceil(pairs / factor.pairs - 1e-9) if pairs and factor.pairs else None
            found.append(Seen(
                asked=factor.asked, values=factor.values, outcome=outcome, size=size, other=other, needed=needed,
                pairs=pairs, evening=evening,
            ))  # fmt: skip
    return found


def _needed(planned: Planned, factor: Factor, outcome: Outcome) -> float:
    """Return the evidence that "better" takes: as the question, by the first outcome, or beside it."""
    if outcome == planned.outcomes[0]:
        return needed_beside(factor.comparisons)
    others = sum(one.comparisons for one in planned.factors if one is not factor)
    return needed_beside(others + factor.comparisons * (len(planned.outcomes) - 1))
