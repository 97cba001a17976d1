"""Play a plan again and again, and judge each match as it ends: the result stands as that of a drill's round does."""

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from tocsin.analysis.rounds.text import shape_of
from tocsin.config.load import Loaded
from tocsin.features.records.added_marks import video_command
from tocsin.features.records.after_the_end import Changes, change_text, say_watched, take_back, write_late
from tocsin.features.records.round_report import RoundReport, match_report_of
from tocsin.journal import records
from tocsin.model.clock.origins import Phase
from tocsin.model.display.round_picture import RoundPicture
from tocsin.runner.ending import Ending
from tocsin.runner.options import RunOptions
from tocsin.runner.outcome import Done, Outcome, Refused
from tocsin.runner.phones.unheard import Unheard
from tocsin.runner.programme import Programme
from tocsin.runner.stage import Stage, wire_run_of
from tocsin.translation import tr
from tocsin.units import NS_PER_S

# So long a result stands after the last key that was pressed at it; then standby is back, where the next match starts.
STANDS_NS = 60 * NS_PER_S


class Matches(Programme):
    """Plays one of the plans, chosen in standby, until a person leaves; judges each match that was played to its end.

    A match is a series of one: no round is repeated or left out, there is no goal and no crew.
    """

    write_late = staticmethod(write_late)

    def __init__(self, files: Loaded, options: RunOptions) -> None:
        super().__init__(files, options)
        self._report: RoundReport | None = None    # of the match whose result stands
        self._beside: tuple[str, ...] = ()         # calls that failed, and how the devices did
        self._failed = False
        self._details = False
        self._title = self._video = ""
        self._touched_ns = 0
        self._unheard, self._changes = Unheard(), Changes()
        self._is_told = False                      # whether the lines were printed as the match ended

    # -- what people see

    def result(self) -> tuple[str, ...]:
        """Return the newest match's result by the marks that are valid now, with how its devices did where people ask
        for details, or a call failed."""
        if self._report is None:
            return ()
        beside = self._beside if self._details or self._failed else ()
        return (*filter(None, [self._unheard.told]), *self._report.rows, *beside)

    def picture(self) -> RoundPicture | None:
        """Return how the newest match went as a picture, unless people want its sentences, it may change, or a call
        failed."""
        if self._report is None or self._details or self._failed or self._unheard.told:
            return None
        return replace(self._report.picture, title=self._title)

    def video(self) -> str:
        """Return the command by which a video tells the newest match, if nothing else can."""
        return self._video if self._report is not None and shape_of(self._report.result) == "question" else ""

    def series(self) -> tuple[str, ...]:
        """Return the newest match's result in full sentences, unless they were printed as it ended."""
        return () if self._report is None or self._is_told else (*self._report.lines, *filter(None, [self.video()]))

    def ask(self, stage: Stage, phase: Phase) -> str:
        """Return that the result is about to come while the last calls ring out."""
        return tr("The result comes") if self._rings_out(phase) else super().ask(stage, phase)

    def _rings_out(self, phase: Phase) -> bool:
        return phase == "over" and self._report is None

    def keys(self, phase: Phase) -> tuple[tuple[str, str], ...]:
        """Return the keys of a result."""
        if phase != "over" or self._report is None:
            return super().keys(phase)
        nothing = self._unheard.beside(tr("watched, nothing to mark"))
        corrects = ("undo", tr("undo mark")) if self._report.watched else ("yes", nothing)
        return (("details", "picture" if self._details else "details"), corrects)

    def wished_names(self, phase: Phase) -> Mapping[str, str]:
        """Return the names by which boards wish for what else would have another meaning each time."""
        if phase != "over" or self._report is None:
            return super().wished_names(phase)
        return {"yes": "watched"} | ({"details": "picture"} if self._details else {})

    def stands_until_ns(self, ended_ns: int) -> int:
        """Return until when a result stands: a minute after the last key that was pressed at it."""
        if self._report is None:
            return super().stands_until_ns(ended_ns)
        return max(ended_ns, self._touched_ns) + STANDS_NS

    def title(self, stage: Stage) -> str:
        """Return what people call the match that has just ended."""
        return self._options.label or stage.match.timeline.plan

    # -- what people do

    def act(self, action: str, stage: Stage, now_ns: int) -> Outcome | None:
        """Carry out what is asked at a result."""
        report = self._report
        if action == "start" and self._rings_out(stage.match.lifecycle.phase):
            return Refused(tr("match just over: its result comes at once"))
        if report is None or stage.match.lifecycle.phase != "over":
            return super().act(action, stage, now_ns)
        self._touched_ns = now_ns

        def judge(run: Sequence[records.Record]) -> None:
            self._judge(run, stage)

        match action:
            case "details":
                self._details = not self._details
                return Done()
            case "undo":
                return take_back(stage, judge, "match")
            case "yes":
                return Done() if report.watched else say_watched(stage.last_folder, now_ns, judge)
        return super().act(action, stage, now_ns)

    def judge_late(self, stage: Stage, run: Sequence[records.Record]) -> None:
        """Judge the match whose result stands anew, if the late mark is one of it."""
        if self._report is not None and wire_run_of(run) == stage.wire_run:
            before = self._report
            self._judge(run, stage)
            self._changes.add(stage, change_text(before, self._report, run))

    def turn(self, stage: Stage, now_ns: int) -> None:
        """See which boards are here, and tell what late marks changed; else as before any match."""
        super().turn(stage, now_ns)
        self._unheard.turn(stage.boards, now_ns)
        self._changes.turn(stage, now_ns)

    def take_notes(self) -> list[records.Note]:
        """Return what was said before the match that begins now: with it the result before is gone."""
        self._report = None
        return super().take_notes()

    def ended(self, stage: Stage, ending: Ending, now_ns: int) -> tuple[str, ...]:
        """Judge a match that was played to its end."""
        self._report = None
        if ending.outcome != "over":
            return super().ended(stage, ending, now_ns)
        run = stage.match.record.kept
        firings = [record for record in run if isinstance(record, records.FiringRecord)]
        failed = sorted({firing.channel for firing in firings if firing.outcome == "failed"})
        lost = (tr("The {channel} failed to give a call: check it.", channel=channel) for channel in failed)
        self._beside, self._failed = (*lost, *stage.summed_up), bool(failed)
        self._details, self._touched_ns = False, now_ns
        self._unheard.ended(stage.boards, now_ns)
        self._title = self.title(stage)
        self._judge(run, stage)
        folder = stage.last_folder
        by_video = video_command(folder, stage.match.timeline, self._options.runs) if folder else ""
        self._video = tr("By video: {by_video}", by_video=by_video) if by_video else ""
        self._is_told = stage.by_key and stage.front.in_terminal and not stage.front.interactive
        return self.result()

    def _judge(self, run: Sequence[records.Record], stage: Stage) -> None:
        game = self._files.plans[stage.plan_no].game
        self._report = match_report_of(run, stage.match.timeline, game)
