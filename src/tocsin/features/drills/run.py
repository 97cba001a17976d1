"""Run a drill from its options to its last round: the runner of a match, with a programme of rounds."""

import secrets
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

import msgspec

from tocsin import monotime
from tocsin.config.drills import LoadedDrill, load_drill, load_drill_texts
from tocsin.errors import JournalError
from tocsin.features.drills.closing import Sentence
from tocsin.features.drills.crews import Crews
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import ENDED, Session, append_note, facts_of, newest_session
from tocsin.features.records.round_report import RoundReport, reports_of
from tocsin.journal import records
from tocsin.journal.answers import Answers
from tocsin.journal.people import People
from tocsin.journal.place import runs_folder
from tocsin.journal.writer import JournalWriter
from tocsin.model.drill import CREWS
from tocsin.readable import typed
from tocsin.runner.keymap import with_scribe_keys
from tocsin.runner.match.resume import end_orphans
from tocsin.runner.options import Roster, RunOptions
from tocsin.runner.run import Say, alone, play
from tocsin.translation import tr

if TYPE_CHECKING:                      # only who asks for boards needs it
    from tocsin.runner.boards.standing import StandingBoards

_UNKNOWN = tr(
    "An earlier version gave both crews here the people of the first: nobody knows whose rounds those are. From now "
    "on: --who A.driver=NAME --who B.driver=NAME.",
)


def run_drill(
    drill: str, options: RunOptions, seed: int | None, say: Say, *, json_output: bool, key: str = "",
    pauses: bool = False, closing: Sentence | None = None, recorded: bool = True,
    boards: "StandingBoards | None" = None,
) -> records.Summary:  # fmt: skip
    """Run a drill until its rounds are played or a person leaves; return the last round's summary.

    The plan and game of the options, if they name any, take the place of the drill's; the journals hold what is played.
    ``seed`` None and an empty ``key`` take fresh ones; both stand in every journal. Who leaves a drill that ``pauses``
    can go on with it by ``resume_drill``. ``closing`` gives the evening's sentence for the last result.
    ``recorded`` False tells of no folder: it goes away; ``boards`` is as in ``play``. Raises UsageError, MistakeError,
    DeviceError, JournalError.
    """
    found = load_drill(drill, options.rig, next(iter(options.plans), None), options.game, options.shared)
    options = msgspec.structs.replace(options, plans=options.plans or found.drill.plans)
    session = Session(
        # From wherever below its project a drill is begun, it is the same one.
        name=PurePath(*(part for part in PurePath(drill).parts if part != "..")).as_posix(),
        key=key or new_key(),
        seed=secrets.randbelow(1 << 31) if seed is None else seed,
        crew=min(options.roster, default=CREWS[0]),
    )
    with alone() as note:
        if note:
            say(note)
        return _play(
            found, options, session, say, json_output, pauses=pauses, closing=closing, recorded=recorded,
            boards=boards,
        )  # fmt: skip


def new_key() -> str:
    """Return a fresh key, by which a drill is told from all others."""
    return secrets.token_hex(4)


def resume_drill(
    runs: Path | None, roster: Roster, say: Say, *, devices: bool, json_output: bool, key: str = "",
    pauses: bool = False, closing: Sentence | None = None, board: str = "",
    boards: "StandingBoards | None" = None, rate: float | None = None,
) -> records.Summary:  # fmt: skip
    """Continue the newest drill that was cut short, or the one with this key, each crew with the round after its last
    finished one.

    The people of crews in ``roster`` replace those that the drill had; ``devices`` is as in the options of a run;
    boards are served as before, or where ``board`` says, at the speed as before, or by ``rate``. Raises JournalError if
    there is no such drill.
    """
    folder = runs_folder(runs)
    with alone() as note:
        if note:
            say(note)
        past = newest_session(folder, lambda broken: say(broken.line), key)
        if past is None:
            raise JournalError(
                tr("{folder}: there is no drill to go on with", folder=folder),
                hint=tr("start one with `tocsin drill NAME`"),
            )
        for line in end_orphans(past.workers):
            say(line)
        _close(past.unfinished)
        found = load_drill_texts(past.files, past.options.language)
        newest = past.rounds[-1].path.parent
        roster = {**past.options.roster, **roster}
        options = msgspec.structs.replace(
            past.options, roster=roster, devices=devices, board=board or past.options.board,
            rate=rate or past.options.rate,
        )  # fmt: skip
        facts = facts_of(past.rounds[-1].header)
        ended = facts is not None and past.session.place >= facts.round     # else it is played again
        if not _has_rounds_left(found, past.session, options.roster, ended=ended):
            append_note(newest, records.Note(at_ns=monotime.now_ns(), what=ENDED, text=tr("all rounds played")))
            hint = tr("start another with `tocsin drill NAME`")
            raise JournalError(tr("drill {key}: all its rounds were played", key=past.session.key), hint=hint)
        if past.unknown_people:
            say(_UNKNOWN)
        reports = tuple(reports_of(past.rounds, found))
        return _play(
            found, options, past.session, say, json_output, reports, newest, pauses=pauses, closing=closing,
            boards=boards,
        )  # fmt: skip


def _has_rounds_left(found: LoadedDrill, session: Session, roster: Roster, *, ended: bool) -> bool:
    """Return whether a crew has rounds left; the one whose turn it is is on from now on. Unless the newest round has
    ``ended``, that is the crew that plays it again."""
    crews = Crews(found.drill, session, roster)
    if ended or not crews.left(session.crew):
        session.crew = crews.due() or session.crew
    return crews.left(session.crew) > 0


def _play(
    found: LoadedDrill,
    options: RunOptions,
    session: Session,
    say: Say,
    json_output: bool,
    past: tuple[RoundReport, ...] = (),
    earlier: Path | None = None,
    *,
    pauses: bool,
    closing: Sentence | None,
    recorded: bool = True,
    boards: "StandingBoards | None" = None,
) -> records.Summary:
    files = found.files._replace(rig=with_scribe_keys(found.files.rig, found.drill.marks))
    answers = Answers(runs_folder(options.runs), {key for crew in options.roster.values() for key in crew.values()})
    names = People(runs_folder(options.runs)).names
    programme = Rounds(
        found._replace(files=files), options, session, past, earlier, answers, names=names, pauses=pauses,
        closing=closing,
    )  # fmt: skip
    summary = play(files, options, say, json_output, programme=programme, boards=boards)
    for line in programme.series():
        say(line)
    if summary.outcome != "standby" and recorded:
        kept_in = ("--runs", str(options.runs)) if options.runs else ()
        say(tr(
            "Recorded: `{typed}` shows the whole drill.",
            typed=typed("tocsin", "runs", "--show", session.key, *kept_in),
        ))
    return summary


def _close(unfinished: tuple[Path, ...]) -> None:
    """End the journals of rounds that were cut short, so that nobody takes them for whole."""
    for folder in unfinished:
        writer = JournalWriter.reopen(folder)
        now_ns = monotime.now_ns()
        writer.append(records.Note(at_ns=now_ns, what="dropped", text=tr("cut short")))
        writer.append(records.End(at_ns=now_ns, outcome="crashed", exit=0, why=tr("the drill was cut short")))
        writer.close()
