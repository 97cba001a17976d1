"""Define the JSON lines between conductor and service, one typed message each.

Down: ``Open``, ``Play``, ``Show``, ``Record``, ``Answer``, ``Grant``, ``Revoke``, ``Away``. The end of the pipe means
that the conductor is gone. Up: ``Opened``, ``Published``, ``Alive``, ``Connected``, ``Granted``, ``Wish``, ``Marked``.
Nobody waits for an answer: a conductor that is slow, and a service that hangs, hold up nobody but a phone.
"""

from typing import Literal

import msgspec

from tocsin.model.display.status import Status
from tocsin.model.timeline.timeline import Timeline
from tocsin.pipe import line_of, message_of
from tocsin.translation import tr
from tocsin.units import NS_PER_S

Right = Literal["watch", "mark", "steer"]
"""What a board may do, each with what stands before it: see the clock; note marks; start, hold, scrap, call."""
RIGHTS: tuple[Right, ...] = ("watch", "mark", "steer")


ENDED = tr("Tocsin has ended on the laptop")
OLDEST_NS = 3 * NS_PER_S               # an older press is not what somebody wants now
NOTHING = msgspec.Raw(b"null")          # msgspec reads no ``Raw | None``


class Tokens(msgspec.Struct, frozen=True, kw_only=True):
    """The standing tokens, one a right, as 22 characters of base64url (128 bits): kept for 12 h. What is on the screen
    is ``watch`` alone; programs and followers are given ``mark`` or ``steer`` by who can read the state folder."""

    watch: str
    mark: str
    steer: str


class Board(msgspec.Struct, frozen=True, kw_only=True):
    """A phone that was here: its ``number`` (``board 2`` in records), its right, its own token where it was given one
    at the laptop, else empty. ``here`` while a stream of it is open. ``id`` is the random one by which it names itself,
    so that a successor of the service gives it the same number."""

    number: int
    right: Right
    token: str = ""
    here: bool = False
    id: str = ""


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """An action that may be wished now, what it does in the words of the keys' help, and whether it asks twice
    (``sure``). Marks stand here too, as ``mark.contact``."""

    action: str
    does: str
    sure: bool = False


class Open(msgspec.Struct, frozen=True, tag="open"):
    """First line: where to listen and what to serve. ``host`` is one address of this laptop, ``port`` 0 any free one;
    if ``port`` is taken a free one is. ``hosts`` are the names by which browsers may call it (``Host``), without port.
    ``page`` is the board as HTML, without data; ``policy`` its Content-Security-Policy. ``boards`` are those known.
    ``broker`` is the address of one that the run is published to as well, or empty."""

    host: str
    port: int
    hosts: tuple[str, ...]
    tokens: Tokens
    page: str
    policy: str
    version: str
    boards: tuple[Board, ...] = ()
    broker: str = ""


class Play(msgspec.Struct, frozen=True, tag="play"):
    """What is played from now on: the run's number in this program, its timeline, and the export's JSON document of the
    plan (``tocsin-export/2``) as it is served. ``ahead`` is the header that the run's journal would begin with now:
    until the run has its own, followers get it as the first of its records, so that they load the files in standby."""

    run: int
    timeline: Timeline
    document: msgspec.Raw
    ahead: msgspec.Raw = NOTHING


class Show(msgspec.Struct, frozen=True, tag="show"):
    """The run's status, and what may be wished now; only the newest counts."""

    run: int
    status: Status
    can: tuple[Offer, ...] = ()


class Record(msgspec.Struct, frozen=True, tag="record"):
    """One record of a run's journal as it is appended, its header among them: the journal's own JSON."""

    run: int
    record: msgspec.Raw


class Answer(msgspec.Struct, frozen=True, tag="answer"):
    """What became of a wish or mark: taken or not, and the sentence that people read at the laptop."""

    id: str
    taken: bool
    text: str = ""


class Grant(msgspec.Struct, frozen=True, tag="grant"):
    """A second code is on the laptop's screen until ``until_ns`` on the shared clock: whoever shows ``secret`` to the
    service before that is given ``right`` and a token of its own, once. An empty secret closes it."""

    secret: str
    right: Right
    until_ns: int


class Revoke(msgspec.Struct, frozen=True, tag="revoke"):
    """All rights that were given to phones at the laptop are taken back: they watch."""


class Away(msgspec.Struct, frozen=True, tag="away"):
    """Nothing is played until the next ``Show``: ``text`` is the sentence for boards. It ``ends`` the program, or
    something else is being set up."""

    text: str
    ends: bool = False


Down = Open | Play | Show | Record | Answer | Grant | Revoke | Away


class Opened(msgspec.Struct, frozen=True, tag="opened"):
    """The service listens at ``address`` (``http://10.0.0.5:8737/``), or, with an empty one, does not: ``why``."""

    address: str
    why: str = ""


class Published(msgspec.Struct, frozen=True, tag="published"):
    """The run is published at the broker's ``place`` from now on, or, with an empty one, is not: ``why``."""

    place: str = ""
    why: str = ""


class Alive(msgspec.Struct, frozen=True, tag="alive"):
    """A sign of life, once a second."""

    now_ns: int


class Connected(msgspec.Struct, frozen=True, tag="connected"):
    """All boards that are known, whenever one comes, leaves or is given a right; ``programs`` counts other streams."""

    boards: tuple[Board, ...]
    programs: int = 0


class Granted(msgspec.Struct, frozen=True, tag="granted"):
    """The second code was used: this board has its right and token now, for a successor of this service to know."""

    board: Board


class Wish(msgspec.Struct, frozen=True, tag="wish"):
    """A board asks for an action of the keys (``start``, ``hold``, ``resume``, ``call.home``, ``undo`` …) as of
    ``at_ns``, the finger's instant on the shared clock, known to ± ``error_ns``. ``source`` is ``board 2`` or
    ``program``; ``sure`` that it was asked twice. ``id`` is random: a repeat gets the first answer."""

    id: str
    run: int
    action: str
    at_ns: int
    error_ns: int
    source: str
    sure: bool = False


class Marked(msgspec.Struct, frozen=True, tag="marked"):
    """A board notes a mark: ``label`` as a key's name has it (``contact``, ``contact_by_partner``), a finger's down and
    up on the shared clock, ``end_ns`` None for one who reports no up."""

    id: str
    run: int
    label: str
    begin_ns: int
    end_ns: int | None
    error_ns: int
    source: str


Up = Opened | Published | Alive | Connected | Granted | Wish | Marked

_down: msgspec.json.Decoder[Down] = msgspec.json.Decoder(Down)
_up: msgspec.json.Decoder[Up] = msgspec.json.Decoder(Up)


def encode(message: Down | Up) -> bytes:
    """Return one line of JSON."""
    return line_of(message)


def decode_down(line: bytes) -> Down:
    """Return the message of a line to the service. Raises MessageError for any line that is none."""
    return message_of(_down, line)


def decode_up(line: bytes) -> Up:
    """Return the message of a line from the service. Raises MessageError for any line that is none."""
    return message_of(_up, line)
