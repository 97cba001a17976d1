"""A team's whole matches at the keys of the real programme, on a clock of the test's own: a driver and a scribe.

What they press is kept as their hands' log, so that a result can be held against it (``reckoned_round.py``); the same
hands write a video's table, which knows no lateness of fingers but the video's own frames.
"""

import random
from pathlib import Path
from typing import NamedTuple

from tests.support.people.drive_team import Deed, Driver, Habit, Scribe
from tests.support.people.evening import Press
from tests.support.people.reckoned_round import Clock, Reckoned, Rule, noted, reckon
from tests.support.runner.stage_stand import NOW_NS, Desk, stage_for
from tocsin.config.load import load
from tocsin.features.records.matches import Matches
from tocsin.journal import records
from tocsin.model.timeline.timeline import MATCH
from tocsin.runner.options import RunOptions
from tocsin.runner.programme import Programme
from tocsin.units import NS_PER_S as S

KEYS = {"contact": "7", "turned": "8", "home": "9"}
TAP_NS = S // 16
DRIVER_S, CALL_S, END_S = 39, 114, 136           # of the bundled Casting Day and its plan
FROM_S = 102                           # from here on they push
MATCH_RULE = Rule(turned_ns=None, home_ns=0, half_counts=True)
OPTIONS = RunOptions(plans=("full",), rig="nothing", start="key")


class PlayedMatch(NamedTuple):
    """A match that has ended: its folder, when match time was zero, when the call landed and the run ended, what hands
    did."""

    folder: Path
    origin_ns: int
    call_ns: int
    ended_ns: int
    deeds: list[Deed]
    presses: list[Press]

    @property
    def reckoned(self) -> Reckoned:
        """What the hands' log comes to."""
        marks = noted(self.presses, self.ended_ns)
        return reckon(marks, Clock(self.origin_ns, 1), self.call_ns, self.ended_ns, MATCH_RULE)

    def video_table(self) -> str:
        """Return what hands did as a table of a video's times, which begins with the match."""
        rows = [
            f"{deed.begin_s:.3f},{deed.label},{'' if deed.end_s is None else f'{deed.end_s:.3f}'}"
            for deed in self.deeds
        ]
        return "\n".join(["time,label,until", *rows, ""])

    def robots_log(self) -> str:
        """Return what the robot's own program writes when it gives the call home on time."""
        ms = (CALL_S - DRIVER_S) * 1000
        return f"TOCSIN1 period=driver ms={ms} cue=home n=0 role=driver outcome=played\n"


def match_desk(folder: Path, programme: Programme | None = None) -> Desk:
    """Return a person at the keys of a match in standby."""
    programme = programme or Matches(load(None, OPTIONS.plans, OPTIONS.rig), OPTIONS)
    return Desk(programme, stage_for(programme, OPTIONS, folder))


def play(desk: Desk, habit: Habit, seed: int, *, hands: bool = True) -> PlayedMatch:
    """Play the match that stands to its end, as a driver of this habit does and, with ``hands``, a scribe notes it."""
    rng = random.Random(f"{seed} {habit}")
    deeds = Scribe(rng).note(Driver(rng).drive(habit, FROM_S, CALL_S, END_S))
    desk.press("s")
    while desk.phase != "running":
        desk.after(0.25)
    match = desk.stage.match
    origins = [one for one in match.record.kept if isinstance(one, records.OriginRecord) and one.anchor == MATCH]
    origin_ns = origins[-1].origin_ns
    assert origin_ns is not None
    presses = [_press(deed, origin_ns) for deed in deeds if hands]
    moves = [(press.begin_ns, press, True) for press in presses]
    moves += [(press.end_ns or press.begin_ns, press, False) for press in presses]
    call_ns = origin_ns + CALL_S * S
    _until(desk, call_ns, [move for move in moves if move[0] <= call_ns])
    _give_the_call(desk)
    _until(desk, 0, [move for move in moves if move[0] > call_ns])
    desk.end_match()
    ended_ns = desk.now_ns
    folder = match.record.path
    assert folder is not None
    desk.stage.last_folder = folder
    return PlayedMatch(folder, origin_ns, call_ns, ended_ns, deeds, presses)


def _press(deed: Deed, origin_ns: int) -> Press:
    begin_ns = origin_ns + round(deed.begin_s * S)
    end_ns = begin_ns + TAP_NS if deed.end_s is None else origin_ns + round(deed.end_s * S)
    return Press(f"mark.{deed.label}", begin_ns, end_ns)


def _until(desk: Desk, at_ns: int, moves: list[tuple[int, Press, bool]]) -> None:
    for when_ns, press, down in sorted(moves, key=lambda move: move[0]):
        desk.at((when_ns - NOW_NS) / S)
        key = KEYS[press.action.removeprefix("mark.")]
        desk.actions.key(key, when_ns, max(when_ns, desk.now_ns), down=down)
    if at_ns:
        desk.at((at_ns - NOW_NS) / S)


def _give_the_call(desk: Desk) -> None:
    """Report the call home as a device would that gave it on time."""
    match = desk.stage.match
    home = next(one for one in match.timeline.firings if one.cue == "home" and one.begin.anchor == MATCH)
    match.record.add(
        records.FiringRecord(
            at_ns=desk.now_ns, cue="home", n=home.n, channel=home.channel, role=home.role, anchor=MATCH,
            due_ns=home.begin.offset_ns, match_ns=home.match_ns, late_ns=0, took_ns=0, outcome="played", no=home.no,
        )
    )  # fmt: skip
