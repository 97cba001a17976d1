"""Reaction tests as whole processes: a person of known answers at a virtual pad, and one at a terminal.

The person's answers are held against the person's own log of when a signal was seen and when the button went down, not
against what was intended: on a busy machine hands of this kind are late, and that is no error of the measurement.
"""

import json
import os
import random
import socket
import statistics
import struct
import subprocess
import sys
import threading
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.support import PROJECT
from tests.support.stands.camera import MISSING, Server
from tests.support.stands.stand import TOCSIN, Strip, rig_file, wait_for
from tocsin.config.load import load_texts
from tocsin.features.reactions.files import facts_of
from tocsin.journal.reader import read
from tocsin.units import NS_PER_MS

pytestmark = pytest.mark.devices

PEOPLE = PROJECT / "tests/support/people"
# Signals are short, so that each is over when the next one comes: here they follow each other sooner than for people.
PLAN = """
format = "tocsin-plan/1"
name = "Short"
game = "bench"
[[cue]]
id = "home"
at = "match.begin"
rumble = "pulse"
light = "lit"
sound = "tick"
say = "Home"
[pattern.rumble.pulse]
steps = [ { strong = 1.0, weak = 1.0, lasts = "200ms" } ]
[pattern.light.lit]
form = "plain"
colours = ["white"]
lasts = "200ms"
[pattern.sound.tick]
steps = [ { hz = 750.0, lasts = "100ms" } ]
"""
RUMBLE, LIGHT, BOTH, CATCH = ["rumble"], ["light"], ["rumble", "light"], []
ORDER = [RUMBLE, LIGHT, BOTH, LIGHT, RUMBLE, CATCH, BOTH, RUMBLE, LIGHT]
WAIT_MS = 250                              # behind a window; far less than people get
SEED = 11
RNG = random.Random(SEED)
# Milliseconds after each signal. One is pressed twice, one a second time after its window, behind one the person
# guesses where nothing comes, one is missed, one comes too soon.
HABITS = [[RNG.gauss(240, 25)] for condition in ORDER if condition]
HABITS[1].append(HABITS[1][0] + 250)
HABITS[2].append(1600.0)
HABITS[4].append(2100.0)                   # 1500 + 250 + 350: 350 into the window of the catch
HABITS[6] = []
HABITS[7] = [40.0]
BIAS_MS, SPREAD_MS = 5.0, 10.0             # what a vigilance test may be off by


class Played(NamedTuple):
    """A block: exit code, result, its journal's rows and folder, the person's log, when the strip lit up."""

    code: int
    result: dict
    rows: list
    folder: Path
    log: list
    lit_ns: list


def told_of_light(strip, port_file, stop):
    """Tell the person of each time that the strip lights up."""
    port = int(wait_for(lambda: port_file.exists() and port_file.read_text("ascii")))
    heard, dark = 0, True
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as voice:
        while not stop.wait(0.002):
            for at_ns, colours in strip.frames[heard:]:
                heard += 1
                lit = any(any(colour) for colour in colours)
                if lit and dark:
                    strip.lit_ns.append(at_ns)
                    voice.sendto(struct.pack("<q", at_ns), ("127.0.0.1", port))
                dark = not lit


@pytest.fixture(scope="module")
def server():
    """A display, where there can be one: the person looks at it and steers nothing."""
    server = None if MISSING else Server((640, 360))
    yield server
    if server is not None:
        server.close()


@pytest.fixture(scope="module")
def played(tmp_path_factory, server):
    folder = tmp_path_factory.mktemp("react")
    strip = Strip(folder)
    strip.lit_ns = []
    plan = folder / "short.toml"
    plan.write_text(PLAN, "utf-8")
    rig = rig_file(folder, strip, pads=True)
    with Path(rig).open("a", encoding="utf-8") as file:
        file.write("[screen]\nfullscreen = true\n")
    env = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")} | {
        "XDG_STATE_HOME": str(folder / "state"), "TOCSIN_BENCH": str(PEOPLE / "person_bench.py"),
        "TOCSIN_BENCH_PERSON": json.dumps(HABITS), "TOCSIN_BENCH_PORT": str(folder / "port"),
        "TOCSIN_BENCH_LOG": str(folder / "person.jsonl"),
    }  # fmt: skip
    env.pop("DISPLAY", None)
    env |= {"DISPLAY": server.name} if server else {}
    order = json.dumps([[condition, WAIT_MS] for condition in ORDER])
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.support.stands.react_child", str(plan), rig, str(folder / "runs"), order],
        cwd=PROJECT, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    stop = threading.Event()
    teller = threading.Thread(target=told_of_light, args=(strip, folder / "port", stop))
    teller.start()
    try:
        out, err = process.communicate(timeout=240)
    finally:
        stop.set()
        teller.join()
        if process.poll() is None:
            process.kill()
    assert out, err
    (journal,) = (folder / "runs").glob("*/journal.jsonl")
    rows = [json.loads(line) for line in journal.read_text("utf-8").splitlines()]
    log = [json.loads(line) for line in (folder / "person.jsonl").read_text("utf-8").splitlines()]
    return Played(process.returncode, json.loads(out), rows, journal.parent, log, strip.lit_ns)


def of_kind(rows, kind):
    return [row for row in rows if row["kind"] == kind]


def signals(played):
    """Return (number of the signal, its trial, what it is) for each signal that was given."""
    given = [no for no, condition in enumerate(ORDER) if condition]
    return [(signal, no, ORDER[no]) for signal, no in enumerate(given)]


def first_press(played, signal):
    """Return the person's own time of the first answer to a signal, in ms, None without."""
    own = [(e["pressed_ns"] - e["seen_ns"]) / NS_PER_MS for e in played.log if e["signal"] == signal]
    return min(own, default=None)


def test_the_person_did_what_was_meant(played):
    """Else the comparisons below would say little."""
    assert played.code == 0
    assert [len([e for e in played.log if e["signal"] == n]) for n in range(len(HABITS))] == [len(h) for h in HABITS]
    late_ms = [first_press(played, n) - HABITS[n][0] for n in range(len(HABITS)) if HABITS[n]]
    assert statistics.median(late_ms) < 30
    assert len(played.lit_ns) == sum("light" in condition for condition in ORDER)


def test_answers_are_measured_as_the_person_gave_them(played):
    """Medians and spread over all answers; hands and eyes of this person are as late as they are."""
    found = [one["ms"] for one in played.result["reactions"] if one["condition"]]
    errors_ms = [
        found[signal] - first_press(played, signal) for signal, _, _ in signals(played) if found[signal] is not None
    ]
    assert len(errors_ms) == 6
    assert abs(statistics.median(errors_ms)) < BIAS_MS
    assert statistics.stdev(errors_ms) < SPREAD_MS


def test_each_trial_is_judged_as_it_was_played(played):
    outcomes = [one["outcome"] for one in played.result["reactions"]]
    expected = ["answer"] * len(ORDER)
    expected[ORDER.index(CATCH)] = "false_start"
    for signal, no, _ in signals(played):
        if not HABITS[signal]:
            expected[no] = "missed"
        elif HABITS[signal][0] < 100:
            expected[no] = "false_start"
    assert outcomes == expected
    assert played.result["scores"]["outside"] == 1
    assert played.result["scores"]["false_starts"] == 3


def test_the_figures_are_those_that_the_journal_comes_to(played):
    """Worked out anew from the journal's lines: when each device was told, and when a button went down."""
    origin_ns = next(row["origin_ns"] for row in of_kind(played.rows, "origin"))
    begins_ns = {}
    for row in of_kind(played.rows, "firing"):
        at_ns = origin_ns + row["due_ns"] + row["late_ns"]
        begins_ns[row["cue"]] = min(at_ns, begins_ns.get(row["cue"], at_ns))
    presses_ns = sorted(row["begin_ns"] for row in of_kind(played.rows, "mark"))
    for score in played.result["scores"]["scores"]:
        times_ms = []
        for no, condition in enumerate(ORDER):
            if condition == score["condition"]:
                begin_ns = begins_ns[f"signal_{no}"]
                after_ms = [(at_ns - begin_ns) / NS_PER_MS for at_ns in presses_ns if at_ns >= begin_ns]
                times_ms.append(min(after_ms))
        answers = [ms for ms in times_ms if 100 <= ms <= 1500]
        assert score["mean_ms"] == pytest.approx(statistics.fmean(answers))
        assert score["missed"] == sum(ms > 1500 for ms in times_ms)
        assert score["false_starts"] == sum(ms < 100 for ms in times_ms)


def test_the_journal_holds_all_that_is_needed_to_judge_again(played):
    journal = read(played.folder)
    assert (journal.flaws, journal.torn, journal.end.outcome) == ((), b"", "over")
    facts = facts_of(journal.header)
    assert [list(one.trial.condition) for one in facts.trials] == ORDER
    assert (facts.person, facts.role, facts.plan) == (played.result["person"], "driver", "Short")
    again = load_texts(journal.header.files).plans[0].timeline
    assert [(f.cue, f.channel, f.begin) for f in again.firings] == [
        (f.cue, f.channel, f.begin) for f in journal.header.timeline.firings if f.cue.startswith("signal")
    ]
    given = sorted((row["cue"], row["channel"]) for row in of_kind(played.rows, "firing") if row["outcome"] == "played")
    assert given == sorted((f"signal_{no}", channel) for no, condition in enumerate(ORDER) for channel in condition)
    assert {row["source"] for row in of_kind(played.rows, "mark")} == {"key pad.driver.0"}
    assert len(of_kind(played.rows, "mark")) == sum(map(len, HABITS))


def test_no_journal_holds_a_name(played):
    names = json.loads((played.folder.parent / "people.json").read_text("utf-8"))["people"]
    assert names == {played.result["person"]: "Ann"}
    assert "Ann" not in (played.folder / "journal.jsonl").read_text("utf-8")


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
def test_who_did_not_steer_is_told_so(played):
    (note,) = [row for row in of_kind(played.rows, "note") if row["what"] == "steering"]
    (steered,) = played.result["steering"]
    assert steered["mean"] == steered["alone"] > 0.1
    assert note["values"]["mean"] == steered["mean"]
    block_s = (facts_of(read(played.folder).header).trials[-1].at_ns + 2_500 * NS_PER_MS) / 1e9
    assert steered["lasts_s"] == pytest.approx(block_s + 2, abs=1.5)         # and what it rings out
    assert any("The marker was let go" in line for line in played.result["lines"])
    assert "noticed later or not at all" in played.result["lines"][-1]


# A person at a terminal.


class AtTheKeys:
    """``tocsin react`` in a terminal; what it says stands on stderr."""

    def __init__(self, folder, *arguments):
        self.runs = folder / "runs"
        self._keyboard, terminal = os.openpty()
        env = {**os.environ, "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(folder / "sound.pcm")}
        env["XDG_STATE_HOME"] = str(folder / "state")
        env.pop("DISPLAY", None)
        self.process = subprocess.Popen(
            [*TOCSIN, "react", "--runs", str(self.runs), "--json", *arguments],
            env=env, stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.said = ""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stderr:
            self.said += line

    def await_words(self, *words):
        """Wait until all of them have been said, in whatever order, since what was awaited last."""
        wait_for(lambda: all(word in self.said for word in words))
        self.said = self.said[max(self.said.index(word) + len(word) for word in words) :]

    def press(self, keys):
        os.write(self._keyboard, keys.encode())

    def finish(self):
        out = self.process.stdout.read()
        return self.process.wait(120), json.loads(out) if out else {}

    def close(self):
        """Leave nothing behind."""
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(10)
        self._reader.join(5)
        self.process.stdout.close()
        self.process.stderr.close()


def sit_through(run):
    """Answer the cautions, practise, rest, play a block and leave; return exit code and result."""
    run.await_words("Is the robot off")
    run.press("s")
    run.await_words("answer the questions first")
    run.press("n")
    run.await_words("fix it, then answer yes")
    run.press("y")
    run.await_words("Is flashing light safe")
    run.press("y")
    run.await_words("so low")
    run.press("y")
    run.await_words("No window, so no steering", "Not there, so not tested: rumble")
    run.press("s")
    run.await_words("when you have rested: block 1 of 2", "Practice: 0 of 6 signals answered")
    run.press("s")
    run.await_words("Block 1 of 2: 5.")
    run.press("s")
    run.await_words("Block 1 of 2: 0 of 35 signals answered")
    run.press("q")
    return run.finish()


def test_a_person_answers_the_cautions_practises_rests_and_leaves_after_a_block(tmp_path, strip):
    """The rig has a strip and a loudspeaker, and pads of which none is there."""
    rig, plan = rig_file(tmp_path, strip, pads=True), tmp_path / "short.toml"
    plan.write_text(PLAN, "utf-8")
    picture = tmp_path / "a.svg"
    arguments = ("--rig", rig, "--plan", str(plan), "--rate", "100", "--seed", "3", "--picture", str(picture))
    run = AtTheKeys(tmp_path, *arguments)
    try:
        code, result = sit_through(run)
    finally:
        run.close()
    assert code == 0, run.said
    assert [score["condition"] for score in result["scores"]["scores"]] == [["light"], ["sound"], ["light", "sound"]]
    assert any("no window to steer in" in line for line in result["lines"])
    assert (result["blocks"], result["scores"]["catches"], len(result["journals"])) == (1, 5, 2)
    assert picture.read_bytes().startswith(b"<?xml")
    journals = [read(Path(folder)) for folder in result["journals"]]
    assert [facts_of(journal.header).block for journal in journals] == [0, 1]
    notes = [(r.what, r.text) for r in journals[0].records if r.__struct_config__.tag == "note"]
    assert [text.rpartition(" ")[2] for what, text in notes if what == "safety"] == ["no", "yes", "yes", "yes"]
    assert {facts_of(journal.header).key for journal in journals} == {facts_of(journals[0].header).key}
