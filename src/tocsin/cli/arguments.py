"""Parse single arguments; each parser raises ArgumentTypeError with the values that would fit."""

import argparse
from collections.abc import Callable

from tocsin.model.clock.lifecycle import MAX_RATE, MIN_RATE
from tocsin.model.plan import CHANNELS, ChannelName
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


rate = number(MIN_RATE, MAX_RATE)      # match seconds in a second
