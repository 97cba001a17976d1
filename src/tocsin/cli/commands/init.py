"""``tocsin init``: write a team's project, that is its game, plans, drills and rig, from ten short questions."""

import argparse
import os
from collections.abc import Sequence
from pathlib import Path

from tocsin.cli.asking import agreed, is_terminal
from tocsin.cli.lines import tell
from tocsin.cli.older_names import agreed_newer, rewrite_alone, rewritten_lines, tell_newer
from tocsin.cli.parser import Parser
from tocsin.cli.people import kept
from tocsin.cli.team_questions import OPTIONS, WHO, ask_crews, ask_game, ask_home, ask_off, ask_times, differs
from tocsin.config import bundle
from tocsin.config.checking import check, files_of_this_folder
from tocsin.config.file_cache import Parsed
from tocsin.config.load import DiagnosticsError
from tocsin.config.project import FILE_NAME, FoundProject, read_project
from tocsin.config.write.answers import USUAL_OFF_NS
from tocsin.config.write.new_game import answers_in, game_text
from tocsin.config.write.newer import newer_files, together
from tocsin.config.write.retime import retimed
from tocsin.config.write.room import room_in
from tocsin.config.write.starter import built, copy_bundled, game_at, game_in
from tocsin.config.write.team import (
    FIRST_PLAN_FILE,
    ON_BENCH_FILE,
    OWN_GAME_FILE,
    QUIET_PLAN_FILE,
    Crews,
    Times,
    project_text,
    team_files,
    with_crews,
    with_game,
    with_name,
)
from tocsin.config.write.upgrade import Earlier, earlier_plan, read_earlier, rewritten
from tocsin.config.writing import Written, fill_folder, write_files
from tocsin.errors import INTERRUPTED, MISTAKE, OVER, UsageError
from tocsin.readable import typed
from tocsin.translation import tr
from tocsin.units import format_clock

_EXAMPLES = tr("""\
examples:
  tocsin init my_team                     asks ten short questions, then writes
  tocsin init .                           the same for this folder
  tocsin init my_team --game two_doors   for another game: a bundled one, or a file of your own
  tocsin init my_team --home 9s --off 5s  writes other times into a project that is there
  tocsin init my_team --upgrade           brings a folder of an earlier version up to date
  tocsin init my_team --names             rewrites old names, and nothing else

Each question has an option, so that a script asks nothing: what you leave out gets the usual answer, and it
says so. Files that are there already are kept; --overwrite asks again and replaces them, but not rigs, and a copy of
each stays beside it. Measure both times with your own robot: the usual ones are estimates from practice. No cue stops
a robot, and no cue allows you onto the field.
""")
_BEGIN = tr("Ten short questions. Enter takes the answer in brackets; nothing is written before the last one.")
_LEFT = tr("Nothing was written.")
_OFFER = tr(
    "This folder has the plan {plan}, but no {project} as init writes it now. It can be brought up to date: a project "
    "file, a plan for events, drills on your own plan, and the missing times in the plan. What people changed stays. "
    "Each replaced file is kept as a copy, with .before behind its name.",
)
_OF_GAME = ("autonomous", "pause", "driver", "digits", "counts", "windows", "contact", "game")


def parser() -> Parser:
    """Return the parser of ``tocsin init``."""
    purpose = tr("Write your team's project: its game, plans, drills and rig, and the file that says so.")
    result = Parser("tocsin init", purpose, _EXAMPLES)
    add = result.add_argument
    add("folder", metavar="DIR", help=tr("where to write; it is made if it is not there"))
    for option, (metavar, text) in OPTIONS.items():
        add(option, metavar=metavar, help=text)
    add("--who", action="append", default=[], metavar="[CREW.]ROLE=NAME", help=WHO)
    add("--name", metavar="TEXT", help=tr("what the project is called (the folder's name)"))
    add("--game", metavar="NAME|FILE", help=tr("a game that is there, instead of the questions about it"))
    add("--examples", action="store_true", help=tr("also write all bundled files to DIR/examples, to copy from"))
    add("--overwrite", action="store_true", help=tr("ask again, and replace files that are there"))
    add("--upgrade", action="store_true", help=tr("bring a folder of an earlier version up to date without asking"))
    add("--names", action="store_true", help=tr("rewrite older names in the folder's files without asking"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Write the files; return 0, 20 if a file that was kept has a mistake, 130 without writing if a person leaves."""
    given = parser().parse_args(arguments)
    folder = Path(given.folder)
    if not given.folder.strip() or (folder.exists() and not folder.is_dir()):
        raise UsageError(
            tr("'{folder}' is not a folder", folder=given.folder),
            hint=tr("name one to be made: `tocsin init my_team`"),
        )
    project = _project(folder)
    plan = "" if project or given.overwrite else earlier_plan(folder)
    try:
        if project and not given.overwrite:
            return _again(given, folder, project)
        if given.names and not given.upgrade:
            return _report(folder, *rewrite_alone(folder))
        return _upgrade(given, folder, plan) if plan else _new(given, folder, project)
    except (EOFError, KeyboardInterrupt):
        tell(f"\n{_LEFT}")
        return INTERRUPTED


def _project(folder: Path) -> FoundProject | None:
    """Return the project of a folder, None if it has none. Raises DiagnosticsError for one with mistakes."""
    if not (folder / FILE_NAME).is_file():
        return None
    read = read_project(folder / FILE_NAME)
    if read.found is None or not read.document.is_sound:
        raise DiagnosticsError(read.document.sorted_problems())
    return read.found


# -- a new project --------------------------------------------------------------------------------------------------


def _new(given: argparse.Namespace, folder: Path, project: FoundProject | None) -> int:
    """Ask what was not given, and write the whole project. Raises EOFError if a person leaves at a question."""
    newer = agreed_newer(given, folder)
    if is_terminal():
        tell(_BEGIN)
    path, text, game = _game(given, folder)
    room = room_in(built(game))
    times = ask_times(given, room, *_stored(folder))
    named = ask_crews(given) if given.who or project is None else []
    files = team_files(game, f"../{path}", times)

    def fill(there: Path) -> Written:
        texts = {path: text} | files if text else files
        found = write_files(there, together(folder, newer, {}), overwrite=True)
        found |= write_files(there, texts, overwrite=given.overwrite) | copy_bundled(there, ("rigs",))
        if given.examples:
            found |= copy_bundled(there / "examples", overwrite=given.overwrite)
        crews = kept(named, project.runs or there / "runs" if project else there / "runs")
        if project:
            own = with_game(_text_of(there / FILE_NAME), path)
            own = with_name(own, _name(given, folder)) if given.name else own
            own = with_crews(own, crews) if crews else own
        else:
            own = _project_text(given, folder, path, tuple(files), crews, FIRST_PLAN_FILE, QUIET_PLAN_FILE)
        return found | write_files(there, {FILE_NAME: own}, overwrite=given.overwrite)

    said = [*rewritten_lines(newer, newer), room.followed(*times)]
    return _report(folder, fill_folder(folder, fill), "\n".join(said))


def _game(given: argparse.Namespace, folder: Path) -> tuple[str, str, Parsed]:
    """Return where the game is to lie in the folder, its text (empty if it lies there and stays), and the game. Raises
    UsageError if another game has its name there."""
    if given.game is not None:
        return _given_game(given, folder)
    there = folder / OWN_GAME_FILE
    usual = None
    if there.exists():
        game = game_at(str(there))
        usual = answers_in(built(game))
        if usual is None or not given.overwrite:
            tell(tr("The game stays as it is in {there}.", there=there))
            return OWN_GAME_FILE, "", game
    text = game_text(ask_game(given, usual), tr("{name}'s game", name=_name(given, folder)))
    return OWN_GAME_FILE, text, game_in(text)


def _given_game(given: argparse.Namespace, folder: Path) -> tuple[str, str, Parsed]:
    found = bundle.find("games", given.game)
    path = f"games/{found.stem}.toml"
    there = folder / path
    text = _text_of(found)
    game = game_at(given.game)
    if not there.exists() or there.resolve() == found.resolve():
        return path, "" if there.exists() else text, game
    if bundle.is_file_argument(given.game) and there.read_bytes() != found.read_bytes() and not given.overwrite:
        raise UsageError(
            tr("{there} is another game", there=there),
            hint=tr("rename one of the two, or name that one: --game {there}", there=there),
        )
    return (path, text, game) if given.overwrite else (path, "", game_at(str(there)))


def _stored(folder: Path) -> tuple[int | None, int | None]:
    """Return the times that stand in a folder's plan, None for what stands nowhere."""
    if not (folder / FIRST_PLAN_FILE).is_file():
        return None, None
    earlier = read_earlier(folder, FIRST_PLAN_FILE)
    return earlier.home_ns, earlier.off_ns


def _project_text(
    given: argparse.Namespace, folder: Path, game: str, files: tuple[str, ...], crews: Crews, plan: str, event_plan: str
) -> str:
    return project_text(_name(given, folder), game, files, crews, plan=plan, event_plan=event_plan)


def _name(given: argparse.Namespace, folder: Path) -> str:
    """Return what a project is called: as it was given, or by its folder."""
    words = given.name or " ".join(folder.resolve().name.replace("_", " ").replace("-", " ").split())
    return words[:1].upper() + words[1:80] if words.strip() and words.isprintable() else tr("Our team")


# -- a folder of an earlier version ---------------------------------------------------------------------------------


def _upgrade(given: argparse.Namespace, folder: Path, plan: str) -> int:
    """Offer to bring a folder up to date, and do it. Raises EOFError if a person leaves at a question."""
    earlier = read_earlier(folder, plan)
    newer = agreed_newer(given, folder) if given.upgrade else newer_files(folder)
    if not given.upgrade:
        tell(_OFFER.format(plan=plan, project=FILE_NAME))
        tell_newer(newer)
        if newer:
            tell(tr("These names are rewritten too."))
        if not is_terminal() or not agreed(tr("Bring it up to date?"), usual=True):
            tell(tr(
                "{left} {typed} does it without asking.", left=_LEFT,
                typed=typed("tocsin", "init", str(folder), "--upgrade"),
            ))
            if newer:
                tell(tr("With --names too, it rewrites the older names."))
            return OVER
    if given.home is not None:
        earlier = earlier._replace(home_ns=None)
    if given.off is not None:
        earlier = earlier._replace(off_ns=None)
    times = _times_of(given, earlier)
    rewrite = rewritten(earlier, times)

    def fill(there: Path) -> Written:
        found = write_files(there, together(folder, newer, rewrite.files), overwrite=True)
        found |= copy_bundled(there, ("rigs",))
        crews = kept(ask_crews(given), there / "runs") if given.who else {}
        drills = (*rewrite.files, *rewrite.changed, *([ON_BENCH_FILE] if (there / ON_BENCH_FILE).is_file() else []))
        own = _project_text(given, folder, earlier.game, drills, crews, plan, rewrite.event_plan)
        return found | write_files(there, {FILE_NAME: own})

    stays = [tr("{one} was changed by people and stays.", one=one) for one in rewrite.changed if one not in newer]
    renamed = [name for name in newer if name == plan or name not in rewrite.files]
    said = [*stays, *rewritten_lines(newer, renamed), earlier.room.followed(*times)]
    return _report(folder, fill_folder(folder, fill), "\n".join(said))


def _times_of(given: argparse.Namespace, earlier: Earlier) -> Times:
    """Return the times that stand in a plan; what stands nowhere is asked."""
    room = earlier.room
    home_ns = ask_home(given, room) if earlier.home_ns is None else earlier.home_ns
    if earlier.off_ns is not None:
        return Times(home_ns, earlier.off_ns)
    return Times(home_ns, ask_off(given, room) if room.window else USUAL_OFF_NS)


# -- a project that is there ----------------------------------------------------------------------------------------


def _again(given: argparse.Namespace, folder: Path, project: FoundProject) -> int:
    """Write other times or people into a project; without any, say what stands there."""
    _refuse_other_game(given, project)
    plan, quiet = (_inside(folder, one) for one in (next(iter(project.plans), None), project.event_plan))
    files: dict[str, str] = {}
    said = ""
    if plan:
        earlier = read_earlier(folder, plan)
        home_ns = None if given.home is None else ask_home(given, earlier.room)
        off_ns = None if given.off is None else ask_off(given, earlier.room)
        if (home_ns, off_ns) != (None, None):
            files = retimed(folder, plan, quiet, home_ns, off_ns)
        said = _standing(earlier, plan, home_ns, off_ns)
    elif given.home is not None or given.off is not None:
        raise UsageError(
            tr("the project has no plan of its own to write times into"), hint=tr("add one: plan = [\"...\"]"),
        )
    newer = agreed_newer(given, folder)
    named = ask_crews(given) if given.who else []

    def fill(there: Path) -> Written:
        found = Written((), (), ())
        for name, text in together(folder, newer, files).items():
            found |= write_files(there, {name: text}, overwrite=True, copies=name in newer)
        standing = _text_of(there / FILE_NAME)
        own = with_name(standing, _name(given, folder)) if given.name else standing
        own = with_crews(own, kept(named, project.runs or there / "runs")) if named else own
        if own != standing:
            found |= write_files(there, {FILE_NAME: own}, overwrite=True, copies=False)
        if given.examples:
            found |= copy_bundled(there / "examples")
        return found

    found = fill_folder(folder, fill)
    said = "\n".join([*rewritten_lines(newer, newer), said])
    if not found.written:
        said = tr(
            "{folder} is there: {name}. {said} --overwrite asks all again.", folder=folder / FILE_NAME,
            name=project.project.name, said=said,
        )
    return _report(folder, found, said)


def _refuse_other_game(given: argparse.Namespace, project: FoundProject) -> None:
    """Refuse options that say something else about the game than what stands in the project. Raises UsageError."""
    option = next((f"--{name}" for name in _OF_GAME if getattr(given, name) is not None), "")
    standing = answers_in(built(game_at(project.game))) if project.game and option else None
    if given.game is not None and project.game:
        option = "--game" if Path(given.game).stem != Path(project.game).stem else ""
    elif standing is not None:
        option = differs(given, standing)
    if option:
        hint = tr("change that file, or add --overwrite: it is replaced, and a copy of the old one kept")
        raise UsageError(
            tr("{option} is about the game, which is in {game}", option=option, game=project.game or "its plans"),
            hint=hint,
        )


def _text_of(path: Path) -> str:
    return path.read_bytes().decode("utf-8-sig")


def _inside(folder: Path, argument: str | None) -> str:
    """Return a file's path in the folder as a project names it, empty for a bundled one or none."""
    if argument is None or not bundle.is_file_argument(argument):
        return ""
    return Path(os.path.relpath(argument, folder)).as_posix()


def _standing(earlier: Earlier, plan: str, home_ns: int | None, off_ns: int | None) -> str:
    """Return the times of a project in a sentence, and what follows from them."""
    home_ns = earlier.home_ns if home_ns is None else home_ns
    off_ns = earlier.off_ns if off_ns is None else off_ns
    told = [tr("{home} for the way home", home=format_clock(home_ns))] if home_ns is not None else []
    told += [tr("{off} to break off a push", off=format_clock(off_ns))] if off_ns is not None else []
    return tr("In {plan}: {told}.", plan=plan, told=" and ".join(told)) if told else ""


# -- what was done --------------------------------------------------------------------------------------------------


def _report(folder: Path, found: Written, said: str) -> int:
    """Tell what was written and whether all of it fits; return the exit code."""
    lines = [tr("wrote {path}", path=path) for path in found.written]
    lines += [tr("kept {path}", path=path) for path in found.kept]
    lines += [tr("the one before is {path}", path=path) for path in found.copies]
    if any(path.parent.name != "rigs" for path in found.kept):
        lines.append(tr("Kept files did not change; --overwrite asks again and replaces them."))
    ours = files_of_this_folder(folder)                    # TOML of other tools may lie there too
    problems = check(ours)
    count = len(ours)
    step = "" if folder.resolve() == Path().resolve() else f"  {typed('cd', str(folder))}\n"
    if problems:
        verdict = tr(
            "Of {count} files {count_2} have mistakes: fix them first. Type:", count=count,
            count_2=len({one.file for one in problems}),
        )
        tell("\n".join([*lines, "", said, verdict]))
        tell(tr("{step}  tocsin check", step=step), fit=False)
        return MISTAKE
    tell("\n".join([*lines, "", said, tr("Checked: {count} files without a mistake. Type:", count=count)]))
    tell(f"{step}  tocsin", fit=False)
    return OVER

