"""What single arguments may be: each reader raises ArgumentTypeError with what would fit."""

import argparse
from collections.abc import Callable, Iterable
from pathlib import Path

from tocsin import __version__
from tocsin.config.load import load
from tocsin.errors import UsageError
from tocsin.export.source import Source
from tocsin.journal.people import People
from tocsin.model.clock.lifecycle import MAX_RATE, MIN_RATE
from tocsin.model.plan import CHANNELS, ROLES, ChannelName


def channels(text: str) -> tuple[ChannelName, ...]:
    """Return the channels of a list with commas, in their usual order."""
    names = [name.strip() for name in text.split(",") if name.strip()]
    for name in names:
        if name not in CHANNELS:
            raise argparse.ArgumentTypeError(f"'{name}' is no channel; there are {', '.join(CHANNELS)}")
    if not names:
        raise argparse.ArgumentTypeError(f"name at least one of {', '.join(CHANNELS)}")
    return tuple(name for name in CHANNELS if name in names)


def count(lowest: int, most: int) -> Callable[[str], int]:
    """Return what reads a whole number within these bounds."""

    def read(text: str) -> int:
        if not (text.isdecimal() and lowest <= int(text) <= most):
            raise argparse.ArgumentTypeError(f"'{text}' is no whole number from {lowest} to {most}")
        return int(text)

    return read


def number(lowest: float, most: float, unit: str = "") -> Callable[[str], float]:
    """Return what reads a number within these bounds; ``unit`` is what it counts."""

    def read(text: str) -> float:
        try:
            found = float(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"'{text}' is no number") from None
        if not lowest <= found <= most:
            raise argparse.ArgumentTypeError(f"{text} is not within {lowest:g} to {most:g} {unit}".rstrip())
        return found

    return read


rate = number(MIN_RATE, MAX_RATE)      # match seconds in a second


def people_of(texts: Iterable[str], runs: Path) -> dict[str, str]:
    """Return people's keys by role; new names get a fresh key in the one file that holds names.

    Raises UsageError for a role that does not exist or comes twice, JournalError if the file cannot be written.
    """
    named: dict[str, str] = {}
    for text in texts:
        role, _, name = text.partition("=")
        if role not in ROLES or not name.strip():
            raise UsageError(f"'{text}' is nobody", hint=f"write ROLE=NAME, e.g. driver=Ann; roles: {', '.join(ROLES)}")
        if role in named:
            raise UsageError(f"{role} is given twice", hint="one person a role")
        named[role] = name
    people = People(runs) if named else None
    return {role: people.keep(name) for role, name in named.items()} if people else {}
NO_DEVICES = "nothing"                 # the bundled rig that asks for none


def source_of(plan: str, game: str | None) -> Source:
    """Return a plan compiled in its game, or in ``game``. Raises the errors of ``load``."""
    loaded = load(game, [plan], NO_DEVICES)
    found = loaded.plans[0]
    sums = {file.kind: file.sha256 for file in loaded.files if file.kind in ("game", "plan")}
    return Source(
        game=found.game,
        plan=found.plan,
        timeline=found.timeline,
        game_sha256=sums["game"],
        plan_sha256=sums["plan"],
        version=__version__,
    )
