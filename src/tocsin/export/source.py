"""Define the source of every export, and the lines at its top that name it."""

import re

import msgspec

from tocsin.model.game import Game
from tocsin.model.plan import Plan
from tocsin.model.timeline.timeline import Timeline
from tocsin.translation import tr

MADE_BY = tr("Made by Tocsin")             # stands in every export: only such a file is ever replaced


class SourceFile(msgspec.Struct, frozen=True, kw_only=True):
    """A file that a plan was compiled from: ``kind`` is game, plan or patterns, ``sha256`` is of its text in UTF-8."""

    kind: str
    name: str
    sha256: str
    text: str


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """A plan compiled in its game; the SHA-256 of both files; the version of Tocsin that exports it; all ``files``, for
    those exports whose record is read back."""

    game: Game
    plan: Plan
    timeline: Timeline
    game_sha256: str
    plan_sha256: str
    version: str
    files: tuple[SourceFile, ...] = ()

    @property
    def title(self) -> str:
        """The names of game and plan."""
        return f"{self.game.name}: {self.plan.name}"

    @property
    def origin_lines(self) -> tuple[str, ...]:
        """The lines that name an export's source. Equal inputs give equal lines: there is no date in them."""
        return (
            tr(
                "{made_by} {version}. Do not edit: change the plan and export it again.", made_by=MADE_BY,
                version=self.version,
            ),
            tr("game: {name} (sha256 {game_sha256})", name=self.game.name, game_sha256=self.game_sha256),
            tr("plan: {name} (sha256 {plan_sha256})", name=self.plan.name, plan_sha256=self.plan_sha256),
        )

    def short_origin_lines(self, digits: int) -> tuple[str, ...]:
        """Return the origin lines, of each digest so many hexadecimal digits."""
        digest = re.compile(rf"(?<=sha256 )([0-9a-f]{{{digits}}})[0-9a-f]+")
        return tuple(digest.sub(r"\1…", line) for line in self.origin_lines)


CAUTIONS = (
    tr("No cue stops a robot. No cue allows you onto the field. The referee's clock and word decide."),
    tr("The event's rules come first: ask before you use it there, each time."),
)
