"""Everything that reads what others wrote, as functions of bytes: they return, or raise what people read.

The bundled files that a given file may name are parsed once, not for each mutation: that was most of the time.
"""

import json
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import NamedTuple

import serial

from tests.support.config.own_project import TEXT as PROJECT_TEXT
from tests.support.config.own_project import make_project
from tests.support.export.page_records import as_bytes, two_matches
from tocsin.analysis.rounds.overlaps import window_times
from tocsin.channels.device import Event
from tocsin.channels.light.port import BOOT_NS, StripPort
from tocsin.channels.light.replies import Replies
from tocsin.config import bundle
from tocsin.config.checking import examine
from tocsin.config.file_cache import FileCache, bundled_patterns
from tocsin.config.load import Loaded, load
from tocsin.config.project import FILE_NAME, find_project, read_project
from tocsin.config.reading import GAME, PLAN
from tocsin.config.toml.diagnostic import as_json, render_all
from tocsin.errors import TocsinError
from tocsin.features.check.findings import devices
from tocsin.features.records.observed import table_of
from tocsin.features.records.page.files import PlanSearch
from tocsin.features.records.page.record import page_record_of
from tocsin.features.records.page.run import PageRun
from tocsin.features.records.round_report import played_of
from tocsin.journal.records import encode as as_line
from tocsin.lint.inspect import inspect
from tocsin.lint.subject import Subject
from tocsin.model.clock.origins import Origin
from tocsin.model.rig import Light, Rig
from tocsin.pipe import MessageError
from tocsin.workers.protocol import (
    Arm,
    Busy,
    Command,
    Fired,
    Give,
    Granted,
    Heartbeat,
    Hello,
    Load,
    NewOrigins,
    Opened,
    Safe,
    Steer,
    TimelineLoaded,
    decode_down,
    decode_up,
    encode,
)


class Reader(NamedTuple):
    """What reads: ``texts`` are good ones to be changed."""

    texts: list[bytes]
    read: Callable[[bytes, Path], None]


def _paths(kind: bundle.Kind) -> list[Path]:
    return [bundle.root() / kind / f"{name}.toml" for name in bundle.names(kind)]


def _bundled(kind: bundle.Kind) -> list[bytes]:
    return [path.read_bytes() for path in _paths(kind)]


@cache
def _kept() -> FileCache:
    shelf = FileCache()
    bundled_patterns(shelf)
    for path in _paths("games"):
        shelf.parsed(GAME, path)
    for path in _paths("plans"):
        shelf.parsed(PLAN, path)
    return shelf


def _shelf() -> FileCache:
    """Return a shelf with the bundled patterns, games and plans, none of which has a mistake."""
    if not all(document.is_sound for document in _kept().documents()):
        _kept.cache_clear()            # the file before was compiled with it, and what was wrong was reported to both
    return _kept().copy()


def _check(data: bytes, folder: Path) -> None:
    """Check a file as ``tocsin check`` does, and look for findings where it has no mistake."""
    path = folder / "given.toml"
    path.write_bytes(data)
    checked = examine([str(path)], shelf=_shelf())
    render_all(checked.problems)
    json.dumps([as_json(problem) for problem in checked.problems])
    for clean in checked.plans:
        inspect(Subject(*clean.loaded, devices(), own=clean.own))


def _game(data: bytes, folder: Path) -> None:
    """Check a game by itself, then a plan in it."""
    _check(data, folder)
    plan = folder / "plan.toml"
    if not plan.exists():
        text = (bundle.root() / "plans" / "full.toml").read_text("utf-8")
        plan.write_text(text.replace('game = "casting_day"', 'game = "given.toml"'), "utf-8")
    _loaded(None, str(plan), "nothing")


def _rig(data: bytes, folder: Path) -> None:
    """Check a rig, then load it as a run does."""
    _check(data, folder)
    _loaded(None, "full", str(folder / "given.toml"))


def _project(data: bytes, folder: Path) -> None:
    """Find a project's file as every command does, then check it with all that it names."""
    if not (folder / "plans").exists():
        make_project(folder)
    path = folder / FILE_NAME
    path.write_bytes(data)
    with suppress(TocsinError):
        find_project(folder, {})
    read = read_project(path)
    names = read.found.names() if read.found else ()
    render_all(examine(names, project=read).problems)


def _loaded(game: str | None, plan: str, rig: str) -> None:
    with suppress(TocsinError):
        load(game, [plan], rig, _shelf())


def _video(data: bytes, folder: Path) -> None:
    path = folder / "marks.csv"
    path.write_bytes(data)
    with suppress(TocsinError):
        table_of(path)


def _page(data: bytes, folder: Path) -> None:
    """Read a page's record, find its plan, and reckon with what would be written."""
    with suppress(TocsinError):
        record = page_record_of(data)
        search = PlanSearch(record, None, _usual_plan, folder / "runs")
        for match in record.matches:
            timeline = search.plan_of(match).plans[0].timeline
            run = PageRun(match, timeline)
            lines = [*run.body, run.end]
            for line in lines:
                as_line(line)
            played = played_of(lines, half_speed=False)
            window_times(timeline, played.origins)


@cache
def _usual_plan() -> Loaded:
    return load(None, ["full"], "nothing")


def _up(data: bytes, folder: Path) -> None:
    with suppress(MessageError):
        encode(decode_up(data))


def _down(data: bytes, folder: Path) -> None:
    with suppress(MessageError):
        encode(decode_down(data))


class _Board:
    """A port whose board says something: pyserial's loop, into which its words are written."""

    def __init__(self, said: bytes) -> None:
        self.loop = serial.serial_for_url("loop://", timeout=0)
        self.loop.write(said[:4000])


def _greeting(data: bytes, folder: Path) -> None:
    """Let a board say anything while it boots."""
    port = StripPort.__new__(StripPort)
    port.name, port._boot_until_ns = "board", BOOT_NS
    port.replies = Replies(greets=True, acknowledges=True)
    port._serial = _Board(data).loop
    for turn in range(70):
        port.booting(turn)
    port.feel()
    port.close(discard=True)


def _lines_up() -> list[bytes]:
    device = Event(kind="device", at_ns=1, state="ready", name="Pad", what="driver")
    messages = [
        Opened(now_ns=1), TimelineLoaded(), Heartbeat(now_ns=5), Busy(on=True), Granted(priority="raised", why="no"),
        Fired(3, 0, "played", "", 10, 5, 7, ("driver",)), device,
        Event(kind="fault", at_ns=2, what="w", why="y"),
    ]  # fmt: skip
    return [encode(message).strip() for message in messages]


def _lines_down() -> list[bytes]:
    loaded = load(None, ["quiet"], "nothing").plans[0]
    messages = [
        Hello(rig=Rig(name="Bare", light=Light()), now_ns=1),
        Load(timeline=loaded.timeline, patterns=loaded.plan.patterns),
        NewOrigins(origins=(Origin(anchor="match", origin_ns=5),), variant=""), Give(numbers=(1, 2)),
        Command(verb="mute"), Steer(seed=4), Arm(priority="raised"), Safe(),
    ]  # fmt: skip
    return [encode(message).strip() for message in messages]


_TABLE = 'time,label,until,by\n83.4,contact,85.0,us\n1:30,home,,\n"1:31",contact,1:31.5,partner\n'

READERS: dict[str, Reader] = {
    "game": Reader(_bundled("games"), _game),
    "plan": Reader(_bundled("plans"), _check),
    "patterns": Reader(_bundled("patterns"), _check),
    "rig": Reader(_bundled("rigs"), _rig),
    "drill": Reader(_bundled("drills"), _check),
    "project": Reader([PROJECT_TEXT.encode()], _project),
    "video marks": Reader([_TABLE.replace(",", mark).encode() for mark in ",;\t"], _video),
    "page record": Reader([two_matches().data(), as_bytes(two_matches().lines)], _page),
    "lines up": Reader(_lines_up(), _up),
    "lines down": Reader(_lines_down(), _down),
    "greeting": Reader([b"Ada\n", b"\nets Jun  8 2016\nAda\n", b"Ada\nAda\nAda\n"], _greeting),
}
