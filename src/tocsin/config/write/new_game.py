"""Write the text of a team's game file from its answers, with the purpose of each line."""

from collections.abc import Iterator

from tocsin.config.toml.phrases import quoted
from tocsin.config.write.answers import GameAnswers, Span
from tocsin.config.write.starter import built, game_in
from tocsin.model.game import Game, Window
from tocsin.model.moment import Moment
from tocsin.units import format_clock

CONTACT_WINDOW = "no_contact"
_HEAD = """\
# Written by `tocsin init`. Change what you like: `tocsin check` finds mistakes. The event's rules come first: hold this
# file against them.

format = "tocsin-game/1"
name = {name}
digits = "{digits}"                       # while 20.0 to 19.0 s are left the display shows {shows}
counts = "{counts}"                     # what the display counts down: each period, or the match

# Periods follow each other in the order of the file.
"""
_PERIOD = """
[[period]]
id = "{id}"
kind = "{kind}"
title = "{title}"
lasts = "{lasts}"
"""
_BY_KEY = """
[[period]]
id = "pause"
kind = "pause"
title = "Pick up pads"
lasts = "open"                            # until a person begins the next period by a key
"""
_WINDOW = """
# A window is a time in which a rule changes: here from when to when contact costs.
[[window]]
id = "{id}"
title = "No contact"
begin = {begin}
end = {end}
"""
_STAKE = """
# What a slip is worth. Drills count the scribe's marks against it.
[[stake]]
id = "contact"
title = "Contact while we must keep off"
during = "{window}"
points = {points}
to = "opponents"
"""
_HOME = """
# What it is worth to be home at the end: take the # away, and write your game's points.
# [[stake]]
# id = "home"
# title = "Robot home at the end"
# points = 10
# to = "us"
# most = 2                                # one for each robot of the alliance
"""


def game_text(answers: GameAnswers, name: str) -> str:
    """Return a game file's text; ``name`` is the game's."""
    return "".join(_tables(answers, name))


def _tables(answers: GameAnswers, name: str) -> Iterator[str]:
    shows = "0:20" if answers.digits == "ceil" else "0:19"
    yield _HEAD.format(name=quoted(name), digits=answers.digits, shows=shows, counts=answers.counts)
    if answers.autonomous_ns:
        lasts = format_clock(answers.autonomous_ns)
        yield _PERIOD.format(id="auto", kind="autonomous", title="Autonomous", lasts=lasts)
        if answers.pause_ns is None:
            yield _BY_KEY
        elif answers.pause_ns:
            lasts = format_clock(answers.pause_ns)
            yield _PERIOD.format(id="pause", kind="pause", title="Pick up pads", lasts=lasts)
    lasts = format_clock(answers.driver_ns)
    yield _PERIOD.format(id="driver", kind="driver", title="Driver-controlled", lasts=lasts)
    if answers.spans:
        begins = [_moment(span.begin_left_ns, answers.driver_ns) for span in answers.spans]
        ends = [_moment(span.end_left_ns, answers.driver_ns) for span in answers.spans]
        yield _WINDOW.format(id=CONTACT_WINDOW, begin=_one_or_list(begins), end=_one_or_list(ends))
        if answers.contact:
            yield _STAKE.format(window=CONTACT_WINDOW, points=answers.contact)
    yield _HOME


def _moment(left_ns: int, driver_ns: int) -> str:
    if left_ns == driver_ns:
        return '"driver.begin"'
    return f'"driver.end-{format_clock(left_ns)}"' if left_ns else '"driver.end"'


def _one_or_list(moments: list[str]) -> str:
    return moments[0] if len(moments) == 1 else f"[{', '.join(moments)}]"


def answers_in(game: Game) -> GameAnswers | None:
    """Return the answers that a game was written from, None for one that these questions do not describe."""
    periods = {period.id: period for period in game.periods}
    driver = periods.get("driver")
    if driver is None or driver.lasts_ns is None:
        return None
    auto, pause = periods.get("auto"), periods.get("pause")
    spans = [_span(window, driver.lasts_ns) for window in game.windows if window.id == CONTACT_WINDOW]
    contact = [stake.points for stake in game.stakes if stake.id == "contact"]
    answers = GameAnswers(
        autonomous_ns=auto.lasts_ns or 0 if auto else 0,
        pause_ns=pause.lasts_ns if pause else 0,
        driver_ns=driver.lasts_ns,
        digits=game.digits,
        counts=game.counts,
        spans=tuple(one for several in spans for one in several),
        contact=contact[0] if contact else 0,
    )
    again = game_in(game_text(answers, game.name))
    return answers if built(again) == game else None


def _span(window: Window, driver_ns: int) -> list[Span]:
    def left_ns(moment: Moment) -> int:
        return driver_ns if moment.edge == "begin" else -moment.offset_ns

    return [Span(left_ns(begin), left_ns(end)) for begin, end in zip(window.begins, window.ends, strict=False)]
