"""Plans that the bundled ones are not: begun by hand, open, at marks; and one whose words try to leave their place."""

from tests.support.export.exported_plans import source
from tocsin.model.game import Game, Period, Variant, Window
from tocsin.model.moment import parse
from tocsin.model.pattern import Patterns, RumblePattern, RumbleStep, ScreenPattern
from tocsin.model.plan import Cue, Plan
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

NASTY = "</script><script>alert(1)</script><!-- --> & \" ' @@script@@ \u2028 \\"
WHITE = (255, 255, 255)
PATTERNS = Patterns(
    rumble={"buzz": RumblePattern(steps=(RumbleStep(strong=1.0, weak=1.0, lasts_ns=300 * MS),))},
    screen={"word": ScreenPattern(field="none", colours=(WHITE,), letters=WHITE, lasts_ns=3 * S)},
)


def by_hand():
    """A match with an open period, one begun by hand, cues across them, at a mark, by call, in a variant."""

    def moments(*texts):
        return tuple(parse(text) for text in texts)

    def cue(name, at, until=(), **rest):
        return Cue(
            id=name, at=moments(*at), until=moments(*until), patterns={"rumble": "buzz", "screen": "word"}, **rest
        )

    game = Game(
        name="By hand",
        periods=(
            Period(id="auto", kind="autonomous", title="Auto", lasts_ns=15 * S),
            Period(id="pause", kind="pause", title="Pause", lasts_ns=None),
            Period(id="driver", kind="driver", title="Driver", lasts_ns=60 * S),
            Period(id="last", kind="driver", title="Last", lasts_ns=20 * S, by_hand=True),
            Period(id="settle", kind="settle", title="Settle", lasts_ns=3 * S),
        ),
        windows=(
            Window(id="early", title="Early", begins=moments("auto.begin+5s"), ends=moments("driver.begin+5s")),
            Window(id="late", title="Late", begins=moments("last.begin+10s"), ends=moments("settle.end")),
        ),
        variants=(Variant(id="one", title="One", default=True), Variant(id="two", title="Two")),
        digits="floor",
        counts="match",
    )
    cues = (
        cue("swap", ["auto.begin+12s"], ["driver.begin+3s"]),
        cue("there", ["auto.end-5s", "driver.begin+30s"], when="one"),
        cue("here", ["driver.begin+30s"], when="two", late_limit_ns=1500 * MS),
        cue("home", ["last.begin+6s"], ["last.begin+10s"], callable=True, priority=9),
        cue("touched", ["mark.contact+2s"]),
        cue("over", ["match.end"]),
    )
    return source(game, Plan(name="By hand", game="by_hand", cues=cues, patterns=PATTERNS))


def nasty():
    game = Game(
        name=NASTY,
        periods=(Period(id="driver", kind="driver", title=NASTY, lasts_ns=60_000_000_000),),
        variants=(Variant(id="one", title=NASTY, default=True), Variant(id="two", title="Two")),
    )
    pattern = ScreenPattern(field="none", colours=((255, 255, 255),), letters=(255, 255, 255), lasts_ns=5_000_000_000)
    cue = Cue(                             # long to be seen, and never too late: a browser may take its time to open
        id="home", at=(parse("driver.end-5s"),), patterns={"screen": "word"}, say=NASTY, why=NASTY, callable=True,
        late_limit_ns=5_000_000_000,
    )  # fmt: skip
    return source(game, Plan(name=NASTY, game="g", cues=(cue,), patterns=Patterns(screen={"word": pattern})))
