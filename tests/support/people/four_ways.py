"""One match as four sources have it: played at the keys, watched in a video, logged by a robot, kept by a page.

What happened is the same ``Watched`` for all; the page's record comes from a browser, or from ``as_page``.
"""

import runpy
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from tests.support.export.page_records import Record
from tests.support.runner.stage_stand import NOW_NS, Desk, plain_stage
from tocsin.cli.main import main
from tocsin.features.records.round_report import RoundReport
from tocsin.features.records.rows import RowMaker, RunRow
from tocsin.journal import records
from tocsin.journal.place import run_folders
from tocsin.journal.reader import read
from tocsin.units import NS_PER_MS, NS_PER_S

KEYS = {"contact": "7", "turned": "8", "home": "9"}
DRIVER_S, HOME_S, END_S = 39, 114, 136           # of the bundled game and its plan: driver period, call, end
BEGIN_S = 105                          # the match is played from there
VIDEO_S = 25                           # so much of the match lies before the video's begin
TAP_NS = 60 * NS_PER_MS
POLL_MS = 20                           # of the robot's program


class Press(NamedTuple):
    """What somebody saw, from when until when, in nanoseconds of match time; ``end_ns`` None is a point, or with
    ``open`` a key that is still down as all is over."""

    label: str
    begin_ns: int
    end_ns: int | None = None
    open: bool = False


class Watched(NamedTuple):
    """What happened in a match: presses in their order, and when the call home landed."""

    presses: tuple[Press, ...]
    called_ns: int


class Judged(NamedTuple):
    """A run's row and its result."""

    row: RunRow
    report: RoundReport

    @property
    def figures(self) -> dict[str, Any]:
        """What a result says, times in seconds."""
        row = msgspec.structs.asdict(self.row)
        names = ("clean", "contacts", "contact_s", "break_off_margin_s", "turn_s", "way_s", "home", "home_margin_s",
                 "cost_points", "gain_points", "net_points", "cost_at_most_points", "gain_at_most_points")  # fmt: skip
        return {name: row[name] for name in names}

    @property
    def unknown(self) -> dict[str, Any]:
        """What a result cannot tell."""
        result = self.report.result
        figures = {name for name, value in self.figures.items() if value in (None, "")}
        open_marks = [(mark.label, mark.by) for mark in result.open_marks]
        return {
            "figures": figures, "unclear": [(one.mark.label, one.where) for one in result.unclear], "open": open_marks,
            "watched": self.report.watched, "why": result.why if result.clean is None else (),
        }  # fmt: skip


def judged(runs: Path) -> Judged:
    """Return how the newest run of a folder is judged."""
    journal = read(run_folders(runs)[0])
    maker = RowMaker()
    report = maker.report(journal)
    assert report is not None
    return Judged(maker.row(journal), report)


def as_run(folder: Path, watched: Watched) -> Judged:
    """Play it at the keys of the real programme, its stage and match, on a clock of the test's own."""
    programme, stage = plain_stage(folder, from_moment="driver.end-31s", start="key")
    desk = Desk(programme, stage)
    desk.press("s")
    while desk.phase != "running":
        desk.after(0.25)
    match = stage.match
    zero_ns = next(one.origin_ns for one in match.record.kept if isinstance(one, records.OriginRecord))
    assert zero_ns is not None
    deeds: list[tuple[int, str, bool]] = [(watched.called_ns, "", True)]
    for one in watched.presses:
        end_ns = one.begin_ns + TAP_NS if one.end_ns is None else one.end_ns
        deeds += [(one.begin_ns, KEYS[one.label], True), *([] if one.open else [(end_ns, KEYS[one.label], False)])]
    for match_ns, key, down in sorted(deeds):
        at_ns = zero_ns + match_ns
        desk.at((at_ns - NOW_NS) / NS_PER_S)
        if key:
            desk.actions.key(key, at_ns, max(at_ns, desk.now_ns), down=down)
        else:
            _give_the_call(desk, zero_ns, watched.called_ns)
    desk.end_match()
    return judged(folder / "runs")


def as_video(folder: Path, watched: Watched, *more: str) -> Judged:
    """Take it from a table of what a video shows."""
    rows = ["time,label,until,by", f"{_in_video(watched.called_ns)},called,,"]
    for label, begin_ns, end_ns, _ in _said(watched):
        rows.append(f"{_in_video(begin_ns)},{label},{'' if end_ns is None else _in_video(end_ns)},")
    table = folder / "marks.csv"
    table.write_text("\n".join(rows) + "\n", "utf-8")
    seen = ["--seen", f"{_in_video(DRIVER_S * NS_PER_S)}=driver.begin", "--seen", f"{END_S - VIDEO_S}=driver.end"]
    return _logged(folder, "--video", str(table), *seen, *more)


def as_robot(folder: Path, watched: Watched) -> Judged:
    """Take it from the log of exported code, whose robot polls as the call landed, and from marks that come later."""
    code = folder / "robot_cues.py"
    assert main(["export", "--to", "python", "-o", str(code)]) == 0
    module = runpy.run_path(str(code))
    cues, lines = module["TocsinPlan"](), []
    due_ms, called_ms = (HOME_S - DRIVER_S) * 1000, round(watched.called_ns / NS_PER_MS) - DRIVER_S * 1000
    polls = [ms for ms in range(3, 107_000, POLL_MS) if not due_ms <= ms <= called_ms]
    for ms in sorted([*polls, called_ms]):
        cues.poll(module["PERIOD_DRIVER"], ms)
        lines += [cues.log_line(place) for place in range(cues.count)]
    log = folder / "robot.log"
    log.write_text("\n".join(lines), "utf-8")
    _logged(folder, "--robot", str(log))
    for label, begin_ns, end_ns, _ in _said(watched):
        times = ["--at", _before_end(begin_ns), *([] if end_ns is None else ["--until", _before_end(end_ns)])]
        assert main(["mark", "--runs", str(folder / "runs"), "--label", label, *times]) == 0
    return judged(folder / "runs")


def as_page(folder: Path, data: bytes) -> Judged:
    """Take it from what a page saved."""
    path = folder / "page.jsonl"
    path.write_bytes(data)
    return _logged(folder, "--page", str(path))


def page_data(watched: Watched) -> bytes:
    """Return what a page saves of it."""
    record = Record().begin(by="press")
    record.lines[-1]["starts_ns"] = record.at(BEGIN_S)
    record.firing("home", late_ms=watched.called_ns / NS_PER_MS - HOME_S * 1000)
    for one in watched.presses:
        end_s = None if one.end_ns is None else one.end_ns / NS_PER_S
        record.mark(one.label, one.begin_ns / NS_PER_S, end_s, open=one.open)
    return record.end().data()


def _logged(folder: Path, *arguments: str) -> Judged:
    assert main(["log", "--runs", str(folder / "runs"), *arguments]) == 0
    return judged(folder / "runs")


def _said(watched: Watched) -> list[Press]:
    """Return the presses as people say them later: home tapped again at once is half home."""
    said: list[Press] = []
    for one in watched.presses:
        again = one.label == "home" and said and said[-1].label == "home" and one.begin_ns - said[-1].begin_ns < 1.5e9
        said[-1:] = [one._replace(label="home_half")] if again else [*said[-1:], one]
    return said


def _in_video(match_ns: int) -> str:
    minutes, ns = divmod(match_ns - VIDEO_S * NS_PER_S, 60 * NS_PER_S)
    return f"{minutes}:{ns / NS_PER_S:06.3f}"


def _before_end(match_ns: int) -> str:
    return f"driver.end-{(END_S * NS_PER_S - match_ns) / NS_PER_S:.6f}s"


def _give_the_call(desk: Desk, zero_ns: int, called_ns: int) -> None:
    """Report the call home as a device would that gave it then."""
    match = desk.stage.match
    home = next(one for one in match.timeline.firings if one.cue == "home" and one.match_ns is not None)
    late_ns = called_ns - home.begin.offset_ns
    match.record.add(
        records.FiringRecord(
            at_ns=zero_ns + called_ns, cue="home", n=home.n, channel=home.channel, role=home.role, anchor="match",
            due_ns=home.begin.offset_ns, match_ns=home.match_ns, late_ns=late_ns, took_ns=0, outcome="played", why="",
            no=home.no, instance=0,
        )
    )  # fmt: skip
