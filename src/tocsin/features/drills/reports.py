"""The results of a drill's rounds and how they are shown: as a picture, as sentences, as a series of each crew."""

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec

from tocsin.analysis.rounds.own_limit import OwnLimit, limit_text
from tocsin.analysis.rounds.text import series_legend, shape_of
from tocsin.config.drills import LoadedDrill
from tocsin.features.drills.card import rounds_text
from tocsin.features.drills.crews import Crews
from tocsin.features.records.added_marks import video_command
from tocsin.features.records.after_the_end import change_text
from tocsin.features.records.round_files import RoundFacts
from tocsin.features.records.round_report import (
    RoundReport,
    crews_of,
    of_crew,
    own_limit_of,
    report_of,
    series_lines,
    series_picture,
    series_rows,
)
from tocsin.journal import records
from tocsin.model.display.round_picture import RoundPicture
from tocsin.model.timeline.timeline import Timeline
from tocsin.runner.stage import wire_run_of
from tocsin.translation import tr


class Reports:
    """The results so far, ``past`` those of an earlier life. ``details`` says whether people want the newest one in
    sentences."""

    def __init__(self, found: LoadedDrill, crews: Crews, past: Sequence[RoundReport]) -> None:
        self._drill = found.drill
        self._game = found.files.plans[0].game
        self._crews = crews
        self._reports = list(past)
        self._lost: tuple[str, ...] = ()
        self._losses: Counter[str] = Counter()     # rounds in which a channel failed to give a call
        self._by_run: dict[int, tuple[int, Timeline, RoundFacts]] = {}     # the place of its result, and its facts
        self.details = False
        self._video = ""

    def add(self, run: Sequence[records.Record], timeline: Timeline, facts: RoundFacts, wire_run: int = 0) -> None:
        """Judge a round that has ended, and take it as the newest; ``wire_run`` is its number as boards know it."""
        self._by_run[wire_run] = (len(self._reports), timeline, facts)
        self._reports.append(self._report(run, timeline, facts))
        firings = [record for record in run if isinstance(record, records.FiringRecord)]
        failed = {firing.channel for firing in firings if firing.outcome == "failed"}
        self._losses.update(failed)
        self._lost = tuple(
            tr("The {channel} failed to give a call: check it.", channel=channel) for channel in sorted(failed)
        )
        self.details = False

    def judge_again(self, run: Sequence[records.Record], timeline: Timeline, facts: RoundFacts) -> None:
        """Judge the newest round anew, by the marks that are valid now."""
        self._reports[-1] = self._report(run, timeline, facts)

    def judge_late(self, run: Sequence[records.Record]) -> str:
        """Judge a round of this evening anew, by its records as they are now; what was taken out stays so. Return what
        changed, of which round; or an empty text."""
        if (found := self._by_run.get(wire_run_of(run) or 0)) is not None:
            place, timeline, facts = found
            before = self._reports[place]
            after = msgspec.structs.replace(self._report(run, timeline, facts), taken_out=before.taken_out)
            self._reports[place] = after
            return change_text(before, after, run, facts.round)
        return ""

    def own_limit(self, crew: str) -> OwnLimit | None:
        """Return the limit that a crew has set itself so far, None where the drill asks for none."""
        return own_limit_of(self._reports, crew, self._drill)

    @property
    def watched(self) -> bool:
        """Whether somebody was there to mark what happened in the newest round."""
        return not self._reports or self._reports[-1].watched

    def take_out(self, why: str) -> None:
        """Count the newest round no more, if there is one."""
        if self._reports:
            self._reports[-1] = msgspec.structs.replace(self._reports[-1], taken_out=why)

    def rows(self, left: int, *, verdict_only: bool = False) -> tuple[str, ...]:
        """Return the newest round's result as rows, with the series of its crew, which has ``left`` rounds to come."""
        if not self._reports:
            return ()
        newest = self._reports[-1]
        if verdict_only:
            return newest.rows[:1]
        return (*newest.rows, *self._limit_made(newest), *self._lost, *self.series_rows(newest.crew, left))

    def _limit_made(self, newest: RoundReport) -> tuple[str, ...]:
        """Return the crew's own limit if it is the newest round that made it whole."""
        now = self.own_limit(newest.crew)
        if newest.own is None or newest.own.turned_ns is not None or now is None or now.turned_ns is None:
            return ()
        return (limit_text(now),)

    def title(self, number: int) -> str:
        """Return what people call the newest round, which has this ``number`` among those of its crew."""
        told = tr("round {number} of {rounds}", number=number, rounds=self._drill.rounds)
        crew = tr(", crew {crew}", crew=self._reports[-1].crew) if self._reports and self._crews.several else ""
        return f"{self._drill.name}, {told}{crew}"

    def picture(self, title: str) -> RoundPicture | None:
        """Return the newest round as a picture, or None while people want its sentences, or a call was lost."""
        if not self._reports or self.details or self._lost:
            return None
        found = series_picture(of_crew(self._reports, self._reports[-1].crew))
        return msgspec.structs.replace(found, title=title)

    def offer(self, folder: Path | None, timeline: Timeline, runs: Path | None) -> None:
        """Have a video ready to be offered for the newest round, whose journal lies in ``folder`` below ``runs``."""
        self._video = (
            tr("By video: {video_command}", video_command=video_command(folder, timeline, runs)) if folder
            else ""
        )

    @property
    def video(self) -> str:
        """How a video tells the newest round if its marks cannot, else an empty text."""
        return self._video if self._reports and shape_of(self._reports[-1].result) == "question" else ""

    def series_rows(self, crew: str, left: int) -> tuple[str, ...]:
        """Return the series of a crew for window and terminal."""
        told = crew if self._crews.several else ""
        return series_rows(of_crew(self._reports, crew), self._drill, left, told)

    def series(self, left: Callable[[str], int]) -> tuple[str, ...]:
        """Return the whole series in full sentences, crew by crew; ``left`` tells how many rounds one has to come."""
        several = self._crews.several
        told = (
            series_lines(of_crew(self._reports, crew), self._drill, left(crew), crew if several else "")
            for crew in crews_of(self._reports)
        )
        lines = [line for lines in told for line in lines]
        return (*lines, *([series_legend()] if lines and several else []), *self._failed())

    def _failed(self) -> tuple[str, ...]:
        """Return what failed in all rounds, as one line or none: behind twelve results nobody knows any more."""
        failed = (
            tr("{channel} in {rounds}", channel=channel, rounds=rounds_text(count))
            for channel, count in sorted(self._losses.items())
        )
        line = ", ".join(failed)
        return (tr("Calls failed: {line}. `--devices` tells more.", line=line),) if line else ()

    def _report(self, run: Sequence[records.Record], timeline: Timeline, facts: RoundFacts) -> RoundReport:
        return report_of(run, timeline, self._game, self._drill, facts)
