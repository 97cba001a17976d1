"""Games and plans for the tests of compiler and timeline: short builders, and random ones."""

from hypothesis import strategies as st

from tocsin.model.game import Game, Period, Stake, Variant, Window
from tocsin.model.moment import Moment, parse
from tocsin.model.pattern import (
    LightPattern,
    Patterns,
    RumblePattern,
    RumbleStep,
    ScreenPattern,
    SoundPattern,
    SoundStep,
)
from tocsin.model.plan import CHANNELS, ROLES, Cue, Plan
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

WHITE = (255, 255, 255)
PATTERNS = Patterns(
    rumble={
        "triple": RumblePattern(
            steps=(RumbleStep(strong=1.0, lasts_ns=250 * MS), RumbleStep(lasts_ns=200 * MS)), times=3
        ),
        "short": RumblePattern(steps=(RumbleStep(strong=1.0, lasts_ns=300 * MS),)),
    },
    light={"glow": LightPattern(form="plain", colours=(WHITE,), lasts_ns=3 * S)},
    screen={"word": ScreenPattern(field="plain", colours=(WHITE,), letters=WHITE, lasts_ns=3 * S)},
    sound={"beep": SoundPattern(steps=(SoundStep(hz=750.0, lasts_ns=250 * MS),))},
)  # fmt: skip
ALL_CHANNELS = {"rumble": "triple", "light": "glow", "screen": "word", "sound": "beep"}


def moments(*texts):
    return tuple(parse(text) for text in texts)


def texts(value):
    return (value,) if isinstance(value, str) else tuple(value)


def period(name, lasts, kind="driver", by_hand=False):
    lasts_ns = None if lasts is None else round(lasts * S)
    return Period(id=name, kind=kind, title=name, lasts_ns=lasts_ns, by_hand=by_hand)


def window(name, begin, end):
    return Window(id=name, title=name, begins=moments(*texts(begin)), ends=moments(*texts(end)))


def cue(name="home", at=(), until=(), **rest):
    rest.setdefault("patterns", {"screen": "word"})
    return Cue(id=name, at=moments(*texts(at)), until=moments(*texts(until)), **rest)


# The foundry's lengths: 28 s, 11 s to reach the pads, 97 s, 4 s in which robots coast. Both windows begin at one edge.
PERIODS = (
    period("auto", 28, "autonomous"),
    period("pause", 11, "pause"),
    period("driver", 97),
    period("settle", 4, "settle"),
)
WINDOWS = (
    window("endgame", "driver.end-18s", "driver.end"),
    window("no_contact", "driver.end-18s", "settle.end"),
)


def match_of(*periods, windows=(), **rest):
    return Game(name="Invented", periods=periods or PERIODS, windows=tuple(windows), **rest)


STANDARD = match_of(windows=WINDOWS)


def plan_of(*cues, leads=None, patterns=PATTERNS):
    return Plan(name="Try", game="invented", leads=leads or {}, cues=cues, patterns=patterns)


# -- random ones ------------------------------------------------------------------------------------------------------


@st.composite
def period_lists(draw):
    count = draw(st.integers(1, 4))
    periods = []
    for n in range(count):
        may_be_open = n + 1 < count
        lasts_ns = draw(st.integers(1, 60 * S))
        if may_be_open and draw(st.integers(0, 4)) == 0:
            lasts_ns = None
        kind = draw(st.sampled_from(["autonomous", "pause", "driver"]))
        by_hand = bool(n) and draw(st.integers(0, 2)) == 0
        periods.append(Period(id=f"p{n}", kind=kind, title=f"P{n}", lasts_ns=lasts_ns, by_hand=by_hand))
    if draw(st.booleans()):
        lasts_ns = draw(st.integers(1, 5 * S))
        by_hand = draw(st.integers(0, 3)) == 0
        periods.append(Period(id="settle", kind="settle", title="Settle", lasts_ns=lasts_ns, by_hand=by_hand))
    return tuple(periods)


@st.composite
def moments_in(draw, periods, marks=True):
    """A moment in some period, counted from its begin or its end; mostly one that can be."""
    if marks and draw(st.integers(0, 7)) == 0:
        return Moment(f"mark.m{draw(st.integers(0, 2))}", "begin", offset_ns=draw(st.integers(0, 20 * S)))
    chosen = draw(st.sampled_from(periods))
    most = 30 * S if chosen.lasts_ns is None else chosen.lasts_ns
    within_ns = draw(st.sampled_from([0, most // 2, most]) | st.integers(0, most))
    if chosen.lasts_ns is not None and draw(st.booleans()):
        return Moment(chosen.id, "end", offset_ns=within_ns - chosen.lasts_ns)
    return Moment(chosen.id, "begin", offset_ns=within_ns)


@st.composite
def ends_of(draw, periods, begin):
    """An end for what begins at a moment: soon after it, at the end of its period, or in one case of six anywhere."""
    form = draw(st.integers(0, 5))
    chosen = next((p for p in periods if p.id == begin.base), None)
    if form == 0:
        return draw(moments_in(periods))
    if form < 3 and chosen is not None and chosen.lasts_ns is not None:
        return Moment(chosen.id, "end")
    return Moment(begin.base, begin.edge, begin.span, begin.offset_ns + draw(st.sampled_from([1, S, 5 * S])))


@st.composite
def games(draw):
    periods = draw(period_lists())
    windows = []
    for n in range(draw(st.integers(0, 3))):
        spans = draw(st.integers(1, 3))
        begins = tuple(draw(moments_in(periods)) for _ in range(spans))
        if draw(st.booleans()):
            # from each begin on, for a while: the way in which recurring windows are written
            ends = (Moment(f"w{n}", "begin", offset_ns=draw(st.integers(1, 10 * S))),)
        else:
            ends = tuple(draw(ends_of(periods, begin)) for begin in begins)
        windows.append(Window(id=f"w{n}", title=f"W{n}", begins=begins, ends=ends))
    variants = tuple(Variant(id=f"v{n}", title=f"V{n}", default=n == 1) for n in range(draw(st.integers(0, 3))))
    stakes = (Stake(id="s", title="S", points=1, to="us", during=windows[0].id if windows else ""),)
    counts, digits = draw(st.sampled_from(["period", "match"])), draw(st.sampled_from(["ceil", "floor"]))
    return Game(
        name="Random", periods=periods, windows=tuple(windows), variants=variants, stakes=stakes,
        counts=counts, digits=digits,
    )  # fmt: skip


@st.composite
def cues(draw, game, number):
    patterns = draw(st.lists(st.sampled_from(CHANNELS), min_size=1, unique=True))
    played = [p for p in game.periods if p.kind != "settle"]
    at = tuple(draw(st.lists(moments_in(played), min_size=1, max_size=3, unique=True)))
    until, every_ns = (), None
    form = draw(st.sampled_from(["one-shot", "sustained", "repeated"]))
    if form != "one-shot":
        until = tuple(draw(ends_of(game.periods, begin)) for begin in at)
        every_ns = draw(st.integers(100 * MS, 5 * S)) if form == "repeated" else None
    return Cue(
        id=f"c{number}", at=at, until=until, every_ns=every_ns,
        roles=tuple(draw(st.lists(st.sampled_from(ROLES), min_size=1, unique=True))),
        patterns={channel: ALL_CHANNELS[channel] for channel in patterns},
        callable=draw(st.booleans()),
        when=draw(st.sampled_from(["", *(variant.id for variant in game.variants)])),
    )  # fmt: skip


@st.composite
def games_and_plans(draw):
    game = draw(games())
    return game, plan_of(*(draw(cues(game, n)) for n in range(draw(st.integers(0, 4)))))
