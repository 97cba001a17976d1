"""Define what goes over HTTP as types, what is sent and what is given; the description is made of them."""

from typing import Annotated, Any, Literal, TypeVar

import msgspec

from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModel
from tocsin.model.timeline.timeline import Timeline
from tocsin.service.messages import Offer, Right

T = TypeVar("T")

# Both bounds of the length beside the pattern: in Python "$" also stands before a newline at the end.
Id = Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{32}$", min_length=32, max_length=32)]
# JavaScript's numbers are rounded above 2^53, which the shared clock passes after 104 days awake: so more is taken.
Instant = Annotated[int, msgspec.Meta(ge=0, le=1 << 62)]
RunNo = Annotated[int, msgspec.Meta(ge=0, le=1 << 31)]
MOST_ERROR_NS = 10_000_000_000         # whoever knows the time less well than this knows nothing of a press
Error = Annotated[int, msgspec.Meta(ge=0, le=MOST_ERROR_NS)]
NAME = "[a-z][a-z0-9_]{0,63}"
Label = Annotated[str, msgspec.Meta(pattern=f"^{NAME}$", min_length=1, max_length=64)]
# All that may come over the network. Never: clear, yes, no, leave, display, preflight, and the keys that give rights.
# What keys do in turn has two names here: hold and resume, drop and keep (a round), details and picture (of a result).
WISHES = (
    "start", "begin", "hold", "resume", "sync", "earlier", "later", "scrap", "undo", "variant", "crew", "battery",
    "repeat", "drop", "keep", "watched", "details", "picture", "mute", "louder", "softer",
)  # fmt: skip
Action = Annotated[
    str,
    msgspec.Meta(
        pattern=rf"^({'|'.join(WISHES)}|call\.{NAME}|plan\.[0-9])$", min_length=1, max_length=80,
    ),
]  # fmt: skip
Secret = Annotated[str, msgspec.Meta(min_length=1, max_length=100)]


class WishBody(msgspec.Struct, frozen=True, kw_only=True):
    """An action that is asked for, as of ``at_ns``, the finger's instant on the keeper's clock, ± ``error_ns``.

    ``id`` is random; the same id again gets the first answer. ``run`` is the one that ``state`` had. ``sure`` says that
    it was asked twice, where the offer wants that.
    """

    id: Id
    run: RunNo
    action: Action
    at_ns: Instant
    error_ns: Error
    sure: bool = False


class MarkBody(msgspec.Struct, frozen=True, kw_only=True):
    """A mark on the keeper's clock: a finger's down and up, ``end_ns`` null where no up is known. It may come late, and
    is then one of its own run."""

    id: Id
    run: RunNo
    label: Label
    begin_ns: Instant
    end_ns: Instant | None
    error_ns: Error


class RightsBody(msgspec.Struct, frozen=True, kw_only=True):
    """The secret of the code that stands at the laptop for ten seconds."""

    secret: Secret


class ClockBody(msgspec.Struct, frozen=True, kw_only=True):
    """A clock exchange asks for nothing."""


class ClockReading(msgspec.Struct, frozen=True, kw_only=True):
    """When the question came and when its answer left, in nanoseconds of the keeper's clock."""

    received_ns: int
    sent_ns: int


class You(msgspec.Struct, frozen=True, kw_only=True):
    """Who asks: the number of the board (``board 2`` in records), 0 for a program, and what its token allows."""

    number: int
    right: Right


class BoardsHere(msgspec.Struct, frozen=True, kw_only=True):
    """How many boards are here, by what they may do."""

    watching: int = 0
    marking: int = 0
    steering: int = 0


class State(msgspec.Struct, frozen=True, kw_only=True):
    """All of a run as it stands at ``now_ns`` of the keeper's clock, for the eyes of who asks. ``can`` is what may be
    wished and marked now. ``view`` holds the words of the screen. ``away`` is why nothing is played and wished any
    more: the laptop's program has ended, or sets the next thing up; empty while it plays."""

    run: int
    now_ns: int
    status: Status
    view: ViewModel
    can: tuple[Offer, ...]
    boards: BoardsHere
    programs: int
    away: str = ""
    you: You


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """One record of the run's journal, as it is written. ``kind`` says which, and so which keys stand beside: origin,
    state, firing, mark, device, fault, note, end. Words that people wrote stand in it for those only who steer."""

    kind: Literal["origin", "state", "firing", "mark", "device", "fault", "note", "end"]
    at_ns: int


class RunSoFar(msgspec.Struct, frozen=True, kw_only=True):
    """What a follower needs: the keeper's version, the timeline, and the records of the run so far, its header first;
    before the start that one which it would have now."""

    run: int
    now_ns: int
    version: str
    timeline: Timeline
    records: tuple[msgspec.Raw, ...]


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """It was done; ``text`` is the sentence that stands at the laptop, often empty."""

    text: str = ""


class Rights(msgspec.Struct, frozen=True, kw_only=True):
    """The board's own token from now on, its number, and what it may do."""

    token: str
    board: int
    right: Right


class Problem(msgspec.Struct, frozen=True, kw_only=True):
    """Why something was not done (RFC 9457). ``detail`` is the sentence for people."""

    title: str
    status: int
    detail: str
    type: Literal["about:blank"] = "about:blank"


def decode(body: bytes, kind: type[T]) -> T:
    """Return a body as its type. Raises msgspec.ValidationError for what does not fit, msgspec.DecodeError or
    RecursionError for what is no JSON.

    JSON knows no integers: ``1.0`` is one by JSON Schema's rule, 2020-12, "Instance Data Model".
    """
    return msgspec.convert(_with_integers(msgspec.json.decode(body)), kind)


def _with_integers(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _with_integers(one) for key, one in value.items()}
    return int(value) if isinstance(value, float) and value.is_integer() else value
