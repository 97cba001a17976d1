"""Plans that are hard to put on a card: crowds, variants, long words, times that nobody knows before the match."""

from functools import cache

from tests.support.export.exported_plans import BUNDLED, bundled, source
from tocsin.export.card.card import card_layout
from tocsin.export.card.layout import Layout
from tocsin.export.source import Source
from tocsin.model.game import Game, Period, Variant
from tocsin.model.moment import parse
from tocsin.model.pattern import Patterns, RumblePattern, RumbleStep, ScreenPattern
from tocsin.model.plan import Cue, Plan
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

WHITE = (255, 255, 255)
PATTERNS = Patterns(
    screen={"word": ScreenPattern(field="plain", colours=(WHITE,), letters=WHITE, lasts_ns=S)},
    rumble={"short": RumblePattern(steps=(RumbleStep(strong=0.8, lasts_ns=300 * MS),))},
)
PERIODS = (
    Period(id="auto", kind="autonomous", title="Robot alone", lasts_ns=28 * S),
    Period(id="pause", kind="pause", title="Crews step in", lasts_ns=11 * S),
    Period(id="driver", kind="driver", title="Hands on", lasts_ns=97 * S),
    Period(id="settle", kind="settle", title="Robots coast", lasts_ns=4 * S),
)
WORDS = ("Swap soon", "Home", "No touch", "Choose", "Last one", "Pads", "Call home", "Feed")
REASONS = ("one more cycle fits in before the call home", "from here on a touch costs points", "", "leave in time")
ORDERS = ("North door first", "South door first", "Both doors at once", "North alone", "South alone")
LONG_WORD = "Unverzueglichzurueckfahrenundunterdemglockenstuhlstehenbleibenbisesausgeklungen"


def game(*periods: Period, variants: int = 0, **rest) -> Game:
    """Return an invented game with so many variants."""
    orders = tuple(Variant(id=f"v{n}", title=ORDERS[n]) for n in range(variants))
    return Game(name="Invented", periods=periods or PERIODS, variants=orders, **rest)


def cue(name: str, *at: str, until: str = "", **rest) -> Cue:
    """Return a cue, on the screen unless ``patterns`` are given."""
    moments = tuple(parse(text) for text in at)
    ends = (parse(until),) if until else ()
    return Cue(id=name, at=moments, until=ends, **{"patterns": {"screen": "word"}, **rest})


def made(of: Game, *cues: Cue, name: str = "Try") -> Source:
    """Return the source of a plan of these cues, which has no mistakes."""
    return source(of, Plan(name=name, game="invented", cues=cues, patterns=PATTERNS))


def crowd(count: int, priorities=lambda n: 9 if n % 10 == 9 else n % 7) -> Source:
    """Return a plan of ``count`` cues, spread over the 97 s of the driver period; of ten, three have no word."""
    cues = (
        cue(
            f"cue_{n}", f"driver.end-{97 - n * 96 // count}s",
            say="" if n % 10 in (1, 4, 7) else WORDS[n % len(WORDS)],
            why=REASONS[n % len(REASONS)],
            priority=priorities(n),
        )
        for n in range(count)
    )  # fmt: skip
    return made(game(), *cues, name=f"Crowd of {count}")


def orders(variants: int = 3) -> Source:
    """Return a plan in which some calls hang on one of several variants."""
    doors = zip(range(variants), ("South door", "North door", "Both doors", "North", "South"), strict=False)
    return made(
        game(variants=variants),
        cue("begin", "driver.begin+2s", say="Begin", why="in any order of play"),
        *(
            cue(f"door_{n}", "driver.begin+30s", "driver.begin+60s", when=f"v{n}", say=word, why=f"order {n} was drawn")
            for n, word in doors
        ),
        cue("only_one", "driver.begin+45s", when="v1", say="Wait", why="only in the second order", priority=7),
        cue(
            "home", "driver.end-22s", say="Home", priority=9, callable=True,
            why="travel, reach the rope, and some in hand",
        ),
        cue("third", "driver.end-18s", until="driver.end-2s", every_ns=5 * S, when=f"v{variants - 1}", say="Help them"),
        name="Orders",
    )  # fmt: skip


def long_words() -> Source:
    """Return the longest words that a file may hold (80 letters), and letters that the font lacks or that are codes."""
    periods = (Period(id=p.id, kind=p.kind, title=p.title * 4, lasts_ns=p.lasts_ns) for p in PERIODS)
    everybody = ("driver", "operator", "coach", "scribe", "feeder")
    return made(
        Game(name="A game with a long name, " * 3, periods=tuple(periods)),
        cue("one", "driver.end-60s", say=LONG_WORD, why="W" * 80, priority=9),
        cue("two", "driver.end-40s", say="so many words that they " * 3, why="they go on and on and on " * 3),
        cue("three", "driver.end-20s", say="終盤 $x^2$ <&> ÅÉ", why="a sum of $5 & <b>more</b> --> 🙂"),
        cue("four", "driver.end-10s", why="x" * 40 + " " + "y" * 39, roles=everybody),
        name="A plan with a long name, " * 3,
    )


def unknown_times() -> Source:
    """Return a plan with an open period, periods begun by hand, marks, calls, and repeats of all kinds."""
    periods = (
        Period(id="auto", kind="autonomous", title="Robot alone", lasts_ns=28 * S),
        Period(id="pause", kind="pause", title="Crews step in", lasts_ns=None),
        Period(id="driver", kind="driver", title="Hands on", lasts_ns=3600 * S, by_hand=True),
        Period(id="settle", kind="settle", title="Robots coast", lasts_ns=4 * S, by_hand=True),
    )
    return made(
        game(*periods),
        cue("across", "auto.end-3s", until="auto.end", every_ns=S, say="Count"),
        cue("pads", "pause.begin+5s", say="Pads", why="nobody knows how long it lasts"),
        cue("tick", "pause.begin+6s", until="pause.begin+9s", every_ns=S // 2),
        cue("touch", "mark.contact", "mark.contact+3s", say="Back", why="they touched us"),
        cue("extra", say="Extra", callable=True, why="whenever there is one to fetch"),
        cue("home", "driver.end-22s", say="Home", callable=True, priority=9),
        cue("fast", "driver.end-3s", until="driver.end-2.5s", every_ns=100 * MS, say="Now"),
        cue("over", "match.end", say="Over", priority=9),
        name="Unknown",
    )


HARD = {
    "crowd of 24": lambda: crowd(24),
    "crowd of 60": lambda: crowd(60),
    "one cue": lambda: made(game(), cue("home", "driver.end-22s", say="Home")),
    "two orders": lambda: orders(2),
    "three orders": lambda: orders(3),
    "five orders": lambda: orders(5),
    "long words": long_words,
    "unknown times": unknown_times,
    "nothing": lambda: made(game()),
}
CARDS = {name: lambda name=name: bundled(name) for name in BUNDLED} | HARD


@cache
def laid_out(name: str, size: str) -> Layout:
    """Return the layout of one of ``CARDS``; tests look at the same ones from several sides."""
    return card_layout(CARDS[name](), size)
