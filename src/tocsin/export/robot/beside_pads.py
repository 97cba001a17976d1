"""Write the part of the top of robot code for programs that have more than pads, or less: a strip of light, a
loudspeaker, one button and no periods.

Texts name the code's own functions in braces, as in ``head``.
"""

from collections.abc import Iterator

from tocsin.export.occurrences import calls
from tocsin.export.robot.dialect import Dialect
from tocsin.export.robot.light import FORMS
from tocsin.export.robot.moments import row
from tocsin.export.robot.table import RobotTable, main_period
from tocsin.export.robot.text import aligned, columns, wrapped
from tocsin.export.source import Source
from tocsin.translation import tr

_MOST_ROWS = 50                        # of a table: nobody reads more
LIT = (
    tr("""A strip that your program drives can show the plan's light: {light}() finds what it shows by the newest
poll, {led}() gives the colour of each LED, as many as you have."""),
    tr("""A light that holds for a while shows whenever that time is on. Any other shows once, and only if it came in
time. A period that a person begins ends what showed before it. While the clock is lost the strip is dark, but for
calls."""),
    tr("""CAUTION. No light stops a robot. Let nobody look into the strip from close by, and dim it: white draws up to
60 mA an LED, so size supply, wires and fuse for all of them, or limit your colours. By itself this light flashes at
most twice in any second: that was checked as this file was written, and a plan that flashes more is refused. It holds
only if your program shows nothing else on that strip, and does not set the clock again and again. Ask whether the event
allows light on a robot."""),
)
TONES = tr("""{tone}() says which tone a loudspeaker is to give, in Hz. Only for practice: events mostly forbid sound.
Keep it quiet, and away from ears.""")
ONE_CLOCK = (
    tr("""A program that has a start button and no periods of its own calls {begin}() as the button goes down, and
{roll}() in place of {poll}(). Periods that end by themselves follow each other on one clock; for one that a person
begins it waits for the next press ({waits}() says so), and {over}() is true once all of them have ended. A press
counts as 250 ms late, so what is due in the first tenth of a second after it is left out, unless its late limit is
longer."""),
    tr("""{sync}() is its {official}(). While the clock is lost, or nothing has begun, the reading is taken for one of
the period "{title}"; else for that of the period in which it moves the clock least."""),
)


def light(source: Source, table: RobotTable, dialect: Dialect, spelled: dict[str, str]) -> Iterator[str]:
    """Yield what a strip of the robot's own needs, and what it then shows when."""
    yield from (line for text in LIT for line in wrapped(text.format(**spelled)))
    yield ""
    yield from aligned(dialect.light)
    yield ""
    rows: list[tuple[str, ...]] = [("period", "seconds", "to", "cue", "light")]
    lit = [call for call in calls(source) if "light" in call.patterns and not call.anchor.startswith("mark.")]
    for call in lit[:_MOST_ROWS]:
        period, since, to, *_, only = row(source, call, "light")
        rows.append((period, since, to, call.cue, call.patterns["light"], only))
    yield from columns((*map(dialect.comment, row), "")[:6] for row in rows)
    if len(lit) > _MOST_ROWS:
        yield from wrapped(tr("And {count} more.", count=len(lit) - _MOST_ROWS))
    yield from columns(
        (dialect.comment(look.name), FORMS[look.form], *(f"#{bytes(rgb).hex()}" for rgb in (look.first, look.second)))
        for look in table.looks[:_MOST_ROWS]
    )


def tones(dialect: Dialect, spelled: dict[str, str]) -> Iterator[str]:
    """Yield what a loudspeaker needs."""
    yield from wrapped(TONES.format(**spelled))
    yield ""
    yield from aligned(dialect.tone)


def one_clock(source: Source, dialect: Dialect, spelled: dict[str, str]) -> Iterator[str]:
    """Yield what a program needs that has one button, and no periods."""
    title = dialect.comment(main_period(source.timeline).title)
    for text in ONE_CLOCK:
        yield from wrapped(text.format(title=title, **spelled))
    yield ""
    yield from aligned(dialect.one_clock)
