"""Write the top of robot code, for somebody who has never seen this project: what comes when, how to use it.

Texts name the code's own functions in braces, ``{poll}``, since each language spells them differently.
"""

from collections.abc import Callable, Iterable, Iterator

from tocsin.export.occurrences import CueOccurrence, calls
from tocsin.export.robot.beside_pads import light, one_clock, tones
from tocsin.export.robot.dialect import FUNCTIONS, Dialect
from tocsin.export.robot.moments import row
from tocsin.export.robot.pattern import LONG_PULSE_MS, PULSES_APART_MS, SHORT_PULSE_MS
from tocsin.export.robot.rows import Names, names_of
from tocsin.export.robot.table import RobotTable, exported, main_period
from tocsin.export.robot.text import aligned, columns, wrapped
from tocsin.export.source import CAUTIONS, Source
from tocsin.export.table import seconds
from tocsin.model.timeline.point import PeriodSlot
from tocsin.model.timeline.timeline import Firing, Timeline
from tocsin.translation import tr
from tocsin.units import NS_PER_MS

MOST_TIMERS = 3


def timers(source: Source, table: RobotTable, comment: Callable[[str], str]) -> Iterator[str]:
    """Yield the lines that say which timers to set, or none if nothing shakes from that period's begin on. ``comment``
    makes texts fit for a language's comments."""
    slot = main_period(source.timeline)
    found = _most_important(source.timeline, slot)
    if not found:
        return
    yield from wrapped(
        comment(
            tr(
                "If this file cannot be used, use timers for the most important cues. Start them all as the period "
                '"{title}" begins. When a timer ends, give its pulses on the pads of its roles: short is {short_pulse} '
                "ms, long {long_pulse} ms, with {pulses_apart} ms between them.",
                title=slot.title, short_pulse=SHORT_PULSE_MS, long_pulse=LONG_PULSE_MS, pulses_apart=PULSES_APART_MS,
            )
        )
    )
    rows = [_timer_row(source, table, slot, firings) for firings in found]
    yield from columns(tuple(comment(cell) for cell in row) for row in rows)


def _most_important(timeline: Timeline, slot: PeriodSlot) -> list[list[Firing]]:
    """Return the firings of the occurrences with the highest priority from the period's begin on, in order."""
    together: dict[tuple[str, int], list[Firing]] = {}
    for firing in exported(timeline):
        if firing.begin.anchor == slot.anchor and firing.begin.offset_ns >= slot.begin_ns:
            together.setdefault((firing.cue, firing.n), []).append(firing)
    ranked = sorted(together.values(), key=lambda firings: (-firings[0].priority, firings[0].no))
    return sorted(ranked[:MOST_TIMERS], key=lambda firings: firings[0].no)


def _timer_row(source: Source, table: RobotTable, slot: PeriodSlot, firings: list[Firing]) -> tuple[str, ...]:
    first = firings[0]
    pattern = table.patterns[table.firings[exported(source.timeline).index(first)].pattern]
    return (
        f"{seconds(first.begin.offset_ns - slot.begin_ns)} s",
        first.cue,
        f'"{first.word}"',
        ", ".join(str(firing.role) for firing in firings),
        " ".join("short" if ms == SHORT_PULSE_MS else "long" for ms in pattern.pulses),
        tr("only in variant {when}", when=first.when) if first.when else "",
    )


_MOST_STEPS = 6                        # of a pattern that are written out
_MOST_ROWS = 100                       # of the table of what comes when: nobody reads more
_MOST_REASONS = 30
_MOST_PATTERNS = 30

PURPOSE = tr("""\
Near the end of a match the drive team must notice certain moments, while nobody looks at a clock. This file knows
them, and makes the drivers' gamepads shake. Each time round your loop you tell it which period of the match is on and
how many milliseconds ago that began. It answers which cues have just come, and how strongly the motors of each pad are
to turn now; if you like also what a strip of light shows, and which tone sounds. It reads no clock and moves no motor
by itself: you pass its answer to the pad. It needs no library, takes no memory while it runs, never waits and never
fails.""")
NO_PURPOSE = tr("""\
It knows the time only from you, and the official clock may differ. No robot part may depend on it.""")
WHEN = tr("""\
Seconds count from the begin of the period. A cue with an end time may come late, if missed, up to that time.
Beside them is what the official display shows.""")
WIRED = tr("""\
now is any clock of milliseconds that runs on. began is what that clock read when this period began: note it where your
program learns of it. A program for another period does the same with that period's name; neither has to know of the
other. Further pads go in as these do, a role each; strengths are percent, 0 to 100. Poll at least every 20 ms: a cue
comes with the first poll at or after its moment.""")
AGAIN = (
    tr("""Each cue comes again only after {restart}(). Without it a program that has played one match, or a
practice round, stays still in the next one. The status then is {FELL_BACK}: the milliseconds of a period went back more
than 5 s. Show it where somebody sees it."""),
    tr("""A robot that is disabled and enabled again within a period is in the same period: keep began. If your program
sets it again at each enable, every later cue comes late by the time that had passed ({FELL_BACK} again, if
that was more than 5 s). If it cannot tell the two apart, call {clock_lost}() as it is enabled again."""),
    tr("""While the robot is disabled, go on if your program runs then. If it does not, stop the motors first: what came
due meanwhile is left out, or comes late, as the rules below say."""),
)
LOST = tr("""\
A program that was started again in mid-match does not know when the period began. Call {clock_lost}() then, and go on
polling with the milliseconds since any moment of your own. No cue comes, only one weak short shake on
each pad: the clock is lost. Cues that are called by hand still come. Now let somebody press a button just as the
official display changes to a reading, say 0:30, and call {official}() with the period, your milliseconds and 30. From
then on your milliseconds of this period are corrected (a press counts as 250 ms late), and the cues are back. It
may be pressed again. The clock stays lost, in later periods too, until that press or {restart}().""")
NEGATIVE = tr("""\
Milliseconds below zero mean: the clock is lost now. Pass them on while your source
of time has no answer yet.""")
RULES = (
    tr(
        "A cue never comes early, and only once a match. If it is later than its late limit (150 ms unless the plan "
        "says\n"
        "otherwise) it is left out. A cue that holds for a while may also come late in that time.",
    ),
    tr(
        "What comes before the period in which your program begins is left out. A period that is polled after a\n"
        "later one gives nothing until {restart}(), which begins a new match or a replay.",
    ),
    tr(
        "If you stay in a period beyond its end, time flows on into the next one that begins by itself. If "
        "milliseconds\n"
        "stand still or go back, because the match is held, nothing comes twice.",
    ),
    tr(
        "A cue called by hand comes at once. In a match the next planned one is then left out.\n"
        "A second press within a second of the last does nothing.",
    ),
    tr(
        "On each pad the higher priority wins, the newest among equals. A pattern begins as {level}() is "
        "asked for it, and\n"
        "ends by itself. If you ask no more, stop the motors. A pattern that nobody asked for in 50 polls is dropped.",
    ),
    tr(
        "{busy}() says when to keep your own rumble off a pad, so that a cue is felt as what it is: from 300 "
        "ms before it\n"
        "until 150 ms after its pattern.",
    ),
    tr(
        "A wrong period, cue or variant does nothing, and the status says why. Call all of it from one\n"
        "thread.",
    ),
)
OTHERS = tr("""\
Pads that want an effect with a duration get the steps of the pattern.
Handsets that only buzz get its pulses. Both are at the end of this file, by the number of a firing.""")
LOG = tr("""\
Each line of the log is: TOCSIN1 period=<id> ms=<since the period began> cue=<id> n=<occurrence, from 0> role=<role>
outcome=<played|resumed|called>. The period is - before any poll.""")


def head(source: Source, table: RobotTable, dialect: Dialect) -> list[str]:
    """Return the lines at the top of a file, without the language's own comment marks."""
    names = names_of(table)
    spelled = {name: dialect.spelled.get(name, name) for name in FUNCTIONS}
    spelled["FELL_BACK"] = f"{dialect.prefix}FELL_BACK"
    sections = (
        _title(source, dialect),
        _section(tr("WHAT IT IS"), wrapped(PURPOSE)),
        _section(tr("WHAT IT IS NOT FOR"), [line for text in (*CAUTIONS, NO_PURPOSE) for line in wrapped(text)]),
        _section(tr("WHAT COMES WHEN"), _what_comes_when(source, table, dialect.comment)),
        _section(tr("WHAT IS LEFT OUT"), _left_out(source, dialect.comment)),
        _section("PERIODS", _periods(table, names, dialect)),
        _section("VARIANTS", _variants(source, table, names, dialect)) if table.variants else [],
        _section(tr("HOW TO ADD IT"), _wiring(source, table, names, dialect)),
        _section(tr("THE NEXT MATCH, AND A ROBOT THAT WAS DISABLED"), _again(spelled)),
        _section(tr("WHEN THE CLOCK IS LOST"), [*wrapped(LOST.format(**spelled)), *wrapped(NEGATIVE)]),
        _section(tr("A STRIP OF LIGHT"), light(source, table, dialect, spelled) if table.looks else []),
        _section(tr("TONES, FOR PRACTICE"), tones(dialect, spelled) if table.tunes else []),
        _section(tr("ONE BUTTON AND NO PERIODS"), one_clock(source, dialect, spelled)),
        _section(tr("FOR A PROGRAM MADE OF BLOCKS"), timers(source, table, dialect.comment)),
        _section(tr("THE RULES IT KEEPS"), [line for rule in RULES for line in wrapped(rule.format(**spelled), "- ")]),
        _section(tr("OTHER PADS, AND THE LOG"), [*wrapped(OTHERS), *wrapped(LOG)]),
    )
    lines = [line for section in sections if section for line in (*section, "")]
    return lines[:-1]


def _section(title: str, lines: Iterable[str]) -> list[str]:
    made = list(lines)
    return [title, *made] if made else []


def _title(source: Source, dialect: Dialect) -> list[str]:
    what = tr(
        'When the pads shake: the plan "{name}" for the game "{name_2}", for the program of a ' "robot, in {language}.",
        name=source.plan.name, name_2=source.game.name, language=dialect.language,
    )
    return [*wrapped(dialect.comment(what), ""), "", *map(dialect.comment, source.origin_lines)]


def _what_comes_when(source: Source, table: RobotTable, comment: Callable[[str], str]) -> Iterator[str]:
    yield from wrapped(WHEN)
    rows: list[tuple[str, ...]] = [("period", "seconds", "to", "shows", "cue", "word", "for", "pattern", "")]
    shaking = [call for call in calls(source) if _shakes(call)]
    rows += [row(source, call) for call in shaking[:_MOST_ROWS]]
    # Comments lengthen texts, so that comes before they are aligned.
    yield from columns(tuple(comment(cell) for cell in row) for row in rows)
    if len(shaking) > _MOST_ROWS:
        yield from wrapped(
            tr("And {count} more, in the table of firings below.", count=len(shaking) - _MOST_ROWS),
        )
    reasons = {call.cue: call.why for call in shaking if call.why}
    if reasons:
        yield from wrapped(tr("What each is for:"))
        yield from columns((comment(cue), comment(why)) for cue, why in [*reasons.items()][:_MOST_REASONS])
    yield from wrapped(tr("Patterns, in percent of full strength; two numbers are the strong and the weak motor:"))
    yield from columns(
        (comment(pattern.name), tr("{lasts} ms", lasts=pattern.lasts_ms), ", ".join(_steps(pattern.steps)))
        for pattern in table.patterns[:_MOST_PATTERNS]
    )
    if len(table.patterns) > _MOST_PATTERNS:
        yield from wrapped(tr("And {count} more.", count=len(table.patterns) - _MOST_PATTERNS))


def _shakes(call: CueOccurrence) -> bool:
    return "rumble" in call.patterns and not call.anchor.startswith("mark.")


def _steps(steps: tuple[tuple[int, int, int], ...]) -> Iterator[str]:
    at_ms = 0
    shown = steps if len(steps) <= _MOST_STEPS else steps[: _MOST_STEPS - 1]
    for strong, weak, end_ms in shown:
        level = f"{strong} %" if strong == weak else f"{strong}/{weak} %"
        yield tr("{end} ms {level}", end=end_ms - at_ms, level=level if strong or weak else "still")
        at_ms = end_ms
    if len(shown) < len(steps):
        yield tr("and {count} more steps", count=len(steps) - len(shown))


def _left_out(source: Source, comment: Callable[[str], str]) -> Iterator[str]:
    yield from wrapped(tr("What the plan does with the screen, and what it speaks: a robot's program has neither."))
    firings = source.timeline.firings
    rumbling = {firing.cue for firing in firings if firing.channel == "rumble"}
    silent = [cue.id for cue in source.plan.cues if cue.id not in rumbling]
    if silent:
        yield from wrapped(comment(tr("Cues that have no rumble: {silent}.", silent=", ".join(silent))))
    given = {(firing.cue, firing.n) for firing in exported(source.timeline)}
    anchors = {(f.cue, f.n): f.begin.anchor for f in firings if f.channel == "rumble"}
    marked = [f"{cue} n={n} ({anchor})" for (cue, n), anchor in anchors.items() if (cue, n) not in given]
    if marked:
        yield from wrapped(
            comment(tr("Cues after a mark, which a robot cannot know: {marked}.", marked=", ".join(marked))),
        )


def _periods(table: RobotTable, names: Names, dialect: Dialect) -> Iterator[str]:
    yield from columns(
        (
            f"{dialect.prefix}{name}",
            "open" if period.end_ms is None else f"{seconds((period.end_ms - period.begin_ms) * NS_PER_MS)} s",
            (
                tr("begun by a person") if period.by_hand
                else tr("begins by itself") if place
                else tr("begins the match")
            ),
            dialect.comment(period.title),
        )
        for place, (name, period) in enumerate(zip(names.periods, table.periods, strict=True))
    )


def _variants(source: Source, table: RobotTable, names: Names, dialect: Dialect) -> Iterator[str]:
    choose = dialect.spelled.get("choose", "choose")
    yield from wrapped(tr("Orders of play. Call {choose}() as soon as you know which it is.", choose=choose))
    titles = {variant.id: variant.title for variant in source.game.variants}
    yield from columns(
        (
            f"{dialect.prefix}{name}",
            dialect.comment(titles.get(id, "")),
            tr("taken unless another is chosen") if number == table.default_variant else "",
        )
        for number, (name, id) in enumerate(zip(names.variants, table.variants, strict=True))
    )


def _wiring(source: Source, table: RobotTable, names: Names, dialect: Dialect) -> Iterator[str]:
    yield from wrapped(tr("{place} CAPITALS not in this file: your own code.", place=dialect.place))
    ids = [period.id for period in table.periods]
    period = names.periods[ids.index(main_period(source.timeline).id)]
    by_hand = [name for name, cue in zip(names.cues, table.cues, strict=False) if cue.calls][:1]
    lines = [
        *dialect.wiring,
        *(_with(dialect.each_role, "role", f"{dialect.prefix}{role}") for role in names.roles[:2]),
        *(_with(line, "call", f"{dialect.prefix}{cue}") for cue in by_hand for line in dialect.by_hand),
    ]
    yield ""
    yield from aligned(_with(line, "period", f"{dialect.prefix}{period}") for line in lines)
    yield ""
    yield from wrapped(WIRED)


def _again(spelled: dict[str, str]) -> Iterator[str]:
    for text in AGAIN:
        yield from wrapped(text.format(**spelled))


def _with(line: tuple[str, str], name: str, value: str) -> tuple[str, str]:
    return line[0].replace(f"{{{name}}}", value), line[1]
