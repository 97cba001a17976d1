"""A mistake found in a game, plan, rig or drill: a code, where it stands, what its sentence needs.

The sentences themselves stand in one table, ``tocsin.config.toml.messages``.
"""

import msgspec

Path = tuple[str | int, ...]


class Mistake(msgspec.Struct, frozen=True, kw_only=True):
    """One mistake. ``path`` leads to the value, e.g. ``("cue", 3, "at")``; ``span`` marks the part of the text within
    that value (columns from 0, half open), or None for all of it; ``facts`` fill the message's placeholders."""

    code: str
    file: str                      # "game", "plan", "rig" or "drill": which of the files the path belongs to
    path: Path
    span: tuple[int, int] | None = None
    facts: dict[str, str] = {}
