"""How a run ends."""

import msgspec

from tocsin.errors import OVER
from tocsin.journal import records


class Ending(msgspec.Struct, frozen=True, kw_only=True):
    """How one run ended; ``exit`` does not count yet what failed in it."""

    outcome: records.RunOutcome
    exit: int = OVER
    why: str = ""
