"""Define what is heard of a keeper, however it comes. Pure."""

import json
from typing import NamedTuple, TypeVar

import msgspec

from tocsin import __version__
from tocsin.model.clock.exchange import Exchange
from tocsin.readable import readable_line
from tocsin.service.bodies import RunSoFar, State
from tocsin.translation import tr

T = TypeVar("T")
NO_ANSWER = (msgspec.DecodeError, RecursionError, ValueError)      # what ``as_kind`` raises for what no keeper says


class RecordLine(NamedTuple):
    """A record that the keeper wrote: of which run, and its line. The run may have had it when it was fetched."""

    run: int
    line: bytes


class Refusal(NamedTuple):
    """Why this keeper cannot be followed, in a sentence, and what helps. It may change: it is asked again."""

    why: str
    hint: str


class KeeperName(NamedTuple):
    """The random word of the keeper that a field belongs to from now on: what is heard next is that one's."""

    name: bytes


Heard = Exchange | RunSoFar | RecordLine | State | Refusal | KeeperName


class RefusedError(Exception):
    """A keeper lets nobody in, or nobody like us; ``hint`` says what helps."""

    def __init__(self, why: str, hint: str) -> None:
        super().__init__(why)
        self.hint = hint


def as_kind(body: bytes, kind: type[T]) -> T:
    """Return an answer's body as what it should be. Raises one of ``NO_ANSWER``."""
    return msgspec.json.decode(body, type=kind)


def run_of(body: bytes) -> RunSoFar:
    """Return the run that a keeper sent. Raises RefusedError if it has another version, one of ``NO_ANSWER``."""
    if (version := _version_of(body)) != __version__:
        raise RefusedError(
            tr(
                "the keeper has Tocsin {version}, this laptop has {own}", version=readable_line(version, 40),
                own=__version__,
            ),
            tr("both need the same version: install it on one of them"),
        )
    return as_kind(body, RunSoFar)


def _version_of(body: bytes) -> str:
    """Return the keeper's version: all else of another version's answer may look otherwise."""
    found = json.loads(body)
    version = found.get("version") if isinstance(found, dict) else None
    return version if isinstance(version, str) else "?"
