"""Write cues that belong to no match as files: a game of one period and a plan of numbered cues, each at its moment.

So the runner of a match plays measurements and tests: workers fire these cues on time like any other, and the journal's
header holds the texts, from which the test can be read again.
"""

from collections.abc import Iterable, Mapping, Sequence

import msgspec

from tocsin.config.files import FileText, file_text
from tocsin.config.load import Loaded, load_texts
from tocsin.config.toml.phrases import quoted
from tocsin.model.plan import ChannelName
from tocsin.model.timeline.timeline import Timeline
from tocsin.units import format_clock


class WrittenCue(msgspec.Struct, frozen=True, kw_only=True):
    """A cue ``at_ns`` after the begin: the patterns' names by channel, the word, the roles whose pads shake (none: the
    plan's default), and how late it may come (None: the plan's default).
    """

    id: str
    at_ns: int
    patterns: Mapping[ChannelName, str]
    word: str
    roles: Sequence[str] = ()
    late_limit_ns: int | None = None

    @property
    def text(self) -> str:
        """The cue as TOML."""
        lines = ["[[cue]]", f"id = {quoted(self.id)}", f'at = "match.begin+{format_clock(self.at_ns)}"']
        if self.roles:
            lines.append(f"for = [{', '.join(map(quoted, self.roles))}]")
        lines += [f"{channel} = {quoted(name)}" for channel, name in self.patterns.items()]
        lines.append(f"say = {quoted(self.word)}")
        if self.late_limit_ns is not None:
            lines.append(f'late_limit = "{format_clock(self.late_limit_ns)}"')
        return "".join(f"{line}\n" for line in lines)


class CueSheet(msgspec.Struct, frozen=True, kw_only=True):
    """A game and plan to write: ``by`` is the writing command, ``what`` begins the names of its files ("measured
    game"), ``game`` and ``plan`` are titles for people, ``period`` is the title of its one period, which lasts
    ``lasts_ns``; ``patterns`` are tables of TOML."""

    by: str
    what: str
    game: str
    plan: str
    period: str
    lasts_ns: int
    cues: Sequence[WrittenCue]
    patterns: Iterable[str]

    def loaded(self, rig: FileText) -> Loaded:
        """Return the sheet, ready to play; ``rig`` is the rig's own file. Raises DiagnosticsError if the rig's text is
        no longer valid; the text written here always is."""
        files = [
            file_text("game", f"{self.what} game", self._game()),
            file_text("plan", f"{self.what} plan", self._plan()),
            rig,
        ]
        return load_texts(files)

    def _game(self) -> str:
        return f"""\
# Written by `{self.by}`.

format = "tocsin-game/1"
name = {quoted(self.game)}

[[period]]
id = "all"
kind = "driver"
title = {quoted(self.period)}
lasts = "{format_clock(self.lasts_ns)}"
"""

    def _plan(self) -> str:
        head = f"""\
# Written by `{self.by}`.

format = "tocsin-plan/1"
name = {quoted(self.plan)}
game = {quoted(f"{self.what} game")}
"""
        return "\n".join([head, *(cue.text for cue in self.cues), *self.patterns])


def numbered(prefix: str, cue: str) -> int | None:
    """Return the number of a cue whose id is a prefix and a number; None for any other cue, such as a count-in's.

    >>> numbered("signal_", "signal_12"), numbered("signal_", "count_in")
    (12, None)
    """
    number = cue.removeprefix(prefix)
    return int(number) if cue.startswith(prefix) and number.isdecimal() else None


def hushed(timeline: Timeline) -> Timeline:
    """Return the timeline without times on the nominal match clock: screens announce cues by these, and a test's
    signals must not be announced."""
    firings = (msgspec.structs.replace(firing, match_ns=None) for firing in timeline.firings)
    return msgspec.structs.replace(timeline, firings=tuple(firings))
