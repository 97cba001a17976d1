"""Define a finding: what is wrong with a plan or a rig, how serious it is, and where it stands."""

from typing import Literal, NamedTuple

import msgspec

from tocsin.lint.limits import Limit
from tocsin.model.diagnostics import Path
from tocsin.translation import marked

Level = Literal["error", "warning", "advice"]
marked("error", "warning", "advice")
LEVELS: tuple[Level, ...] = ("error", "warning", "advice")
# Those of a code that has just one.
BAD: tuple[Level, ...] = ("error",)
WARN: tuple[Level, ...] = ("warning",)
TELL: tuple[Level, ...] = ("advice",)


class Kind(NamedTuple):
    """The texts of one code. ``levels`` are those that it may have, ``limits`` those that it is compared with."""

    levels: tuple[Level, ...]
    says: str
    why: str
    fix: str
    limits: tuple[Limit, ...]


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One finding. ``path`` leads to its key or value in its file; ``facts`` fill the sentences of
    its code in ``rules``."""

    code: str
    level: Level
    file: Literal["plan", "rig", "drill"] = "plan"
    path: Path
    facts: dict[str, str] = {}
