"""``tocsin runs``: list recorded runs, and remove a name from them."""

import argparse
import shutil
import sys
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from pathlib import Path, PurePath
from typing import get_args

import msgspec

from tocsin.cli.filters import PEOPLE_UNKNOWN, add_filters, demand_dates, names_in, tell_broken, wanted
from tocsin.cli.forgetting import forget_name
from tocsin.cli.imported import import_runs
from tocsin.cli.lines import tell, tell_data, tell_groups, tell_json, tell_table
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.cli.run_columns import (
    as_csv,
    condition_text,
    is_judged,
    score_text,
    short_condition_text,
    told_columns,
    value_text,
)
from tocsin.errors import OVER, UsageError
from tocsin.features.records.added_marks import title, told
from tocsin.features.records.rows import RowMaker, RunRow
from tocsin.features.records.run_list import SessionRows, row_of_one, rows, session_rows
from tocsin.journal.place import runs_folder
from tocsin.journal.reader import Journal, find_run, reckoning
from tocsin.readable import readable_line
from tocsin.runner.options import EVENT, At
from tocsin.translation import marked, tr, trn

_EXAMPLES = tr("""\
examples:
  tocsin runs                                  all runs, the newest first
  tocsin runs --drill break_off --since 2026-03-01 --crew A
  tocsin runs --who Ann                        only with that person (names stand in one file on this laptop)
  tocsin runs --show k7f2                      one run, by the name that it is listed with: its result and its marks
  tocsin runs --show 5f3a91c2                  one drill, by the key that its rounds are shown with: all its rounds,
                                               and how often each set-up, coach, channel, shift, plan was dealt
  tocsin runs --drill turn --csv > turn.csv    a table for a spreadsheet
  tocsin runs --import /media/stick/runs       takes in another laptop's runs: copies, never over what is here
  tocsin runs --forget Ann                     takes the name out, everywhere; asks before it rewrites

Matches are judged like rounds: no contact while it costs points, and home by the end, where the game pays for it.
A ~ before a time: nobody knows when the call home came, so it counts from the planned time.

columns of --csv (RFC 4180, UTF-8, a point in decimals; keys of --json, where `run` and `wall_utc` are folder and wall):
{columns}

A cell is empty where something is unknown, or does not apply. A text that begins with = + - or @ has a ' before it: a
spreadsheet would take it for a formula. Seconds are real ones, of marks that people made: 0.3 to 0.8 s late.

An evening is what was played with less than four hours between; it has the date, where it was played, of its first run.

exit codes: 0, 2 usage, 22 the journals cannot be read or written
""")
# Characters of a table that no terminal bounds. On a narrower terminal only what was dealt to the call is told.
_WIDTH = 160
# Heads of the list; what is the same word everywhere, or nothing, is left out, but for the first three.
_ALWAYS = marked("run", "began", "what")
_HEADS = _ALWAYS + marked(
    "at", "crew", "label", "outcome", "marks", "clean", "score", "margin s", "turn s", "way s", "home s", "points",
    "dealt",
)
# What goes first where a terminal has no room for a line a run.
_LEAST_READ = ("label", "marks", "at", "way s", "home s", "points", "margin s", "turn s", "outcome", "crew", "dealt")
_USUAL = {"crew": "A", "outcome": "over", "marks": "0"}
_NUMBERS = ("marks", "score", "margin s", "turn s", "way s", "home s", "points")
_DEALT_HEADS = marked("what", "value", "dealt", "played", "counted", "clean", "not clean")
_DEALT_HEAD = tr(
    "Chosen at random in this drill: how many rounds had each value, how often they were played (a repeated round is "
    "played again), how many counted, how many of them were clean. shift: + is an earlier call.",
)


def parser() -> Parser:
    """Return the parser of ``tocsin runs``."""
    text = _EXAMPLES.format(columns="\n".join(told_columns()))
    result = Parser("tocsin runs", tr("List what was recorded, show one run, forget a name."), text)
    add = result.add_argument
    add("--runs", type=Path, metavar="DIR", help=tr("where runs are recorded"))
    add_filters(result)
    add("--label", default="", metavar="TEXT", help=tr("only runs with this in the label"))
    add("--at", default="", choices=get_args(At), help=tr("only runs of this kind"))
    add("--show", metavar="RUN", help=tr("one run: its short name, its folder, or the begin of that; or a drill's key"))
    add("--import", dest="source", type=Path, metavar="FOLDER", help=tr("take in the runs of another laptop's folder"))
    add("--forget", metavar="NAME", help=tr("take a person's name out of everything"))
    add("--yes", action="store_true", help=tr("with --forget: rewrite without asking"))
    add("--json", action="store_true", help=tr("print the rows as JSON"))
    add("--csv", action="store_true", help=tr("print the rows as a table for spreadsheets; see below"))
    return result


def main(arguments: Sequence[str]) -> int:
    """List, show or forget; return 0."""
    given = parser().parse_args(arguments)
    demand_dates(given)
    if given.json and given.csv:
        raise UsageError(tr("use --json or --csv, not both"))
    meant = meant_here()
    folder = runs_folder(meant.runs(given.runs, told=True))
    meant.tell()
    if given.source is not None:
        return import_runs(folder, given.source, json_output=given.json)
    if given.forget is not None:
        return forget_name(folder, given.forget, sure=given.yes)
    if given.show is not None:
        _show_any(folder, given)
        return OVER
    asked = msgspec.structs.replace(wanted(given, [folder]), label=given.label, at=given.at)
    known_rows = list(rows(folder, tell_broken))
    found = [row for row in known_rows if asked.fits(row)]
    if given.json:
        tell_json(found)
    elif given.csv:
        tell_data(as_csv(found))
    else:
        _print(found, folder, names_in([folder]))
    if any(row.people_unknown for row in (known_rows if asked.person else found)):
        tell(PEOPLE_UNKNOWN, sys.stderr)
    return OVER


def _print(found: Sequence[RunRow], folder: Path, names: dict[str, str]) -> None:
    if not found:
        tell(tr("no runs in {folder} that fit", folder=folder))
        return
    table = [dict(_cells(row, names)) for row in found]
    if sys.stdout.isatty() and shutil.get_terminal_size().columns < _WIDTH:
        table = [cells | {"dealt": short_condition_text(row)} for row, cells in zip(found, table, strict=True)]
    shown = [
        head
        for head in _HEADS
        if head in _ALWAYS or not {row[head] for row in table} <= {"", _USUAL.get(head, "")}
    ]
    left_out = _too_wide(shown, table) if sys.stdout.isatty() else []
    shown = [head for head in shown if head not in left_out]
    evenings: dict[str, list[tuple[RunRow, list[str]]]] = {}
    for row, cells in zip(found, table, strict=True):
        evenings.setdefault(row.evening, []).append((row, [cells[head] for head in shown]))
    groups = ((_evening_text([row for row, _ in runs]), [cells for _, cells in runs]) for runs in evenings.values())
    tell_groups({tr(head): head in _NUMBERS for head in shown}, groups, None if sys.stdout.isatty() else _WIDTH)
    if left_out:
        tell(tr("Too wide, left out: {left_out}. --csv has all.", left_out=", ".join(map(tr, left_out))))


def _too_wide(shown: Sequence[str], table: Sequence[dict[str, str]]) -> list[str]:
    """Return the heads for which the terminal has no room, so that each run is one line."""
    width, left_out = shutil.get_terminal_size().columns, list[str]()
    wide = {head: 2 + max(len(tr(head)), *(len(row[head]) for row in table)) for head in shown}
    for head in _LEAST_READ:
        if sum(wide.values()) - 2 <= width:
            break
        if wide.pop(head, 0):
            left_out.append(head)
    return left_out


def _evening_text(found: Sequence[RunRow]) -> str:
    """Return an evening's day, from when to when these of its runs began, and how many they are."""
    if not found[0].evening:
        return tr("when is not known")
    first, last = (datetime.fromisoformat(row.local) for row in (min(found, key=_moment), max(found, key=_moment)))
    day = date.fromisoformat(found[0].evening[:10])
    return trn(
        "{day:%a} {day}, {first:%H:%M}, {count} run", "{day:%a} {day}, {first:%H:%M} to {last:%H:%M}, {count} runs",
        len(found), day=day, first=first, last=last,
    )


def _moment(row: RunRow) -> datetime:
    return datetime.fromisoformat(row.local)


def _cells(row: RunRow, names: dict[str, str]) -> Iterator[tuple[str, str]]:
    what = f"{row.plan}{', ' + row.source if row.source else ''}"
    if row.drill:
        what = f"{PurePath(row.drill).stem} {row.round}"
    people = [tr("people unknown")] if row.people_unknown else [f"{r} {names.get(k, k)}" for r, k in row.people.items()]
    who = " ".join(filter(None, [row.crew, *people]))
    yield "run", row.short
    yield "began", f"{_moment(row):%H:%M}" if row.local else ""
    yield "what", what
    yield "at", _at(row)
    yield "crew", who
    yield "label", row.label
    yield "outcome", _ended(row)
    yield "marks", str(row.marks)
    yield "clean", _clean(row)
    yield "score", score_text(row)
    yield "margin s", _told_s(row.break_off_margin_s, sign="+")
    yield "turn s", ("~" if row.call == "planned" else "") * (row.turn_s is not None) + _told_s(row.turn_s)
    yield "way s", _told_s(row.way_s)
    yield "home s", _told_s(row.home_margin_s, sign="+")
    yield "points", "" if row.net_points is None else f"{row.net_points:+d}"
    yield "dealt", condition_text(row)


def _at(row: RunRow) -> str:
    """Return that a run was of an event, and its match; practice is the rule and goes without saying."""
    if row.at != EVENT:
        return ""
    return EVENT if row.match is None else tr("{event}, match {match}", event=EVENT, match=row.match)


def _told_s(value_s: float | None, sign: str = "") -> str:
    return "" if value_s is None else f"{value_s:{sign}.1f}"


def _ended(row: RunRow) -> str:
    """Return how a run ended in the word that people read; files keep their own."""
    return "cancelled" if row.outcome == "scrapped" else row.outcome


def _clean(row: RunRow) -> str:
    if row.taken_out:
        return tr("not counted ({taken_out})", taken_out=row.taken_out)
    if not is_judged(row):
        return ""
    word = {True: "clean", False: tr("not clean"), None: tr("not known")}[row.clean]
    if row.clean is None and row.watched is False:
        word = tr("nobody marked this")
    if row.counted:
        return word
    why = f" ({row.uncounted[0]})" if row.uncounted else ""
    return tr("{word}, not counted{why}", word=word, why=why)


def _show_any(folder: Path, given: argparse.Namespace) -> None:
    """Show the run of a name, or the drill of a key. Raises UsageError if there is neither."""
    try:
        journal = find_run(folder, given.show)
    except UsageError:
        session = session_rows(folder, given.show, tell_broken)
        if session is None:
            raise
        _show_session(session, given, folder)
        return
    if not (given.json or given.csv):
        _show(journal, names_in([folder]))
        return
    row = row_of_one(journal, RowMaker(), tell_broken)
    if given.json:
        tell_json(row)
    else:
        tell_data(as_csv([row]))


def _show_session(session: SessionRows, given: argparse.Namespace, folder: Path) -> None:
    """Print a drill: its rounds, and how often each value that it varies was dealt."""
    if given.json:
        tell_json(session)
        return
    if given.csv:
        tell_data(as_csv(session.rows))
        return
    _print(session.rows, folder, names_in([folder]))
    heads = {tr(head): head not in ("what", "value") for head in _DEALT_HEADS}
    cells = (
        [
            one.factor.removesuffix("_s").replace("_", " "), value_text(one.value), str(one.dealt), str(one.played),
            str(one.counted), str(one.clean), str(one.not_clean),
        ]
        for one in session.dealt
    )  # fmt: skip
    tell("")
    if session.dealt:
        tell(_DEALT_HEAD)
        tell_table(heads, cells, None if sys.stdout.isatty() else _WIDTH)
    else:
        tell(tr("This drill varies nothing."))


def _show(journal: Journal, names: dict[str, str]) -> None:
    maker = RowMaker()
    row = row_of_one(journal, maker, tell_broken)
    tell(title(journal))
    shown = [f"{readable_line(row.game)} - {readable_line(row.plan)}", _ended(row), row.at, row.source]
    tell("  ".join(readable_line(part) for part in shown if part))
    if row.drill:
        tell(tr(
            "{readable_line}, round {round}, crew {crew}", readable_line=readable_line(row.drill), round=row.round,
            crew=row.crew,
        ))
        if dealt := condition_text(row):
            tell(tr("drawn at random: {readable_line}", readable_line=readable_line(dealt)))
        half = tr("half speed, ") if row.half_speed else ""
        tell(tr("{half}rounds on this battery before: {battery_rounds}", half=half, battery_rounds=row.battery_rounds))
        tell(tr(
            "`tocsin runs --show {readable_line}` shows all rounds of this drill",
            readable_line=readable_line(row.session),
        ))
    if score := score_text(row):
        tell(tr("score {score}, ours first", score=score))
    if row.people_unknown:
        tell(PEOPLE_UNKNOWN)
    for role, key in row.people.items():
        tell(f"{readable_line(role)}: {readable_line(names.get(key, key))}")
    with reckoning(journal):
        report = maker.report(journal)
        marks = list(told(journal))[1:]
    for line in report.lines if report else ():
        tell(f"  {line}")
    for line in marks:
        tell(line)
    for trouble in journal.troubles():
        tell(f"! {trouble}")
