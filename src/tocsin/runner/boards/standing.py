"""Keep one service of boards through several programmes: the same address, tokens and numbers, and a word between two.

While nothing is played nobody reads what it says, and nobody minds it: the next programme takes that up.
"""

from collections.abc import Callable
from types import TracebackType
from typing import TYPE_CHECKING

from tocsin.model.rig import Rig
from tocsin.service.messages import ENDED
from tocsin.translation import tr

if TYPE_CHECKING:                      # only who asks for boards needs them
    from tocsin.runner.boards.link import Link
    from tocsin.runner.boards.opening import Opening
    from tocsin.workers.service_process import Service

_BETWEEN = tr("The next drill is being set up at the laptop")


class StandingBoards:
    """The boards of an evening. Used in a ``with``: at its end the service leaves with the word ``ended``."""

    def __init__(self) -> None:
        self.ended = ENDED
        self._opening: Opening | None = None
        self._service: Service | None = None

    def __enter__(self) -> "StandingBoards":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._service is not None:
            self._service.leave(self.ended)
            self._service.ended()

    def link(self, board: str, rig: Rig, say: Callable[[str], None]) -> "Link":
        """Return what links a conductor to the service, which is served where the first one asked for. Raises
        UsageError where that cannot be."""
        from tocsin.runner.boards.link import link_maker
        from tocsin.runner.boards.opening import opening_of
        from tocsin.workers.service_process import Service

        if self._opening is None:
            self._opening = opening_of(board, rig, say)
        if self._service is None:
            self._service = Service(_nobody)
        return link_maker(self._opening, self._service, _BETWEEN)


def _nobody() -> None:
    """Wake nobody: nothing is played yet."""
