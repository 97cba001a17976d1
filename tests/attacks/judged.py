"""What a journal says about a match that nobody disturbed: is it whole, and what was lost."""

import json
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

NOT_WANTED = {"outranked", "crossed", "given"}       # reasons that a plan gives, not a machine
OF_THE_SYSTEM = {"priority"}                         # whether the system grants a priority is its own affair
RESTARTED = "restarted"


class Judged(NamedTuple):
    """What is amiss: ``torn`` or missing lines, records of ``lost`` firings, workers ``restarted``, other faults."""

    torn: list[str]
    lost: list[dict[str, Any]]
    restarted: list[str]
    faults: list[str]


def judged(journal: Path) -> Judged:
    """Judge a journal that should be whole."""
    torn, records = _read(journal)
    firings = [record for record in records if record["kind"] == "firing"]
    faults = [record for record in records if record["kind"] == "fault" and record["what"] not in OF_THE_SYSTEM]
    words = [f"{fault['channel'] or 'conductor'}: {fault['what']}: {fault.get('why', '')}"[:300] for fault in faults]
    again = [fault["what"] == RESTARTED for fault in faults]
    return Judged(
        torn=[*torn, *_incomplete(records, firings)],
        lost=[one for one in firings if one["outcome"] in ("skipped", "failed") and one.get("why") not in NOT_WANTED],
        restarted=[word for word, is_again in zip(words, again, strict=True) if is_again],
        faults=[word for word, is_again in zip(words, again, strict=True) if not is_again],
    )


def ended(journal: Path) -> bool:
    """Return whether the journal has its end."""
    return any(record["kind"] == "end" for record in _read(journal)[1])


def _read(journal: Path) -> tuple[list[str], list[dict[str, Any]]]:
    torn, records = [], []
    for number, text in enumerate(journal.read_text("utf-8").splitlines(), 1):
        try:
            records.append(json.loads(text))
        except json.JSONDecodeError:
            torn.append(f"line {number} of the journal is no record")
    return torn, records


def _incomplete(records: list[dict[str, Any]], firings: list[dict[str, Any]]) -> list[str]:
    """Return what a whole journal of a match without calls and marks would have and this one lacks."""
    found = [] if records and records[0]["kind"] == "header" else ["no header at the journal's begin"]
    kinds = Counter(record["kind"] for record in records)
    found += [f"no {kind} in the journal" for kind in ("origin", "end") if not kinds[kind]]
    ends = [record["outcome"] for record in records if record["kind"] == "end"]
    found += [f"the match ended as {outcome}" for outcome in ends if outcome != "over"]
    if found:
        return found
    expected = {one["no"] for one in records[0]["timeline"]["firings"] if one["match_ns"] is not None}
    told = Counter(one["no"] for one in firings)
    if missing := sorted(expected - set(told)):
        found.append(f"firings without a record: {missing}")
    if twice := sorted(no for no, count in told.items() if count > 1):
        found.append(f"firings with several records: {twice}")
    return found
