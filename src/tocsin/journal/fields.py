"""Say what each field of a journal holds: structure, the key of a person, a path, a label, or other words of people.

Names are searched only in labels, words and paths. A word that a program reads back, such as ``light`` or ``coach``, is
structure, even if somebody is called so.
"""

import hashlib
from collections.abc import Callable, Mapping
from typing import Any, Literal, get_args

import msgspec

from tocsin.journal import records
from tocsin.journal.toml_words import with_words
from tocsin.model.timeline import point, timeline

Holds = Literal["structure", "person", "label", "words", "short words", "path", "file", "note"]
WORDS: tuple[Holds, ...] = ("label", "words", "short words", "path")      # where names are looked for
Rule = Holds | type | Mapping[str, Any]
Visit = Callable[[Holds, str], str]    # what a text holds and the text -> what is to stand there

S: Holds = "structure"
# A header's options: those of a run, and the facts of what it is part of. Unknown ones are structure.
OPTIONS: Mapping[str, Rule] = {
    "game": "path", "plans": "path", "rig": "path", "runs": "path", "label": "label", "from_moment": S, "start": S,
    "rate": S, "screen": S, "only": S, "devices": S, "asked": S, "people": "person", "roster": "person",
    "plan_no": S, "source": S, "page": S, "at": S, "match": S, "patterns": "path", "language": S,
    "board": S, "board_run": S, "follows": S,
    "drill": {
        "name": "words", "key": S, "seed": S, "round": S, "crew": S, "battery": S, "half_speed": S, "condition": S,
        "own": S,
    },
    "reaction": {
        "key": S, "person": "person", "role": S, "seed": S, "full": S, "block": S, "blocks": S, "plan": "words",
        "plan_sha256": S, "trials": S, "latency_ns": S,
    },
}  # fmt: skip
# Notes whose text is read back: how well somebody steered in a reaction test.
READ_BACK = ("steering",)
FIELDS: Mapping[type, Mapping[str, Rule]] = {
    records.Header: {
        "at_ns": S, "format": S, "wall": S, "boot": S, "versions": S, "options": OPTIONS, "label": "label",
        "files": records.FileRecord, "timeline": timeline.Timeline, "workers": records.Worker,
        "utc_offset_s": S, "packages": S,
    },
    records.FileRecord: {"name": "path", "sha256": S, "text": "file"},
    records.Worker: dict.fromkeys(("channel", "pid", "started_s"), S),
    records.OriginRecord: {
        **dict.fromkeys(
            ("at_ns", "anchor", "origin_ns", "rate", "cause", "error_ms", "instance", "starts_ns", "early_ms",
             "gives"), S
        ),
        "follows": records.Follows,
    },
    records.Follows: dict.fromkeys(("offset_ns", "error_ns"), S),
    records.State: dict.fromkeys(("at_ns", "states", "event", "refused", "variant", "held_ns", "source"), S),
    records.FiringRecord: dict.fromkeys(
        ("at_ns", "cue", "n", "channel", "role", "anchor", "due_ns", "match_ns", "late_ns", "took_ns", "outcome", "why",
         "no", "instance", "by"), S
    ),
    records.MarkRecord: dict.fromkeys(
        ("at_ns", "label", "begin_ns", "end_ns", "role", "by", "source", "takes_back", "open", "error_ns",
         "pointlike"), S
    ),
    records.Device: {
        "at_ns": S, "channel": S, "state": S, "name": "words", "why": "words", "role": S, "worker": records.Worker,
        "priority": S,
    },
    records.Fault: {"at_ns": S, "channel": S, "what": S, "why": "words"},
    records.Note: {"at_ns": S, "what": S, "text": "note", "values": S, "source": S},
    records.End: {"at_ns": S, "outcome": S, "exit": S, "why": S, "summary": records.Summary},
    records.Summary: {
        "outcome": S, "exit": S, "journal": "path", "disturbed": S, "channels": records.ChannelSummary,
    },
    records.ChannelSummary: {
        "device": S, "firings": S, "played": S, "resumed": S, "skipped": S, "failed": S, "restarts": S, "faults": S,
        "priority": S, "lateness_ms": records.Lateness, "by_hand": S, "skipped_why": S, "troubles": "words",
    },
    records.Lateness: dict.fromkeys(("n", "p50", "p90", "p99", "max"), S),
    timeline.Timeline: {
        "game": "words", "plan": "words", "digits": S, "counts": S, "segments": point.Segment,
        "periods": point.PeriodSlot, "windows": point.WindowSpan, "variants": S, "default_variant": S,
        "firings": timeline.Firing, "leads": S,
    },
    point.Segment: dict.fromkeys(("anchor", "match_ns", "lasts_ns"), S),
    point.PeriodSlot: {"id": S, "kind": S, "title": "words", "anchor": S, "begin_ns": S, "end_ns": S},
    point.WindowSpan: {"id": S, "n": S, "title": "words", "begin": point.Point, "end": point.Point},
    point.Point: dict.fromkeys(("anchor", "offset_ns"), S),
    timeline.Firing: {
        "no": S, "cue": S, "n": S, "channel": S, "role": S, "begin": point.Point, "until": point.Point, "held": S,
        "pattern": S, "word": "words", "late_limit_ns": S, "priority": S, "when": S, "match_ns": S, "lasts_ns": S,
    },
}  # fmt: skip
_BY_KIND = {str(kind.__struct_config__.tag): kind for kind in get_args(records.Record)}


def visited(line: str, visit: Visit) -> str:
    """Return a journal line with each of its texts replaced by ``visit``; an untouched line stays the same to the byte.

    A line that is no record, such as a torn one, counts as words; a record kind of a later version as structure.
    """
    try:
        value = msgspec.json.decode(line)
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        return visit("words", line) if line else line
    if not isinstance(value, dict):
        return visit("words", line)
    kind = _BY_KIND.get(str(value.get("kind")))
    new = _visited(value, kind or S, visit)
    return line if new == value else msgspec.json.encode(new).decode()


def _visited(value: Any, rule: Rule, visit: Visit) -> Any:
    if isinstance(value, list):
        return [_visited(one, rule, visit) for one in value]
    if isinstance(value, dict):
        return _visited_table(value, rule, visit)
    if not isinstance(value, str) or not isinstance(rule, str):
        return value
    if rule == "file":
        return with_words(value, lambda text: visit("words", text), lambda text: visit("short words", text))
    return visit(rule, value)


def _visited_table(value: dict[str, Any], rule: Rule, visit: Visit) -> dict[str, Any]:
    fields = FIELDS.get(rule) if isinstance(rule, type) else rule
    if rule is records.ChannelSummary and "device" not in value:
        return {channel: _visited(one, rule, visit) for channel, one in value.items()}     # one a channel
    if not isinstance(fields, Mapping):
        return {key: _visited(one, rule, visit) for key, one in value.items()}
    rules = {key: fields.get(key, S) for key in value}
    if rules.get("text") == "note":
        rules["text"] = S if value.get("what") in READ_BACK else "words"
    new = {key: _visited(one, rules[key], visit) for key, one in value.items()}
    if rule is records.FileRecord and isinstance(new.get("text"), str) and new["text"] != value["text"]:
        # The reader takes another checksum for a change by hand.
        new["sha256"] = hashlib.sha256(new["text"].encode()).hexdigest()
    return new
