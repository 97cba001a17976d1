"""What evenings of the bundled drills came to, round by round beside a reckoning by what hands did.

When keys really went down is known by the hands alone, between two times each. A result is equal if it is that of a
time between the earliest and the latest.
"""

import contextlib
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from tests.support.people.at_the_window import presses
from tests.support.people.bundled_evening import MARK_KEYS, UNDO, Evening, PlayedRound
from tests.support.people.reckoned_round import (
    MATCH_END_S,
    Clock,
    Reckoned,
    Rule,
    apart,
    noted,
    own_limit_ns,
    reckon,
    told,
)
from tests.support.stands.busy import allowed
from tocsin.features.records.round_report import RoundReport, reports_of
from tocsin.journal.reader import read
from tocsin.units import NS_PER_MS, NS_PER_S


class Row(NamedTuple):
    """What an evening came to: rounds by their verdicts, how many are equal to the reckoning, how many lie so near an
    edge that it says two things, what is amiss."""

    drill: str
    rounds: int
    clean: int
    not_clean: int
    unclear: int
    not_counted: int
    equal: int
    near_edge: int
    took_s: float
    amiss: tuple[str, ...]


CALL_S = 114                           # of HOME, by Casting Day and the plans Full and Quiet
# How long before the end of the match a round begins, as the drill's file says.
BEGINS_S = {"Break off": 30, "Missing signal": 30, "Turn": 29, "Fork": 16}
# Of the times in which each key went down, and came up: a busy window may take the one soon and the other late.
_SHARES = tuple((down / 4, up / 2) for down in range(5) for up in range(3))


class _Checked(NamedTuple):
    """A round's reckonings, from the earliest to the latest times of its keys, and what differs."""

    reckoned: list[Reckoned]
    wrong: list[str]

    @property
    def is_near_edge(self) -> bool:
        """Whether the reckonings say several things."""
        return len({one._replace(**_NO_TIMES) for one in self.reckoned}) > 1

    @property
    def turns_ns(self) -> tuple[int, int] | None:
        """The turn at the earliest and the latest, None where a reckoning knows none."""
        known = [one.turn_ns for one in self.reckoned if one.turn_ns is not None]
        return (min(known), max(known)) if len(known) == len(self.reckoned) else None


class _OwnLimits:
    """The limits that the crews of an evening set themselves."""

    def __init__(self) -> None:
        self._turns: dict[str, list[tuple[int, int]]] = {}         # at the earliest and the latest
        self._limits: dict[str, int] = {}

    def wrong(self, crew: str, own_ns: int | None) -> Iterator[str]:
        """Yield what is wrong with the limit of a crew for the round that comes; what was right goes on to hold."""
        turns = self._turns.get(crew, [])
        low, high = (own_limit_ns([pair[which] for pair in turns]) for which in (0, 1))
        before = self._limits.get(crew)
        is_between = None not in (own_ns, low) and low <= own_ns <= high
        is_right = own_ns == before if before else own_ns == low or is_between
        if not is_right:
            yield f"the crew's limit is {own_ns}, reckoned {before or f'{low} to {high}'}"
        if own_ns is not None:
            self._limits[crew] = own_ns

    def add(self, crew: str, turns_ns: tuple[int, int]) -> None:
        """Take a round that counts."""
        self._turns.setdefault(crew, []).append(turns_ns)


def judge(evening: Evening, took_s: float) -> Row:
    """Hold each round's result against a reckoning by what hands did."""
    journals = [read(played.folder) for played in evening.rounds]
    reports = list(reports_of(journals, evening.loaded))
    limits, checked = _OwnLimits(), []
    amiss = [] if len(reports) == len(journals) else [f"{len(journals)} results were seen, {len(reports)} are recorded"]
    for played, report in zip(evening.rounds, reports, strict=False):
        one = _check(evening, played, report, limits)
        amiss += [f"round {played.no} ({played.habit}, {played.folder.name}): {wrong}" for wrong in one.wrong]
        checked.append(one)
    amiss += _asked_wrong(evening.window.history)
    verdicts = [report.result.clean for report in reports]
    return Row(
        evening.loaded.drill.name, len(reports), verdicts.count(True), verdicts.count(False), verdicts.count(None),
        sum(not report.result.counted for report in reports), sum(not one.wrong for one in checked),
        sum(one.is_near_edge for one in checked), took_s, tuple(amiss),
    )  # fmt: skip


_NO_TIMES = dict.fromkeys(
    ("break_off_margin_ns", "turn_ns", "travel_ns", "home_margin_ns", "overlap_ns", "unclear"), None
)


def _check(evening: Evening, played: PlayedRound, report: RoundReport, limits: _OwnLimits) -> _Checked:
    drill = evening.loaded.drill
    rows = [msgspec.json.decode(line) for line in (played.folder / "journal.jsonl").read_bytes().splitlines()]
    facts = rows[0]["options"]["drill"]
    condition, own_ns = facts["condition"], (facts.get("own") or {}).get("turned_ns")
    origin = next(row for row in rows if row["kind"] == "origin" and row["anchor"] == "match")
    clock = Clock(origin["origin_ns"], evening.rate)
    ended_ns = next(row["at_ns"] for row in rows if row["kind"] == "end")
    begin_ns = evening.starts[played.folder].down[0]
    strokes = [one for one in evening.hands.strokes if begin_ns < one.down[0] < ended_ns]
    after_ns = round(allowed(60) * NS_PER_MS)              # until a busy window has taken a key
    actions = {MARK_KEYS[label]: f"mark.{label}" for label in ("home", *drill.marks)} | {UNDO: "undo"}
    hands = [presses(strokes, actions, ended_ns, shares, after_ns) for shares in _SHARES]
    rule = Rule(
        own_ns if drill.clean.turned_own else drill.clean.turned_ns, drill.clean.home_ns, bool(drill.clean.keep_off),
        "home_half" in drill.marks, drill.clean.never,
    )  # fmt: skip
    late = [row["late_ns"] for row in rows if row.get("cue") == "home" and row.get("outcome") == "played"]
    call_ns = clock.real_ns(CALL_S - condition["shift_ns"] / NS_PER_S) + min(late, default=0)
    reckoned = [reckon(noted(done, ended_ns), clock, call_ns, ended_ns, rule) for done in hands]
    slack_ns = after_ns + max((one.down[1] - one.down[0] for one in strokes), default=0)
    checked = _Checked(reckoned, apart(told(report.result), reckoned, slack_ns))
    wrong = checked.wrong
    wrong += _begun_wrong(evening, played, origin, condition, after_ns)
    wrong += _marks_wrong(rows, hands[0], hands[-1])
    wrong += limits.wrong(facts["crew"], own_ns) if drill.clean.turned_own else ()
    wrong += _told_wrong(evening, played, report, is_half=facts["half_speed"])
    if drill.place == "field" and call_ns > origin["starts_ns"]:
        wrong += _felt_wrong(evening, condition, call_ns, ended_ns, after_ns)
    counts = evening.rate == 1 and not facts["half_speed"] and not played.taken_out
    if counts and checked.turns_ns is not None:
        limits.add(facts["crew"], checked.turns_ns)
    return checked


def _told_wrong(evening: Evening, played: PlayedRound, report: RoundReport, *, is_half: bool) -> Iterator[str]:
    """Yield what is wrong with what people were told of a result, and with why it does not count."""
    half = ("driven at half speed",) if is_half else ()
    fast = (f"the clock ran at {evening.rate:g} times its speed",) if evening.rate != 1 else ()
    if report.result.uncounted != half + fast:
        yield f"not counted for {report.result.uncounted}, reckoned {half + fast}"
    kept = report.rows[0].replace("\N{NO-BREAK SPACE}", " ").replace("NOT COUNTED: repeated, ", "NOT COUNTED: ")
    if played.said and played.said != kept:                # a round is repeated only after its result was shown
        yield f"the window said {played.said!r}, the record {report.rows[0]!r}"


def _begun_wrong(
    evening: Evening, played: PlayedRound, origin: dict[str, Any], condition: dict[str, Any], after_ns: int
) -> Iterator[str]:
    """Yield what is wrong with when the round began: the count-in behind the press, and what was dealt on top."""
    start, begins_s = evening.starts[played.folder], 0.0
    if evening.loaded.drill.begin is not None:
        ahead_s = BEGINS_S[evening.loaded.drill.name] + condition["earlier_ns"] / NS_PER_S
        begins_s = MATCH_END_S - ahead_s
    zero_ns = [at + evening.count_in_ns + condition["late_start_ns"] - round(begins_s * NS_PER_S / evening.rate)
               for at in (start.down[0], start.down[1] + after_ns)]  # fmt: skip
    if not zero_ns[0] <= origin["origin_ns"] <= zero_ns[1]:
        yield f"the match began {(origin['origin_ns'] - zero_ns[0]) / NS_PER_S:.3f} s off the press and its count-in"


def _marks_wrong(rows: list[dict[str, Any]], early: list[Any], late: list[Any]) -> Iterator[str]:
    """Yield which marks are not where hands pressed."""
    marks = [row for row in rows if row["kind"] == "mark" and row.get("takes_back") is None]
    pressed = [(one, other) for one, other in zip(early, late, strict=True) if one.action.startswith("mark.")]
    if len(marks) != len(pressed):
        yield f"{len(pressed)} mark keys were pressed, {len(marks)} marks are recorded"
        return
    ordered = sorted(marks, key=lambda row: row["begin_ns"])
    for row, (one, other) in zip(ordered, sorted(pressed, key=lambda pair: pair[0].begin_ns), strict=True):
        if not one.begin_ns <= row["begin_ns"] <= other.begin_ns:
            yield f"mark {row['label']} is {(row['begin_ns'] - one.begin_ns) / NS_PER_S:.3f} s off its key"


def _felt_wrong(
    evening: Evening, condition: dict[str, Any], call_ns: int, ended_ns: int, after_ns: int
) -> Iterator[str]:
    """Yield what is wrong with what the driver's pad was told: the call home as it fell due, or nothing all round."""
    begins_ns = call_ns - 2 * NS_PER_S // max(1, round(evening.rate))
    on_ns = [at_ns for at_ns, low, high in evening.motors if (low or high) and begins_ns <= at_ns < ended_ns]
    if condition["draw_out"] == "rumble":
        if on_ns:
            yield "the pads rumbled in a round without them"
    elif not any(call_ns - after_ns <= at_ns <= call_ns + after_ns for at_ns in on_ns):
        yield "the driver's pad did not rumble as the call home was due"


def _asked_wrong(history: list[dict[str, str]]) -> Iterator[str]:
    """Yield where people were asked about a round while the result of the one before it still stood there."""
    for rows in history:
        prompt = rows.get("prompt", "")
        is_asked = "Nobody on the field" in prompt or "count-in" in prompt
        if is_asked and not any(name.startswith("card") for name in rows):
            yield f"'{prompt}' was asked without a card: {rows}"


def _keep_hands(evening: Evening, path: Path) -> None:
    """Write what hands did beside the journals, so that somebody who doubts a row can reckon again."""
    starts = {folder.name: stroke for folder, stroke in evening.starts.items()}
    rounds = [(played.no, played.folder.name, played.habit) for played in evening.rounds]
    path.write_bytes(msgspec.json.encode({"strokes": evening.hands.strokes, "starts": starts, "rounds": rounds}))


def play_and_judge(
    name: str, folder: Path, rate: float = 1, size: tuple[int, int] = (1366, 768), seed: int = 12,
    pictures: Path | None = None, most: int = 0,
) -> Row:  # fmt: skip
    """Play an evening of a drill, or ``most`` rounds of it, and judge it."""
    began_s = time.monotonic()
    evening = Evening(name, folder, rate, size, seed, pictures)
    with contextlib.closing(evening):
        code = evening.play(most)
        _keep_hands(evening, folder / "hands.json")
        row = judge(evening, time.monotonic() - began_s)
    return row._replace(amiss=(*row.amiss, f"it ended with {code}")) if code else row
