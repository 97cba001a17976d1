"""Read the record that a browser saved from an exported page: one match or several, as JSON lines.

The file may come from anybody and hold anything. A line that does not fit, or whose times lie elsewhere than its match,
is left out and said; kinds and keys of a later version are skipped.
"""

import hashlib
import io
import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import msgspec

from tocsin.config.toml.bounds import MOST_BYTES as MOST_TEXT
from tocsin.errors import MistakeError, UsageError, reason
from tocsin.intake import read_given
from tocsin.journal.records import Cause, Rate, kind_of
from tocsin.model.plan import ChannelName, Role
from tocsin.readable import readable_line
from tocsin.translation import tr
from tocsin.units import NS_PER_S, Count

FORMAT = "tocsin-page/1"
MOST_PAGE_BYTES = 20_000_000           # a match has some 60 kB, and a browser keeps 5 or 10 MB
MOST_MATCHES = 500
MOST_FLAWS = 200                       # more, and the file is something else
MOST_LINES = 40_000                    # of a match: a plan may have 20,000 firings
MOST_DEEDS = 5_000                     # of a match: what people did to its clock, and marks
_FARTHEST_NS = 24 * 3600 * NS_PER_S    # from a match's begin to any of its times
_FIX = tr("take the file that the page saved, as it is")
_HTML = b"<!doctype html"

PageNs = Annotated[int, msgspec.Meta(ge=-(1 << 53), le=1 << 53)]       # what a browser's numbers hold exactly
Word = Annotated[str, msgspec.Meta(max_length=200)]
Sha256 = Annotated[str, msgspec.Meta(pattern=r"^[0-9a-f]{64}\Z")]
_WALL = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")


class PageFile(msgspec.Struct, frozen=True, kw_only=True):
    """A file that the page was made from."""

    kind: Literal["game", "plan", "patterns"]
    name: Word
    sha256: Sha256
    text: Annotated[str, msgspec.Meta(max_length=MOST_TEXT)]


class SourceLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="source"):
    """All files that the page was made from."""

    files: Annotated[tuple[PageFile, ...], msgspec.Meta(max_length=100)]


class HeaderLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="header"):
    """The begin of a match; ``by`` is what started it, ``wall`` what the browser's wall clock showed."""

    at_ns: PageNs
    format: Word
    wall: Word
    game: Word
    game_sha256: Sha256
    plan: Word
    plan_sha256: Sha256
    made_by: Word = ""
    variant: Word = ""
    rate: Rate = 1.0
    by: Literal["count_in", "press", "itself"] = "press"       # pages of before do not say


class OriginLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="origin"):
    """An anchor's match time is zero at ``origin_ns``."""

    at_ns: PageNs
    anchor: Word
    origin_ns: PageNs
    rate: Rate = 1.0
    cause: Cause
    instance: Count = 0
    starts_ns: PageNs = 0


class StateLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="state"):
    """The clock was held, or another variant chosen."""

    at_ns: PageNs
    event: Literal["hold", "choose"]
    held_ns: PageNs | None = None
    variant: Word | None = None


class MarkLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="mark"):
    """A mark by a key or button, from down to up; ``open`` where the page lost the key before it came up."""

    at_ns: PageNs
    label: Annotated[str, msgspec.Meta(pattern=r"^[a-z][a-z0-9_]{0,39}\Z")]
    begin_ns: PageNs
    end_ns: PageNs | None = None
    source: Word = ""
    open: bool = False


class FiringLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="firing"):
    """The outcome of a firing; ``due_ns`` is its place behind its anchor."""

    at_ns: PageNs
    cue: Word
    n: Count
    channel: ChannelName
    role: Role | None = None
    anchor: Word
    due_ns: PageNs
    late_ms: Annotated[float, msgspec.Meta(ge=-1e6, le=1e9)] | None = None
    outcome: Literal["played", "resumed", "skipped"]
    why: Word = ""
    instance: Count = 0
    by: Annotated[tuple[Word, ...], msgspec.Meta(max_length=8)] = ()


class FaultLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="fault"):
    """Something was wrong."""

    at_ns: PageNs
    what: Word
    why: Word = ""


class EndLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="end"):
    """The match was over, or cancelled by a person."""

    at_ns: PageNs
    outcome: Literal["over", "scrapped"]


MatchLine = OriginLine | StateLine | MarkLine | FiringLine | FaultLine | EndLine
_KINDS = frozenset(["source", "header", "origin", "state", "mark", "firing", "fault", "end"])
_decoder = msgspec.json.Decoder(SourceLine | HeaderLine | MatchLine)


class PageMatch(msgspec.Struct, frozen=True, kw_only=True):
    """A match of a record: ``number`` counts from 1, ``sha256`` is of all its lines as they stand in the file."""

    number: int
    header: HeaderLine
    lines: tuple[MatchLine, ...]
    sha256: str

    @property
    def end(self) -> EndLine | None:
        """Its end, None for a page that was closed or read anew during the match."""
        return next((line for line in self.lines if isinstance(line, EndLine)), None)


class PageRecord(msgspec.Struct, frozen=True, kw_only=True):
    """All matches of a file, what their pages were made from, and a sentence for each line that was left out."""

    matches: tuple[PageMatch, ...]
    sources: tuple[SourceLine, ...]
    flaws: tuple[str, ...]


def read_page_record(path: Path) -> PageRecord:
    """Return the matches of a file. Raises UsageError if it cannot be read, MistakeError if it holds no match or is
    larger than any record."""
    try:
        data = read_given(path, MOST_PAGE_BYTES)
    except OSError as error:
        raise UsageError(tr("{path} cannot be read: {reason}", path=path, reason=reason(error))) from error
    try:
        return page_record_of(data)
    except MistakeError as error:
        raise MistakeError(f"{path}: {error}", hint=error.hint) from error


def page_record_of(data: bytes) -> PageRecord:
    """Return the matches of a file's bytes. Raises MistakeError."""
    if data.lstrip()[: len(_HTML)].lower() == _HTML:
        raise MistakeError(
            tr("this is a page itself, not what it saved"), hint=tr("open it in a browser, and save its record"),
        )
    reader = _Reader()
    for number, line in enumerate(io.BytesIO(data.removeprefix(b"\xef\xbb\xbf")), 1):
        if line.strip():
            reader.take(number, line)
    matches = tuple(reader.matches())
    if not matches:
        found = f"; {reader.flaws[0]}" if reader.flaws else ""
        raise MistakeError(tr("no match of an exported page is in this file{found}", found=found), hint=_FIX)
    return PageRecord(matches=matches, sources=tuple(reader.sources), flaws=tuple(reader.flaws))


class _Open(msgspec.Struct):
    """A match whose lines are being read."""

    header: HeaderLine
    digest: "hashlib._Hash"
    lines: list[MatchLine]
    deeds: int = 0
    started_ns: int | None = None


class _Reader:
    """Takes a file's lines in their order."""

    def __init__(self) -> None:
        self.sources: list[SourceLine] = []
        self.flaws: list[str] = []
        self._found: list[_Open] = []
        self._headless = False             # the lines that come are of a match whose header was lost

    def matches(self) -> Iterator[PageMatch]:
        """Yield all matches."""
        for number, one in enumerate(self._found, 1):
            yield PageMatch(
                number=number, header=one.header, lines=tuple(one.lines), sha256=one.digest.hexdigest()
            )

    def take(self, number: int, line: bytes) -> None:
        """Read a line, by its number in the file."""
        try:
            found = _decoder.decode(line) if kind_of(line) in _KINDS else None
        except (msgspec.DecodeError, RecursionError) as error:
            torn = not line.endswith(b"\n")
            self._leave_out(
                tr("line {number} is torn", number=number) if torn
                else tr("line {number} is not a record", number=number),
                "" if torn else error,
            )
            self._headless = self._headless or _is_header(line)
            return
        if isinstance(found, SourceLine):
            self.sources.append(found)
        elif isinstance(found, HeaderLine):
            self._begin(number, found)
        elif found is not None and not self._is_headless(number, found):
            self._add(number, found)
        if self._found and not self._headless and not isinstance(found, SourceLine):
            self._found[-1].digest.update(line.rstrip(b"\r\n") + b"\n")

    def _begin(self, number: int, header: HeaderLine) -> None:
        if header.format != FORMAT:
            what = tr(
                "line {number}: its format is '{readable_line}', and this version reads {format}", number=number,
                readable_line=readable_line(header.format, 40), format=FORMAT,
            )
            raise MistakeError(what, hint=tr("take the version of Tocsin that made the page, or a newer one"))
        if not _is_wall(header.wall):
            raise MistakeError(
                tr(
                    "line {number}: '{readable_line}' is no time of day", number=number,
                    readable_line=readable_line(header.wall, 40),
                ),
                hint=_FIX,
            )
        if len(self._found) == MOST_MATCHES:
            raise MistakeError(
                tr("it has more than {most_matches} matches, the limit", most_matches=MOST_MATCHES),
                hint=tr("cut it in two"),
            )
        self._found.append(_Open(header, hashlib.sha256(), []))
        self._headless = False

    def _is_headless(self, number: int, line: MatchLine) -> bool:
        """Return whether a line is of a match whose header was lost: a match starts once."""
        if not self._headless and self._found and isinstance(line, OriginLine) and line.cause == "start":
            match = self._found[-1]
            match.started_ns = line.at_ns if match.started_ns is None else match.started_ns
            if match.started_ns != line.at_ns:
                self._headless = True
                self._leave_out(tr(
                    "line {number} and what follows is left out: the begin of its match is missing", number=number,
                ))
        return self._headless

    def _add(self, number: int, line: MatchLine) -> None:
        if not self._found:
            self._leave_out(tr("line {number} is before any match", number=number))
            return
        match = self._found[-1]
        if why := _misplaced(line, match.header):
            self._leave_out(tr("line {number} is left out: {why}", number=number, why=why))
            return
        match.deeds += isinstance(line, OriginLine | StateLine | MarkLine)
        if match.deeds > MOST_DEEDS or len(match.lines) == MOST_LINES:
            raise MistakeError(tr("line {number}: no match has so many lines", number=number), hint=_FIX)
        match.lines.append(line)

    def _leave_out(self, what: str, why: object = "") -> None:
        self.flaws.append(f"{what}: {readable_line(str(why))}" if why else what)
        if len(self.flaws) > MOST_FLAWS:
            raise MistakeError(
                tr(
                    "more than {most_flaws} of its lines are not records; {flaws}", most_flaws=MOST_FLAWS,
                    flaws=self.flaws[0],
                ),
                hint=_FIX,
            )


def _is_header(line: bytes) -> bool:
    """Return whether a line that does not fit is a match's header nevertheless."""
    try:
        return kind_of(line) == "header"
    except msgspec.DecodeError:
        return False


def _is_wall(text: str) -> bool:
    try:
        return _WALL.fullmatch(text) is not None and text.isascii() and bool(datetime.fromisoformat(text))
    except ValueError:                                 # the 31st of February
        return False


def _misplaced(line: MatchLine, header: HeaderLine) -> str:
    """Return what is wrong with a line's times, or an empty text."""
    times_ns = [line.at_ns]
    if isinstance(line, OriginLine):
        times_ns += [line.origin_ns, line.starts_ns or line.at_ns]
    elif isinstance(line, MarkLine):
        times_ns += [line.begin_ns, line.begin_ns if line.end_ns is None else line.end_ns]
        if line.end_ns is not None and line.end_ns < line.begin_ns:
            return tr("its end is before its begin")
    elif isinstance(line, StateLine) and line.held_ns is not None:
        times_ns.append(line.held_ns)
    if any(abs(ns - header.at_ns) > _FARTHEST_NS for ns in times_ns):
        return tr("its time is more than a day from the begin of its match")
    return ""
