"""Parse single arguments; each parser raises ArgumentTypeError with the values that would fit."""

import argparse
from collections.abc import Callable

from tocsin.errors import UsageError
from tocsin.journal.place import state_folder
from tocsin.model.clock.lifecycle import MAX_RATE, MIN_RATE
from tocsin.model.plan import CHANNELS, ChannelName
from tocsin.runner.boards.addresses import HERE, wanted_of
from tocsin.runner.boards.tokens import forget_tokens
from tocsin.translation import tr


def channels(text: str) -> tuple[ChannelName, ...]:
    """Return the channels of a comma-separated list, in their usual order."""
    names = [name.strip() for name in text.split(",") if name.strip()]
    for name in names:
        if name not in CHANNELS:
            raise argparse.ArgumentTypeError(tr(
                "'{name}' is not a channel; there are {channels}", name=name, channels=", ".join(CHANNELS),
            ))
    if not names:
        raise argparse.ArgumentTypeError(tr("name at least one of {channels}", channels=", ".join(CHANNELS)))
    return tuple(name for name in CHANNELS if name in names)


def count(lowest: int, most: int) -> Callable[[str], int]:
    """Return the parser of a whole number within these bounds."""

    def read(text: str) -> int:
        if not (text.isdecimal() and lowest <= int(text) <= most):
            raise argparse.ArgumentTypeError(tr(
                "'{text}' is not a whole number from {lowest} to {most}", text=text, lowest=lowest, most=most,
            ))
        return int(text)

    return read


def number(lowest: float, most: float, unit: str = "") -> Callable[[str], float]:
    """Return the parser of a number within these bounds, counted in ``unit``."""

    def read(text: str) -> float:
        try:
            found = float(text)
        except ValueError:
            raise argparse.ArgumentTypeError(tr("'{text}' is not a number", text=text)) from None
        if not lowest <= found <= most:
            limits = tr("{lowest:g} to {most:g} {unit}", lowest=lowest, most=most, unit=unit).rstrip()
            raise argparse.ArgumentTypeError(tr("{text} is not within {limits}", text=text, limits=limits))
        return found

    return read


def evenings(text: str) -> int:
    """Return a number of evenings."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            tr("expected a number of evenings, e.g. 12, not '{text}'", text=text)
        ) from None


def _board(text: str) -> str:
    """Return where boards are served, as it was given. Raises UsageError for what is no such place."""
    wanted_of(text)
    return text


def board_of(given: argparse.Namespace) -> str:
    """Return where boards are to be served, nowhere if empty; forget the earlier tokens if that is asked for."""
    if given.new_token:
        if not given.board:
            raise UsageError(tr("--new-token goes with --board"), hint=tr("e.g. --board lan --new-token"))
        forget_tokens(state_folder())
    board: str = given.board or ""
    return board


def add_board(parser: argparse.ArgumentParser) -> None:
    """Add the options by which phones and programs see and steer what is played."""
    parser.add_argument(
        "--board", nargs="?", const=HERE, type=_board, metavar="lan|ADDRESS",
        help=tr("let phones see and steer it: in this laptop's network (lan), at one address, or on this laptop alone"),
    )
    parser.add_argument("--new-token", action="store_true", help=tr("with --board: earlier phones scan the code again"))


rate = number(MIN_RATE, MAX_RATE)      # match seconds in a second
