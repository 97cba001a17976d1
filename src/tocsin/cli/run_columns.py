"""Print rows of runs as a table for spreadsheets: its columns, their meanings, and cells that cannot do harm there."""

import csv
import io
import textwrap
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from tocsin.analysis.seasons.row import NONE_DRAWN, Value
from tocsin.features.records.rows import RunRow
from tocsin.readable import readable_line
from tocsin.translation import tr

Cell = str | int | float | bool | None
# With these a spreadsheet takes a text for a formula, which may read other cells and send them away.
_FORMULA = ("=", "+", "-", "@")
_HANGS = 26


class Column(NamedTuple):
    """A column: its name with its unit, what it means, and its cell of a row."""

    name: str
    means: str
    of: Callable[[RunRow], Cell]


def _field(name: str, means: str) -> Column:
    return Column(name, means, lambda row: getattr(row, name))


COLUMNS = (
    Column("run", tr("the run's folder, without the path"), lambda row: Path(row.folder).name),
    Column("wall_utc", tr("its begin, RFC 3339"), lambda row: row.wall),
    _field("short", tr("the run's short name, as `tocsin mark` and --show take it")),
    _field("local", tr("its begin in the time of day where it was played")),
    _field("evening", tr("the local date of the evening; .2 behind it is the second one of that date")),
    _field("label", tr("what --label said")),
    _field("game", tr("the game's name")),
    _field("plan", tr("the plan's name")),
    _field("source", tr("observed: a match not timed by Tocsin; page: one kept by an exported page")),
    _field("at", tr("practice or event; empty where an earlier version did not ask")),
    _field("match", tr("the number that an event gave it")),
    _field("outcome", tr("over, scrapped (a person cancelled it), crashed, cut short")),
    _field("kind", tr("drill, match, video, robot, page, reaction")),
    _field("drill", tr("the drill's name; empty for a match")),
    _field("session", tr("the key of this drill, for --show")),
    Column("round", tr("the number of the round, from 1"), lambda row: row.round or None),
    _field("crew", tr("A, B or C")),
    Column("people", tr("keys of people, by role"), lambda row: " ".join(f"{r}={k}" for r, k in row.people.items())),
    _field("marks", tr("marks that count; what two scribes saw counts once")),
    _field("marks_noted", tr("all marks that stand, of every scribe and source")),
    _field("score_us", tr("the match's official score, ours")),
    _field("score_them", tr("and theirs")),
    _field("watched", tr("yes or no: somebody marked it, or said that there was nothing to mark")),
    Column("clean", tr("yes, no, or unknown: only a video can tell"), lambda row: _clean(row)),
    Column("counted", tr("yes or no: may be compared with others"), lambda row: _counted(row)),
    Column("not_counted_because", tr("why not"), lambda row: _why(row)),
    _field("call", tr("the call home: given by a device, marked by a person, or only planned")),
    _field("push_at_call", tr("yes or no: a push of ours was on then")),
    _field("break_off_at_least_s", tr("from the call to the end of that push; an exact time is in both columns")),
    _field("break_off_at_most_s", tr("empty: it lasted at least the other column")),
    _field("break_off_by", tr("who noted that: key (as it happened), later, video")),
    Column(
        "scribe_lags_s", tr("how much later a key noted the ends of pushes that a video saw too"),
        lambda row: " ".join(f"{lag:g}" for lag in row.scribe_lags_s),
    ),
    _field("break_off_margin_s", tr("the window's begin minus the end of the last push before it; below 0: too late")),
    _field("break_off_margin_at_least_s", tr("the same where nobody noted that end")),
    _field("break_off_margin_at_most_s", tr("the same where nobody noted that end")),
    _field("turn_s", tr("from the call home to the turn")),
    _field("turn_at_least_s", tr("the same, if not noted; the next column too")),
    _field("turn_at_most_s", tr("before it was home")),
    _field("turn_by", tr("key, later, video")),
    _field("way_s", tr("from the turn to home")),
    _field("way_at_least_s", tr("the same, if turn or home was not noted; the next column too")),
    _field("way_at_most_s", tr("from the call to home")),
    _field("home", tr("home, home_half, home_none")),
    _field("home_by", tr("key, later, video")),
    _field("home_margin_s", tr("from home to the end of the match")),
    _field("contacts", tr("while contact costs points")),
    _field("contacts_unclear", tr("only a video can tell")),
    _field("contact_s", tr("how long they lasted there")),
    _field("cost_points", tr("to the opponents")),
    _field("gain_points", tr("to us")),
    _field("net_points", tr("gain minus cost")),
    _field("cost_at_most_points", tr("with all unclear ones")),
    _field("gain_at_most_points", tr("with all unclear ones")),
    _field("unclear_marks", tr("too close to a begin or end to know")),
    _field("open_marks", tr("without an end")),
    Column("clock_error_ms", tr("± of the match clock"), lambda row: row.error_ms),
    _field("clock_spread_ms", tr("how much that varies (standard deviation)")),
    _field("calls_failed", tr("signals that a device failed to give")),
    Column("leads_s", tr("as used, shifted or not"), lambda row: _leads(row)),
    Column("half_speed", tr("yes or no"), lambda row: row.half_speed if row.drill else None),
    _field("setup", tr("drawn at random, like the next five")),
    _field("coach", tr("silent, calling")),
    _field("draw_out", tr("the channel that was silent, or none")),
    _field("shift_s", tr("above 0: called earlier")),
    _field("late_start_s", tr("how long after the count it began")),
    _field("plan_dealt", tr("the plan, as the drill names it")),
    _field("earlier_s", tr("how long before the drill's moment it began")),
    _field("battery_rounds", tr("rounds that the battery had before")),
)


def is_judged(row: RunRow) -> bool:
    """Return whether a run has a verdict, if only that nobody knows: a round or a match that was played to its end."""
    return row.kind != "reaction" and row.outcome == "over"


def told_columns() -> Iterator[str]:
    """Yield a line or two for each column, for people."""
    for column in COLUMNS:
        yield textwrap.fill(f"  {column.name:<{_HANGS - 4}}  {column.means}", 100, subsequent_indent=" " * _HANGS)


def as_csv(rows: Iterable[RunRow]) -> bytes:
    """Return rows as CSV by RFC 4180, in UTF-8: lines end in CR LF, the first one holds the names of the columns."""
    stream = io.StringIO(newline="")
    table = csv.writer(stream, lineterminator="\r\n")
    table.writerow([column.name for column in COLUMNS])
    for row in rows:
        table.writerow([_cell(column.of(row)) for column in COLUMNS])
    return stream.getvalue().encode()


def score_text(row: RunRow) -> str:
    """Return a match's score, ours first; an empty text if nobody noted one."""
    return "" if row.score_us is None or row.score_them is None else f"{row.score_us}:{row.score_them}"


def condition_text(row: RunRow) -> str:
    """Return what was dealt to a round in a few words for people; an empty text if its drill varies nothing."""
    return ", ".join(_dealt(factor, value) for factor, value in row.dealt.items())


def short_condition_text(row: RunRow) -> str:
    """Return what was dealt to a round's call, for a narrow terminal: moved in time, without a channel."""
    dealt = row.dealt
    found = [] if not row.shift_s else [_dealt("shift_s", row.shift_s)]
    found += [_dealt(name, dealt[name]) for name in ("draw_out",) if dealt.get(name, NONE_DRAWN) != NONE_DRAWN]
    return ", ".join(found)


def value_text(value: Value) -> str:
    """Return a dealt value for people: seconds with their sign."""
    return value if isinstance(value, str) else f"{value:+g} s"


def _dealt(factor: str, value: Value) -> str:
    match factor, value:
        case "coach", _:
            return tr("coach {value}", value=value)
        case "draw_out", str():
            return tr("all channels") if value == NONE_DRAWN else tr("without {value}", value=value)
        case "shift_s", float():
            return f"{abs(value):g} s {'earlier' if value > 0 else 'later'}" if value else tr("not shifted")
        case "late_start_s", float():
            return tr("began {value:g} s late", value=value) if value else tr("began on time")
        case "plan_dealt", _:
            return tr("plan {value}", value=value)
    return str(value)


def _cell(value: Cell) -> str:
    """Return a cell; a text of people, which may come from anywhere, is one line, and no formula."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:.3f}"
        case int():
            return str(value)
    text = readable_line(value)
    return f"'{text}" if text.startswith(_FORMULA) else text


def _clean(row: RunRow) -> Cell:
    if not is_judged(row):
        return None
    return "unknown" if row.clean is None else row.clean


def _leads(row: RunRow) -> str:
    return " ".join(f"{lead}={s:g}" for lead, s in row.leads_s.items())


def _counted(row: RunRow) -> Cell:
    return row.counted if row.drill or is_judged(row) else None


def _why(row: RunRow) -> str:
    return "; ".join(filter(None, [row.taken_out, *row.uncounted]))
