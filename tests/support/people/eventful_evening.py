"""An evening in which everything happens: refusals, slips, a round again, one scrapped, a crash, and an end."""

import time
from pathlib import Path
from typing import NamedTuple

from tests.support.people.evening import TAP_NS, Evening, rig_text
from tocsin.units import NS_PER_MS, NS_PER_S

# A match of 9 s, invented for this: no contact in the last 3 s and while robots settle.
GAME = """
format = "tocsin-game/1"
name = "Short and sharp"
[[period]]
id = "driver"
kind = "driver"
title = "Hands on"
lasts = "8s"
[[period]]
id = "settle"
kind = "settle"
title = "Robots coast"
lasts = "1s"
[[window]]
id = "no_contact"
title = "No touch"
begin = "driver.end-3s"
end = "settle.end"
"""
PLAN = """
format = "tocsin-plan/1"
name = "Call"
game = "game.toml"
[[cue]]
id = "home"
at = "no_contact.begin-1s"
screen = "home"
say = "Home"
"""
DRILL = """
format = "tocsin-drill/1"
name = "Eventful"
trains = "what people do between rounds"
place = "field"
plan = "plan.toml"
from = "driver.end-4s"
rounds = 5
marks = ["contact", "home", "wrong"]
questions = ["Glasses on?", "Is the field empty?"]
[vary]
setup = ["left", "middle", "right"]
late_start = ["400ms"]
[clean]
keep_off = ["no_contact"]
home = "0s"
"""
COUNT_IN_NS, LATE_NS = 1 * NS_PER_S, 400 * NS_PER_MS
WINDOW_S, MATCH_END_S, BEGINS_S = 5, 8, 4


class Eventful(NamedTuple):
    """What the evening left: both lives of the drill, and what each tried that is refused."""

    before: Evening
    after: Evening
    code: int
    nothing_left: Evening
    nothing_left_code: int
    began_unasked: int                     # rounds that were begun by presses that must be refused
    half_home: str                         # the verdict with the second tap, and after it was taken back
    taken_back: str


class _People:
    """What they do in each round, on one life of the drill; ``played`` counts rounds with a journal."""

    def __init__(self, evening: Evening, played: int) -> None:
        self.evening = evening
        self.played = played

    def start(self) -> int:
        """Say that the field is clear and start; return when the match's zero lies, in real nanoseconds."""
        evening = self.evening
        evening.tap("clear")
        evening.hear("count-in")
        evening.tap("start")
        self.played += 1
        origin_ns: int = evening.await_round(self.played, kind="origin", anchor="match")["origin_ns"]
        return origin_ns

    def await_end(self) -> None:
        """Wait until the round has its end."""
        self.evening.await_round(self.played, kind="end")

    def await_marks(self, count: int) -> None:
        """Wait until the round that runs has so many marks."""
        limit = time.monotonic() + 30
        while sum(row["kind"] == "mark" for row in self.evening.records(self.played - 1)) < count:
            assert time.monotonic() < limit, f"no {count} marks"
            time.sleep(0.02)


def play(folder: Path) -> Eventful:
    """Play the evening."""
    for name, text in (("game", GAME), ("plan", PLAN), ("drill", DRILL), ("rig", rig_text('count_in = "1s"'))):
        (folder / f"{name}.toml").write_text(text, "utf-8")
    before = Evening(folder, str(folder / "drill.toml"), "--rig", str(folder / "rig.toml"), "--seed", "7")
    opened = [before]
    try:
        people = _People(before, 0)
        began = _ask(before)
        half_home, taken_back = _first_round(people)
        _first_round_again(people)
        _second_round(people)
        _third_round(people)
        before.kill()
        after = Evening(folder, "--resume")
        opened.append(after)
        _third_round_again(_People(after, people.played))
        code = after.finish()
        nothing_left = Evening(folder, "--resume")
        opened.append(nothing_left)
        return Eventful(before, after, code, nothing_left, nothing_left.finish(), began, half_home, taken_back)
    finally:
        for evening in opened:
            evening.close()


def _ask(evening: Evening) -> int:
    """Answer the questions, one of them with no at first, and press start too early; return what that began."""
    evening.hear("Glasses on?")
    evening.tap("start")
    evening.hear("answer the safety questions first")
    evening.type("n")
    evening.hear("nothing begins yet")
    evening.type("y")
    evening.hear("Is the field empty?")
    evening.tap("yes")
    evening.hear("Nobody on the field?")
    evening.tap("start")
    evening.hear("say first that the field is clear")
    return len(evening.folders())


def _first_round(people: _People) -> tuple[str, str]:
    """A contact by mistake, taken back; home, then half; that taken back once it is over; then play it again."""
    evening = people.evening
    origin_ns = people.start()
    at_ns = origin_ns + (BEGINS_S + 1) * NS_PER_S
    evening.hold("mark.contact", at_ns, at_ns + TAP_NS)
    evening.hold("undo", at_ns + 400 * NS_PER_MS, at_ns + 400 * NS_PER_MS + TAP_NS)
    for tap_ns in (at_ns + 800 * NS_PER_MS, at_ns + 1300 * NS_PER_MS):
        evening.hold("mark.home", tap_ns, tap_ns + TAP_NS)
    evening.hear("next round")
    half_home = evening.hear("only half").strip()
    evening.tap("undo")
    evening.hear("undone: home half ")
    taken_back = evening.hear("Not judged").strip()
    evening.tap("repeat")
    evening.hear("Round 1 of")
    return half_home, taken_back


def _first_round_again(people: _People) -> None:
    """A contact that is held beyond the end, and a start that comes before the result stands."""
    evening = people.evening
    origin_ns = people.start()
    begin_ns = origin_ns + WINDOW_S * NS_PER_S + 1200 * NS_PER_MS
    evening.hold("mark.contact", begin_ns)
    evening.hear("The result comes")
    evening.tap("start")
    evening.hear("round just over")
    people.await_end()
    evening.release("mark.contact")
    evening.hear("next round")
    evening.tap("start")
    evening.hear("Round 2 of")


def _second_round(people: _People) -> None:
    """Scrapped, so that it comes again; then not counted, for a reason."""
    evening = people.evening
    people.start()
    evening.await_round(people.played, kind="state", event="boundary")
    evening.tap("scrap")
    evening.tap("scrap")
    people.await_end()
    evening.hear("Nobody on the field?")
    people.start()
    evening.hear("next round")
    evening.tap("drop")
    evening.hear("Why not?")
    evening.tap("drop")                    # on second thoughts it counts
    evening.hear("next round")
    evening.tap("drop")
    evening.hear("Why not?")
    evening.type("2")
    evening.hear("Round 3 of")


def _third_round(people: _People) -> None:
    """The other crew, a new battery, and the end of the laptop's power in the middle of the round."""
    evening = people.evening
    evening.tap("crew")
    evening.hear("crew B")
    evening.tap("battery")
    evening.hear("Glasses on?")
    evening.tap("yes")
    evening.hear("Is the field empty?")
    evening.tap("yes")
    evening.hear("Nobody on the field?")
    at_ns = people.start() + BEGINS_S * NS_PER_S + 300 * NS_PER_MS
    evening.hold("mark.contact", at_ns, at_ns + 700 * NS_PER_MS)
    people.await_marks(1)


def _third_round_again(people: _People) -> None:
    """Once more after the crash, asked nothing that was answered tonight, home in time, and then they go."""
    evening = people.evening
    evening.hear("Nobody on the field?")
    origin_ns = people.start()
    home_ns = origin_ns + (BEGINS_S + 1) * NS_PER_S
    evening.hold("mark.home", home_ns, home_ns + TAP_NS)
    evening.hear("next round")
    evening.tap("start")
    evening.hear("Nobody on the field?")
    evening.tap("clear")
    evening.hear("count-in")
    evening.tap("leave")
