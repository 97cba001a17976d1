"""Define how a language of robot code says things in the text at its top."""

from collections.abc import Callable

import msgspec

FUNCTIONS = (
    "restart", "poll", "call", "choose", "clock_lost", "official", "busy", "level", "light", "led", "tone", "begin",
    "roll", "waits", "over", "sync",
)  # fmt: skip


class Dialect(msgspec.Struct, frozen=True, kw_only=True):
    """How a language says things: its name, where the file goes, what precedes constants, how the code's functions are
    spelled (those that are as in ``FUNCTIONS`` are left out), how a text becomes a comment, and the lines, each with a
    remark, that wire it into a main loop: once, at each match, round and round. In those stand ``{period}``, and in
    their parts of their own ``{role}`` and ``{call}``. ``light``, ``tone`` and ``one_clock`` are lines for whoever has
    a strip, a loudspeaker, or a start button and no periods."""

    language: str
    place: str
    prefix: str
    spelled: dict[str, str]
    comment: Callable[[str], str]
    wiring: tuple[tuple[str, str], ...]
    each_role: tuple[str, str]
    by_hand: tuple[tuple[str, str], ...]
    light: tuple[tuple[str, str], ...]
    tone: tuple[tuple[str, str], ...]
    one_clock: tuple[tuple[str, str], ...]
