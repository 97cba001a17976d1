"""``tocsin check``: find every mistake in plans, games, rigs and patterns, and every risk of a plan."""

import argparse
import gc
import itertools
import os
import shutil
import string
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from tocsin.cli.lines import tell, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.people import unknown_people
from tocsin.cli.project import Meant
from tocsin.config import bundle
from tocsin.config.checking import Checked, examine, files_of, files_of_this_folder
from tocsin.config.project import FILE_NAME, FoundProject, project_path, read_project
from tocsin.config.renamed import told_older
from tocsin.config.toml.diagnostic import FileDiagnostic, as_json, render, render_all
from tocsin.config.toml.messages import MESSAGES
from tocsin.config.toml.phrases import nearest
from tocsin.errors import MISTAKE, OVER, UsageError
from tocsin.features.check.current import current_note
from tocsin.features.check.findings import LocatedFinding, found_in
from tocsin.journal.place import runs_folder
from tocsin.lint.finding import LEVELS, Level
from tocsin.lint.messages import explained, explained_facts, fix, message, source, why
from tocsin.lint.rules import KINDS
from tocsin.readable import typed
from tocsin.speech.cache import WordCache, words_folder
from tocsin.translation import tr, trn

_EXAMPLES = tr("""\
examples:
  tocsin check                    the project and all files that it names; without one all files of this folder
  tocsin check my_team            all files of another folder
  tocsin check my.toml my_rig.toml
                                  a plan, and whether this rig can give it
  tocsin check full               a bundled plan
  tocsin check my.toml --game casting_day --json
  tocsin check break_off --plan my.toml
                                  a drill with your plan, as `tocsin drill` takes both
  tocsin check --explain flash    what a code is about

A file with a mistake cannot be used. A finding is another problem of a plan: an error harms, a
warning misleads or leaves somebody out, advice is to think about. With one rig among the files, plans are checked
with it too; leads with your runs in the same game, from 22 rounds on.

A mistake can hide others: check again once it is fixed.

exit codes: 0 no mistake and no error (there may be warnings), 2 usage, 20 mistakes or errors
""")
_MORE = tr("`tocsin check --explain CODE` says more; a code is in ( ).")
_WIDEST = 100
_USUAL = (79, 24)
_COUNTED: dict[Level, Callable[[int], str]] = {
    "error": lambda count: trn("{count} error", "{count} errors", count),
    "warning": lambda count: trn("{count} warning", "{count} warnings", count),
    "advice": lambda count: trn("{count} piece of advice", "{count} pieces of advice", count),
}
_INDENT = "    "
_ALIKE = 3                             # so many of one code are shown in full, of the others the lines


def parser() -> Parser:
    """Return the parser of ``tocsin check``."""
    purpose = tr("Find the mistakes of plans, games, rigs and patterns in one go, and what else speaks against a plan.")
    result = Parser("tocsin check", purpose, _EXAMPLES)
    add = result.add_argument
    add("what", nargs="*", metavar="FILE|FOLDER|NAME", help=tr("what to check (all files of this folder)"))
    add("--game", metavar="NAME|FILE", help=tr("check plans and drills in this game instead of the one that they name"))
    add("--plan", metavar="NAME|FILE", help=tr("check drills with this plan instead of the one that they name"))
    add("--json", action="store_true", help=tr("print mistakes and findings as JSON"))
    add("--runs", type=Path, metavar="DIR", help=tr("where runs are recorded, to check leads with"))
    add("--explain", metavar="CODE", help=tr("say what a code is about, and where its limit comes from"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Print all mistakes and findings; return 20 if there is a mistake or an error, else 0."""
    # It ends soon, and to look through a large plan's objects for cycles again and again takes a sixth of its time.
    gc.disable()
    try:
        return _checked(parser().parse_args(arguments))
    finally:
        gc.enable()


def _checked(given: argparse.Namespace) -> int:
    width = min(shutil.get_terminal_size(_USUAL).columns, _WIDEST)
    if given.explain is not None:
        return _explain(given, width)
    path = project_path(Path(), os.environ)
    read = None if path is None else read_project(path)
    project = read.found if read else None
    meant = Meant(project)
    what = _meant(given.what, project) if given.what or read else files_of_this_folder()
    plan = given.plan if given.plan is None else meant.plan(given.plan)
    game = given.game if given.game is None else meant.game(given.game, ())
    files = (*([read.document.name] if read else []), *files_of(what, plan))
    if not files:
        where = " ".join(given.what) or tr("this folder")
        raise UsageError(
            tr("there is no file to check in {where}", where=where),
            hint=tr("`tocsin init DIR` writes some to begin with"),
        )
    if not any(Path(one).name == FILE_NAME for one in given.what):
        meant.name(one for one in given.what if Path(one).is_file())
    meant.tell()
    checked = examine(what, game, plan=plan, project=read)
    broken: dict[str, None] = {}
    runs, shelf = runs_folder(meant.runs(given.runs)), WordCache(words_folder())
    unknown = unknown_people(project, runs) if project else ()
    told = found_in(checked, runs, shelf, lambda error: broken.setdefault(error.line))
    notes = [*_notes(checked), *unknown, *(tr("Nothing known of this run: {line}.", line=line) for line in broken)]
    if given.json:
        listed = [as_json(problem) for problem in checked.problems]
        facts = {"files": list(files), "problems": listed, "findings": [_json(one) for one in told], "notes": notes}
        tell_json(facts)
    else:
        if not given.what:
            tell(_of_project(files) if read else _looked_at(files), fit=False)
        tell(_text(checked.problems, told, len(files), notes, width), fit=False)
    return MISTAKE if checked.problems or any(one.finding.level == "error" for one in told) else OVER


def _meant(arguments: Sequence[str], project: FoundProject | None) -> tuple[str, ...]:
    """Return what to check: the arguments, a name being one of the project's own files first; without any, all that the
    project names."""
    if project is None or not arguments:
        return tuple(arguments) or (project.names() if project else ())
    found: list[str] = []
    for argument in arguments:
        own = [one for kind in bundle.KINDS if (one := project.own(kind, argument)) != argument]
        found += own or [argument]
    return tuple(found)


def _explain(given: argparse.Namespace, width: int) -> int:
    if given.what or given.plan is not None or given.game is not None or given.runs is not None:
        raise UsageError(
            tr("--explain looks at no files"), hint=tr("it takes a code alone: `tocsin check --explain flash`"),
        )
    if given.json:
        tell_json(facts_of(given.explain))
    else:
        tell(told_of(given.explain, width), fit=False)
    return OVER


def _json(told: LocatedFinding) -> dict[str, str | int]:
    finding = told.finding
    return {
        "code": finding.code, "level": finding.level, "file": told.file, "line": told.spot.line,
        "column": told.spot.column, "message": message(finding), "why": why(finding), "limit": source(finding),
        "mend": fix(finding),
    }  # fmt: skip


def _of_project(files: Sequence[str]) -> str:
    """Return what was checked since the project names it."""
    count = len(files) - 1
    return trn(
        "Looked at {file} and the file that it names.", "Looked at {file} and the {count} files that it names.", count,
        file=files[0],
    )


def _looked_at(files: Sequence[str]) -> str:
    """Return what was found in this folder to be checked."""
    folders = dict.fromkeys(str(Path(file).parent) for file in files)
    where = ", ".join(tr("this folder") if folder == "." else folder for folder in folders)
    return trn(
        "Looked at {count} file in {where}.", "Looked at {count} files in {where}.", len(files), where=where,
    )


def _notes(checked: Checked) -> Iterator[str]:
    """Yield what was not looked at, and why."""
    if checked.problems:
        yield tr(
            "Fix these, then check again: they may hide more mistakes. Findings come only when a plan and its game "
            "have no mistakes.",
        )
    for plan, game in checked.strange:
        yield tr(
            "{plan} is for the game {game}, not for the project's: it is played in its own game.",
            plan=plan, game=game,
        )
    for file, found in checked.older:
        folder = Path(file).parent
        folder = folder.parent if folder.name in bundle.KINDS else folder
        yield tr(
            "{file} has older names, which are read as before: {found}. `{command}` rewrites them.", file=file,
            found=told_older(found), command=typed("tocsin", "init", str(folder), "--names"),
        )
    yield from checked.unsaid
    yield from (note for rig, document in checked.rigs if (note := current_note(document.name, rig)))
    if checked.plans and len(checked.rigs) > 1:
        rigs = ", ".join(document.name for _, document in checked.rigs)
        yield tr(
            "No plan was checked with a rig: there are {count} ({rigs}). Name a plan and its rig.",
            count=len(checked.rigs), rigs=rigs,
        )


def _text(
    problems: tuple[FileDiagnostic, ...], told: list[LocatedFinding], files: int, notes: list[str], width: int
) -> str:
    blocks = [render_all(problems, width)] if problems else []
    blocks += _blocks(told, width)
    last = [*_summary(problems, told, files), *notes, *([_MORE] if told else []), *_errors(told)]
    return "\n\n".join([*blocks, "\n".join(textwrap.fill(line, width) for line in last)])


def _summary(problems: tuple[FileDiagnostic, ...], told: list[LocatedFinding], files: int) -> Iterator[str]:
    if not problems:
        counted = trn("{count} file: no mistakes", "{count} files: no mistakes", files)
        none = trn("{count} file: no mistakes and no findings", "{count} files: no mistakes and no findings", files)
        yield f"{counted}, {_count(told)}" if told else none
    elif told:
        yield _count(told)


def _errors(told: list[LocatedFinding]) -> Iterator[str]:
    """Yield, as the last thing that is read, where the findings stand that harm."""
    lines: dict[str, dict[int, None]] = {}
    for one in told:
        if one.finding.level == "error":
            lines.setdefault(one.file, {})[one.spot.line] = None
    if lines:
        yield tr("Errors: {where}.", where="; ".join(f"{file}, {_in_lines(found)}" for file, found in lines.items()))


def _in_lines(lines: Iterable[int]) -> str:
    found = list(dict.fromkeys(lines))
    return trn("line {lines}", "lines {lines}", len(found), lines=", ".join(map(str, found)))


def _blocks(told: list[LocatedFinding], width: int) -> Iterator[str]:
    """Yield the text of each finding; of those that are many of a code the last ones only as lines."""
    alike: dict[tuple[str, str, Level], list[LocatedFinding]] = {}
    for one in told:
        alike.setdefault((one.file, one.finding.code, one.finding.level), []).append(one)
    places = {key: itertools.count() for key in alike}
    for one in told:
        key = (one.file, one.finding.code, one.finding.level)
        group, place = alike[key], next(places[key])
        if place < _ALIKE:
            yield _block(one, width)
        if place == _ALIKE:
            lines = _in_lines(other.spot.line for other in group[_ALIKE:])
            head = tr(
                "{file}: {level} ({code}), and {count} more of these", file=one.file, level=one.finding.level,
                code=one.finding.code, count=len(group) - _ALIKE,
            )
            yield "\n".join(
                textwrap.wrap(tr("{head}, in {lines}", head=head, lines=lines), width, subsequent_indent="    "),
            )


def _block(told: LocatedFinding, width: int) -> str:
    """Return a finding as mistakes are shown, and below it why, by which limit, and how to fix it."""
    finding, spot = told.finding, told.spot
    head = FileDiagnostic(
        code=finding.code, file=told.file, line=spot.line, column=spot.column, length=spot.length, source=spot.source,
        message=f"{finding.level} ({finding.code}): {message(finding)}",
    )  # fmt: skip
    parts = (
        tr("Why: {why}", why=why(finding)),
        tr("Limit: {source}.", source=source(finding)),
        tr("Fix: {fix}", fix=fix(finding)),
    )
    rest = [
        textwrap.fill(part, width, initial_indent=_INDENT, subsequent_indent=2 * _INDENT, break_on_hyphens=False)
        for part in parts
    ]
    return "\n".join([render(head, width), *rest])


def _count(told: list[LocatedFinding]) -> str:
    counts = {level: sum(one.finding.level == level for one in told) for level in LEVELS}
    return ", ".join(_COUNTED[level](count) for level, count in counts.items() if count) + "."


_STANDS = tr("Words in CAPITALS: the text in your file.")


def told_of(code: str, width: int) -> str:
    """Return the explanation of a code, as lines of ``width`` characters. Raises UsageError for an unknown code."""
    if code in KINDS:
        parts = explained(code)
    else:
        facts = _of_mistake(code)
        parts = [tr("{code}: mistake", code=code), tr("A mistake: the file cannot be used until it is fixed.")]
        parts.append(tr("It says: {facts}", facts=facts["message"]))
        parts += [tr("Fix: {facts}", facts=facts["mend"])] if facts["mend"] else []
        parts += [_STANDS] if _has_facts(code) else []
    return "\n".join("\n".join(textwrap.wrap(part, width, subsequent_indent="    ")) for part in parts)


def facts_of(code: str) -> dict[str, object]:
    """Return the explanation of a code for programs. Raises UsageError for an unknown code."""
    if code in KINDS:
        return {"code": code, "kind": "finding", **explained_facts(code)}
    return {"code": code, "kind": "mistake", **_of_mistake(code)}


def _of_mistake(code: str) -> dict[str, str]:
    if code not in MESSAGES:
        likely = nearest(code, [*KINDS, *MESSAGES])
        hint = (
            tr("did you mean {likely}?", likely=likely) if likely
            else tr("`tocsin check` shows the codes of findings, `--json` all")
        )
        raise UsageError(tr("there is no code '{code}'", code=code), hint=hint)
    wrong, expected, fix = (part.format_map(_FactNames()) for part in MESSAGES[code])
    return {"message": " ".join(part for part in (wrong, expected) if part), "mend": fix}


def _has_facts(code: str) -> bool:
    return any(name for part in MESSAGES[code] for _, name, _, _ in string.Formatter().parse(part))


class _FactNames(dict[str, str]):
    """Each fact by its own name, in capitals."""

    def __missing__(self, key: str) -> str:
        return key.upper()
