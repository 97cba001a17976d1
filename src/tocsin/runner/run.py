"""Run matches from their options to the summary: files, lock, keeping awake, conductor, result."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from tocsin import monotime
from tocsin.config import bundle
from tocsin.config.checks.rig import idle_calls
from tocsin.config.file_cache import FileCache
from tocsin.config.load import Loaded, load, load_texts
from tocsin.config.renamed import protocol_notes
from tocsin.errors import JOURNAL, JournalError, UsageError
from tocsin.journal import lock, records
from tocsin.journal.past import Past, newest_past
from tocsin.journal.place import boot_text, lock_folders, probe, runs_folder
from tocsin.journal.reader import reckoning
from tocsin.journal.short_name import short_name
from tocsin.journal.summary import summarise, text_lines, trouble_lines, without
from tocsin.model.timeline.shown import taken_note
from tocsin.runner.conductor import Conductor, LinkMaker
from tocsin.runner.ending import Ending
from tocsin.runner.match import count_in
from tocsin.runner.match.resume import demand_unfinished, end_orphans
from tocsin.runner.match.start_point import start_point
from tocsin.runner.options import BLOCK, FOLLOWS, ROUND, RunOptions, options_of, plan_no_of
from tocsin.runner.power import keep_awake
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage
from tocsin.runner.terminal.front_end import FrontEnd
from tocsin.translation import tr

if TYPE_CHECKING:                      # only who asks for boards needs it
    from tocsin.runner.boards.standing import StandingBoards

Say = Callable[[str], None]
ProgrammeMaker = Callable[[Loaded, RunOptions], Programme]


def run_match(
    options: RunOptions, say: Say, *, json_output: bool, programme_of: ProgrammeMaker = Programme
) -> records.Summary:
    """Run matches until people leave; return the last one's summary. ``say`` prints a line for people, ``programme_of``
    makes what plays them. Raises UsageError, MistakeError (all mistakes of all files), DeviceError, JournalError."""
    files = load(options.game, options.plans, options.rig, FileCache(options.shared))
    for found in files.plans:
        start_point(options.from_moment, found.timeline)
    if note := taken_note(options.from_moment, files.plans[0].timeline):
        say(tr("--from {note}", note=note))
    if bundle.is_file_argument(options.rig):
        for what, cue in idle_calls(files.rig, [found.plan for found in files.plans]).items():
            say(tr("Your rig: {what} does nothing here, since no plan has a cue '{cue}' to call.", what=what, cue=cue))
    with alone() as note:
        if note:
            say(note)
        return _play_matches(programme_of(files, options), files, options, say, json_output)


def resume_match(
    runs: Path | None, say: Say, *, json_output: bool, programme_of: ProgrammeMaker = Programme, board: str = ""
) -> records.Summary:
    """Resume the newest run that was cut short: files and options from its journal, the clock as it was. Boards are
    served as before, or where ``board`` says.

    Raises JournalError if there is none or it cannot be resumed, for example if it would be over by now; DeviceError
    while another Tocsin runs.
    """
    folder = runs_folder(runs)
    with alone() as note:
        if note:
            say(note)
        past = newest_past(folder, boot_text(), lambda broken: say(broken.line))
        _demand_match(past)
        for line in end_orphans(past.workers):
            say(line)
        files, options = resumed(past, monotime.now_ns())
        options = msgspec.structs.replace(options, board=board or options.board)
        return _play_matches(programme_of(files, options), files, options, say, json_output, past)


def _play_matches(
    programme: Programme, files: Loaded, options: RunOptions, say: Say, json_output: bool, past: Past | None = None
) -> records.Summary:
    summary = play(files, options, say, json_output, past=past, programme=programme)
    for line in programme.series():
        say(line)
    return summary


def resumed(past: Past, now_ns: int) -> tuple[Loaded, RunOptions]:
    """Return the files and options of a resumed run, rebuilt from its header.

    Raises JournalError if its match would be over by now or its header holds none, MistakeError for files that this
    version refuses.
    """
    with reckoning(past.journal):
        options = options_of(past.header.options)
        files = load_texts(past.header.files, options.language)
        timeline = past.header.timeline or files.plans[plan_no_of(past.header.options)].timeline
        demand_unfinished(past, timeline, now_ns)
        files.plans[plan_no_of(past.header.options)]           # it is about to be played
        return files, options


def _demand_match(past: Past) -> None:
    """Raise JournalError for a run that is part of something longer, which has its own way of going on."""
    if ROUND in past.header.options:
        hint = tr("go on with the drill: `tocsin drill --resume`")
        raise JournalError(
            tr("{short_name}: what was cut short is a round of a drill", short_name=short_name(past.folder)), hint=hint,
        )
    if FOLLOWS in past.header.options:
        raise JournalError(
            tr("{short_name}: what was cut short follows another laptop", short_name=short_name(past.folder)),
            hint=tr("follow it again: `tocsin follow ADDRESS`"),
        )
    if BLOCK in past.header.options:
        hint = tr("begin it again: `tocsin react`")
        raise JournalError(
            tr("{short_name}: what was cut short is a block of a reaction test", short_name=short_name(past.folder)),
            hint=hint,
        )


@contextmanager
def alone() -> Iterator[str]:
    """Hold the lock that only one Tocsin can hold; yield a sentence for people if it is not in its usual place."""
    with lock.held_somewhere(lock_folders()) as note:
        yield note


def play(
    files: Loaded,
    options: RunOptions,
    say: Say,
    json_output: bool,
    *,
    past: Past | None = None,
    programme: Programme | None = None,
    boards: "StandingBoards | None" = None,
) -> records.Summary:
    """Play a programme's matches, or a plan's, until people leave; return the last one's summary. Call it inside
    ``alone``. ``boards`` keep one service through several programmes."""
    return _Run(files, options, say, json_output, past, programme, boards).run()


class _Run:
    """One program's life: the conductor between standby and standby, and the summary of each run."""

    def __init__(
        self,
        files: Loaded,
        options: RunOptions,
        say: Say,
        json_output: bool,
        past: Past | None,
        programme: Programme | None,
        boards: "StandingBoards | None" = None,
    ) -> None:
        self._boards = boards
        self._files = files
        self._options = options
        self._say = say
        self._json = json_output
        self._past = past
        self._programme = programme
        self._summary: records.Summary | None = None
        self._unsaid: list[str] = []

    def run(self) -> records.Summary:
        """Run until left."""
        runs = runs_folder(self._options.runs)
        probe(runs)
        if (light := self._files.rig.light) is not None:
            for note in protocol_notes(self._files.files):
                self._say(note)
            if light.never_lit:
                self._say(tr(
                    "the strip stays dark: its {leds} LEDs draw {dark:.0f} mA while dark, and max_ma allows {max_ma}",
                    leds=light.leds, dark=light.dark_ma, max_ma=light.max_ma,
                ))
        link = self._link()
        with keep_awake() as awake:
            front_end = FrontEnd(self._options.screen, json_output=self._json)
            conductor = Conductor(
                self._files, self._options, runs, front_end, awake, self._past, self._programme, link
            )
            try:
                conductor.run(partial(self._on_end, front_end))
            finally:
                self._say_lines([*self._unsaid, *conductor.last_words])    # the terminal has been given back
        if conductor.deserted:
            hint = tr("use a terminal or a window; what a script can do stands under --help")
            raise UsageError(tr("nobody can press a key here"), hint=hint)
        if self._summary is None:
            raise JournalError(tr("the run ended without a summary"))
        # A signal while the result stands changes nothing of the match before it, but it says how the program ended.
        told = conductor.stage.ending
        return msgspec.structs.replace(self._summary, exit=told.exit) if told and told.exit else self._summary

    def _link(self) -> LinkMaker | None:
        """Return what links the conductor to boards, None where nobody asked for them. Raises UsageError."""
        if not self._options.board:
            return None
        if self._boards is not None:
            return self._boards.link(self._options.board, self._files.rig, self._say)
        # Loaded here: a run without boards needs no page, no document and no service.
        from tocsin.runner.boards.link import link_maker
        from tocsin.runner.boards.opening import opening_of

        return link_maker(opening_of(self._options.board, self._files.rig, self._say))

    def _on_end(self, front_end: FrontEnd, stage: Stage, ending: Ending) -> tuple[str, ...]:
        """Sum a run up, end its journal with that, and return the lines of its result."""
        record = stage.match.record
        summary = summarise(
            record.kept,
            outcome=ending.outcome,
            exit_base=ending.exit,
            journal=str(record.path or ""),
            disturbed=stage.match.disturbed,
            devices={channel: stage.device_states.state(channel) for channel in stage.channels},
            priorities=stage.priorities,
        )
        if record.begun:
            end = records.End(
                at_ns=monotime.now_ns(), outcome=summary.outcome, exit=summary.exit, why=ending.why, summary=summary
            )
            record.add(end)
        failed = record.close()
        if failed and not ending.exit:
            summary = msgspec.structs.replace(summary, exit=JOURNAL)
        if self._summary is not None and ending.outcome == "standby":
            # Leaving standby says nothing new about the match before it.
            self._summary = msgspec.structs.replace(self._summary, exit=ending.exit or self._summary.exit)
            return ()
        self._summary = summary
        states, channels, told = stage.device_states, stage.channels, without(summary, record.kept, count_in.ANCHOR)
        if self._options.devices:
            whys = {channel: states.why(channel) for channel in channels}
            lines = text_lines(told, whys, [channel for channel in channels if states.off(channel)])
        else:
            lines = trouble_lines(told)
        if failed:
            lines = (*lines, tr("the journal has holes: {failed}", failed=failed))
        if front_end.live:
            self._unsaid += [line for line in lines if self._options.devices or line not in self._unsaid]
        else:
            self._say_lines(lines)
        return lines

    def _say_lines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self._say(line)
