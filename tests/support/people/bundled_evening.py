"""Evenings of the bundled drills as whole processes: people at a window and virtual pads.

Crews drive as those of the table do (``table_crew.py``), some rounds by other habits. The leader reads the window and
presses what it asks for; the scribe presses keys by the window system. Rests are skipped, which a person may do;
everything else takes no time limit. What the results should be says ``bundled_results.py``.
"""

import random
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from tests.support.channels.screen_stand import Server
from tests.support.people.at_the_window import HELD_S, AtTheWindow, Hands, Stroke
from tests.support.people.bundled_courses import COURSES, CREWS, HABITS, USUAL, Habit
from tests.support.people.photographer import Photographer
from tests.support.people.reckoned_round import MATCH_END_S, Clock
from tests.support.people.table_crew import ORIGIN_NS, round_of
from tests.support.stands.stand import LEDS, Pads, Strip
from tocsin.analysis.rounds.variation import Condition
from tocsin.config.drills import load_drill
from tocsin.features.trial.questions import FLASHES, LOUDNESS
from tocsin.units import NS_PER_MS, NS_PER_S

RIG = """
format = "tocsin-rig/1"
name = "Bundled drills"
drives_robot = false
[start]
by = "count_in"
count_in = "{count_in}s"
[[pad]]
role = "driver"
order = 1
[[pad]]
role = "operator"
order = 2
[[pad]]
role = "coach"
order = 3
[light]
port = "{port}"
leds = {leds}
max_ma = 5000
[sound]
[screen]
fullscreen = true
"""
# The scribe's own three, and what lies beside them for other labels.
MARK_KEYS = {"contact": "7", "turned": "8", "home": "9", "home_half": "0", "moved": "6", "wrong": "0"}
UNDO = "a"
TAP_NS = 90 * NS_PER_MS
NEITHER_NS = (200 * NS_PER_MS, 420 * NS_PER_MS)    # hands hold a key clearly shorter or longer: 0.3 s make a span

class PlayedRound(NamedTuple):
    """A round with its result: the folder of its journal, its number among the results, how it was driven, what the
    window said of it in words, and whether people took it out of the series."""

    folder: Path
    no: int
    habit: Habit
    said: str
    taken_out: bool


class Evening:
    """One evening of a drill: a leader, a scribe and their crews."""

    def __init__(
        self, name: str, folder: Path, rate: float, size: tuple[int, int], seed: int, pictures: Path | None
    ) -> None:
        self._name, self._rate, self._seed = name, rate, seed
        self._course, self._habits = COURSES[name], _shuffled(HABITS[name], seed)
        self._strip, self._pads = Strip(folder), Pads(folder, ("a", "b", "c"))
        rig = folder / "rig.toml"
        count_in = 5 if rate == 1 else 1
        rig.write_text(RIG.format(port=self._strip.link, leds=LEDS, count_in=count_in), "utf-8")
        self._count_in_ns = count_in * NS_PER_S
        self.loaded = load_drill(name, str(rig))
        self._server = Server(size)
        self.photographer = Photographer(self._server, pictures, name)
        self.window = AtTheWindow(
            folder, self._server, self._pads, name, "--rig", str(rig), "--rate", str(rate), "--seed", str(seed)
        )
        self.hands = Hands(self._server)
        self.rounds: list[PlayedRound] = []
        self.starts: dict[Path, Stroke] = {}
        self._begun, self._done_for, self._leaves = 0, 0, 0

    # -- the leader

    def play(self, most: int = 0) -> int:
        """Play to the end, or until ``most`` results are there; return the process's exit code."""
        window, self._leaves = self.window, most or self._course.leaves
        window.wait(lambda: bool(window.prompt), "the window")
        self._server.focus()
        window.wait(lambda: "Click" not in window.rows.get("keys", "Click"), "the keyboard")
        deeds = {
            "question": self._answer, "clear": self._say_clear, "start": self._start, "result": self._take_result,
            "reason": self._give_reason,
        }  # fmt: skip
        while not window.ended:
            window.wait(lambda: self._step() in deeds, "something to do", 400)
            if not window.ended:
                deeds[self._step()]()
        return window.finish()

    def _step(self) -> str:
        prompt = self.window.prompt
        asked = (*self.loaded.drill.questions, FLASHES, LOUDNESS.partition(" (")[0])
        if any(question in prompt for question in asked):
            return "question"
        signs = {"Nobody on the field": "clear", "count-in": "start", "next round": "result",
                 "end of the drill": "result", "Why not?": "reason"}  # fmt: skip
        return next((step for sign, step in signs.items() if sign in prompt), "")

    def _press(self, key: str, until: Callable[[], bool] | None = None) -> None:
        """Press a key, and wait until the window has taken it."""
        window = self.window
        before = dict(window.rows)
        self.hands.tap(key)
        window.wait(until or (lambda: window.rows != before), f"what key {key} does")

    def _answer(self) -> None:
        self.photographer.take("question")
        if not self._begun and "refused" not in self.photographer.taken:
            self._press("n")
            self.photographer.take("refused")
        question = self.window.prompt
        self._press("y", lambda: self.window.prompt != question)

    def _say_clear(self) -> None:
        if not self._change():
            self.photographer.take("card" if self.rounds else "first card")
            self.photographer.take(f"card of round {self._begun + 1}")
            self._press("f", lambda: self._step() != "clear")

    def _change(self) -> bool:
        """Change the crew or the battery where that is due; return whether the window asks for something else now."""
        done, window = len(self.rounds), self.window
        if done in self._course.battery and self._done_for == done:
            self._done_for = -done
            self._press("e", lambda: self._step() == "question")
            return True
        crew = self._course.crews.get(done, "")
        while crew and not any(f"crew {crew}" in text for text in window.card):
            card = window.card
            self._press("w", lambda card=card: window.card != card)
        return False

    # -- a round

    def _start(self) -> None:
        window = self.window
        if self.loaded.drill.place == "bench":
            self._change()
        self.photographer.take("ready")
        self._begun += 1
        pressed = self.hands.tap("s")
        origin = window.await_round(self._begun, kind="origin", anchor="match")
        folder = window.folders()[self._begun - 1]
        self.starts[folder] = pressed
        clock = Clock(origin["origin_ns"], self._rate)
        header = window.records(self._begun - 1)[0]
        begins_ns = pressed.down[1] + self._count_in_ns
        self.photographer.plan("count-in", pressed.down[1] + self._count_in_ns // 2)
        self.photographer.plan("running", begins_ns + NS_PER_S)
        self.photographer.plan_cues(header["timeline"]["firings"], clock, begins_ns)
        if self._begun == self._course.cancels:
            self._cancel(begins_ns + NS_PER_S if self._rate == 1 else 0)
            return
        habit = self._habits[len(self.rounds) % len(self._habits)]
        drive = list(self._drive(Condition(**header["options"]["drill"]["condition"]), habit, clock, begins_ns))
        for at_ns, key, down in sorted(drive):
            time.sleep(max(0, at_ns - time.perf_counter_ns()) / NS_PER_S)
            self.hands.go(key, down=down)
            if not down and key in MARK_KEYS.values():
                self.photographer.plan("mark noted", time.perf_counter_ns() + NS_PER_S // 4)
        window.wait(lambda: self._step() == "result", "the result", 400)
        self.hands.let_go()
        self.rounds.append(PlayedRound(folder, len(self.rounds) + 1, habit, "", False))

    def _cancel(self, at_ns: int) -> None:
        """Cancel the round at a time, or at once: the second press within two seconds counts."""
        time.sleep(max(0, at_ns - time.perf_counter_ns()) / NS_PER_S)
        self.hands.tap("x")
        if at_ns:
            self.photographer.take("cancel asks again")
        while self._step() not in ("clear", "start", "result"):
            self.hands.tap("x")                            # more than once if the camera took too long
            time.sleep(HELD_S)

    def _drive(
        self, condition: Condition, habit: Habit, clock: Clock, begins_ns: int
    ) -> Iterator[tuple[int, str, bool]]:
        """Yield when which key goes down and up, by what the robot does in this round."""
        rng = random.Random(f"{self._seed} {self._name} {len(self.rounds)}")
        seed = rng.randrange(1 << 30)
        _, marks = round_of(self._name, condition, CREWS.get(habit, USUAL), seed)
        taps: list[tuple[int, int | None, str]] = []       # begin, end, key
        for mark in marks:
            begin_ns = clock.real_ns((mark.begin_ns - ORIGIN_NS) / NS_PER_S)
            end_ns = begin_ns + TAP_NS
            if mark.end_ns is not None:
                end_ns = max(end_ns, clock.real_ns((mark.end_ns - ORIGIN_NS) / NS_PER_S))
            if mark.label == "contact" and habit == "never comes near":
                continue
            if mark.label.startswith("home") and habit in ("half by two taps", "not home"):
                continue
            is_last = mark.label == "contact" and habit == "holds on"
            taps.append((begin_ns, None if is_last else end_ns, MARK_KEYS[mark.label]))
        ladder = {"half by two taps": 2, "not home": 3}.get(habit, 0)
        for nth in range(ladder):
            at_ns = clock.real_ns(MATCH_END_S - 2 if ladder == 2 else MATCH_END_S + 0.3) + nth * NS_PER_S // 2
            taps.append((at_ns, at_ns + TAP_NS, MARK_KEYS["home"]))
        if habit == "takes back":
            key = MARK_KEYS[next(label for label in ("contact", "wrong", "turned") if label in self.loaded.drill.marks)]
            slip_ns = begins_ns + 150 * NS_PER_MS
            taps += [(slip_ns, slip_ns + TAP_NS, key), (slip_ns + 3 * TAP_NS, slip_ns + 4 * TAP_NS, UNDO)]
        yield from _by_hand(taps)

    # -- its result

    def _take_result(self) -> None:
        done, window = len(self.rounds), self.window
        if self._done_for != done:
            self._done_for = done
            self.photographer.take(f"result {done}")
            if done in (1, 2, 5, 9):
                self._press("i", lambda: "result 0" in window.rows)
                self.photographer.take(f"details {done}")
                self._say(said=window.rows.get("result 0", ""))
            if says := self._course.says.get(done, ""):
                self._press("r" if says == "repeat" else "d", lambda: self._step() != "result")
                if says != "keep":
                    self._say(taken_out=True)
                return
        leaves = 0 < self._leaves <= done
        is_last = leaves or "end of the drill" in window.prompt
        if is_last:
            self.photographer.take("end")
        self._press("q" if leaves else "s", (lambda: window.ended) if is_last else (lambda: self._step() != "result"))

    def _give_reason(self) -> None:
        self.photographer.take("reason")
        keeps = self._course.says[len(self.rounds)] == "keep"
        self._press("d" if keeps else "2", lambda: self._step() != "reason")

    def _say(self, **changed: Any) -> None:
        self.rounds[-1] = self.rounds[-1]._replace(**changed)

    def close(self) -> None:
        """Leave nothing behind."""
        self.photographer.close()
        self.window.close()
        self._server.close()
        if self._strip.link.exists():
            self._strip.pull_out()

    @property
    def motors(self) -> list[tuple[int, int, int]]:
        """What the driver's pad was told."""
        return self._pads.motors("a")

    @property
    def count_in_ns(self) -> int:
        """How long is counted before a round."""
        return self._count_in_ns

    @property
    def rate(self) -> float:
        """How fast match time goes."""
        return self._rate


def _shuffled(habits: tuple[Habit, ...], seed: int) -> list[Habit]:
    return random.Random(f"habits {seed}").sample(habits, len(habits))


def _by_hand(taps: list[tuple[int, int | None, str]]) -> Iterator[tuple[int, str, bool]]:
    """Yield key downs and ups as one hand can do them: no key goes down before it came up, and what is held is held
    clearly shorter or longer than a span begins."""
    free_ns: dict[str, int] = {}
    for begin_ns, end_ns, key in sorted(taps, key=lambda tap: tap[0]):
        down_ns = max(begin_ns, free_ns.get(key, 0))
        yield down_ns, key, True
        if end_ns is None:
            return                                         # the hand stays where it is: nothing more from it
        up_ns = max(end_ns, down_ns + TAP_NS)
        if NEITHER_NS[0] < up_ns - down_ns < NEITHER_NS[1]:
            up_ns = down_ns + NEITHER_NS[1] + TAP_NS
        free_ns[key] = up_ns + TAP_NS
        yield up_ns, key, False
