"""Leave out of what is sent what only those who steer may read: what people wrote, and paths. Pure."""

import re
from collections.abc import Mapping
from typing import Any

import msgspec

from tocsin.model.display.status import Status
from tocsin.readable import utf8_json
from tocsin.service.messages import Right

# Of each kind of record the keys without words of people; what stands nowhere here is left out. A header has labels,
# files and names, so nobody is sent it as an event.
_FOR_ALL: Mapping[str, tuple[str, ...]] = {
    "origin": ("anchor", "origin_ns", "rate", "cause", "error_ms", "instance", "starts_ns", "early_ms", "gives"),
    "state": ("states", "event", "refused", "variant", "held_ns", "source"),
    "firing": (
        "cue", "n", "channel", "role", "anchor", "due_ns", "match_ns", "late_ns", "took_ns", "outcome", "why", "no",
        "instance", "by",
    ),
    "mark": (
        "label", "begin_ns", "end_ns", "role", "by", "source", "takes_back", "open", "error_ns", "pointlike",
    ),
    "device": ("channel", "state", "role", "priority"),
    "fault": ("channel", "what"),
    "note": ("what", "values", "source"),
    "end": ("outcome", "exit"),
}  # fmt: skip

_OF_HEADER = ("kind", "at_ns", "format", "wall", "boot", "versions", "timeline", "utc_offset_s")
_PLAYED = ("rate", "language", "plan_no")
_NOT_PLAYED = re.compile(r"""^\s*format\s*=\s*["']tocsin-(?:rig|drill)/""", re.MULTILINE)


class _Kind(msgspec.Struct):
    kind: str


def is_header(record: bytes) -> bool:
    """Return whether a record is a run's header."""
    return msgspec.json.decode(record, type=_Kind).kind == "header"


def record_for_all(record: bytes) -> bytes:
    """Return a record as everybody may read it."""
    whole: dict[str, Any] = msgspec.json.decode(record)
    kind = str(whole.get("kind"))
    shown = ("kind", "at_ns", *_FOR_ALL.get(kind, ()))
    return utf8_json({key: value for key, value in whole.items() if key in shown})


def followed(record: bytes) -> bytes:
    """Return a record as a follower needs it whom nobody asked for a token: of a header what is played, with neither
    people nor labels, and of its files game, plan and patterns, without their folders."""
    if not is_header(record):
        return record_for_all(record)
    header: dict[str, Any] = msgspec.json.decode(record)
    options = {key: value for key, value in header.get("options", {}).items() if key in _PLAYED}
    files = [
        file | {"name": bare_name(file["name"])}
        for file in header.get("files", []) if not _NOT_PLAYED.search(file["text"])
    ]  # fmt: skip
    kept = {key: value for key, value in header.items() if key in _OF_HEADER}
    return utf8_json(kept | {"options": options, "files": files})


def bare_name(name: str) -> str:
    r"""Return a file's name without its folders, whichever system wrote it: where it lies, and in whose home, is its
    laptop's own affair. (Not by pathlib, which a service needs for nothing else.)

    >>> bare_name("/home/somebody/plan.toml"), bare_name(r"C:\Users\somebody\plan.toml")
    ('plan.toml', 'plan.toml')
    """
    return re.split(r"[\\/]", name.rstrip("\\/"))[-1]


def status_for(status: Status, right: Right) -> Status:
    """Return a status for boards: a label is for those only who steer; of the laptop itself, its devices and what is
    said to those who work at it, who only watches is told nothing."""
    found = status.for_boards
    if right == "watch":
        return msgspec.structs.replace(
            found, label="", devices=(), battery="", awake="", notice="", earlier=(), video="", follows="",
        )
    return found if right == "steer" else msgspec.structs.replace(found, label="")
