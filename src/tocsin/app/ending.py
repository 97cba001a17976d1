"""How a run ends."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import msgspec

from tocsin.errors import OVER
from tocsin.journal import records

if TYPE_CHECKING:
    from tocsin.app.conductor import Conductor


class Ending(msgspec.Struct, frozen=True, kw_only=True):
    """How one run ended; ``exit`` does not count yet what failed in it."""

    outcome: records.RunOutcome
    exit: int = OVER
    why: str = ""


OnEnd = Callable[["Conductor", Ending], tuple[str, ...]]
"""Called at each run's end, with the record complete; returns the lines of the result."""
