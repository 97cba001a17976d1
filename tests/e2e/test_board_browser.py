"""A drill led from one phone and scribed from another in a real browser, at the real program with its window; the
second one goes dark in between."""

import contextlib
import random
from collections import Counter
from typing import NamedTuple

import pytest
from hypothesis import settings

from tests.support import BENCH
from tests.support.export.board_stand import LYING, board
from tests.support.export.page_stand import browser
from tests.support.people.evening import Evening, rig_text
from tests.support.people.phone import Phone, kept
from tests.support.people.short_drill import short_drill
from tests.support.people.two_screens import WATCH, strangers, window_log
from tests.support.stands.camera import MISSING, Server

pytestmark = pytest.mark.devices

SUITES_EXAMPLES = 25
ROUNDS = 12 if settings.default.max_examples > SUITES_EXAMPLES else 3
DARK = 2                               # the round in which the scribe's phone loses its line
HELD_MS = 300
AGAIN_MS = 1500                        # so long a person waits for what a press does


def hold_down(page, action, ms):
    box = page.button(action).bounding_box()
    page.tab.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.tab.mouse.down()
    page.tab.wait_for_timeout(ms)
    page.tab.mouse.up()


def press(page, action, until):
    """Press a button until something holds on the board, as often as people do."""
    page.ask("window.pressedMs = -Infinity")
    page.await_that(f"""(() => {{
      const button = document.querySelector("button[data-act='{action}']");
      const waits = !button || button.disabled || performance.now() - window.pressedMs < {AGAIN_MS};
      if (!({until}) && !waits) {{ window.pressedMs = performance.now(); button.click(); }}
      return {until};
    }})()""")


def play_round(evening, number, lead, scribe):
    lead.await_text("#prompt", "At the laptop: Nobody on the field?")
    evening.tap("clear")
    for page in (lead, scribe):
        page.await_text("#clear", "Field clear: start within")
    press(lead, "start", "board.mirror.phase !== 'standby'")
    for page in (lead, scribe):
        page.await_that("board.mirror.phase === 'running'")
    if number == DARK:
        scribe.context.set_offline(True)
    hold_down(scribe, "mark.contact", HELD_MS)
    scribe.button("mark.turned").click()
    scribe.button("mark.home").click()
    lead.await_that("board.mirror.phase === 'over'")
    if number == DARK:
        assert scribe.ask("board.wishes.marks.length") == 3
        scribe.context.set_offline(False)
    evening.await_round(number, kind="mark", label="home")
    scribe.await_that("board.wishes.marks.length === 0")
    press(lead, "start", "!document.querySelector('#round').hidden")
    said = [page.ask("document.querySelector('#round-word').textContent") for page in (lead, scribe)
            if not page.ask("document.querySelector('#round').hidden")]  # fmt: skip
    assert len(set(said)) == 1
    if number < ROUNDS:
        press(lead, "start", "board.mirror.phase === 'standby'")


class Led(NamedTuple):
    """A drill that was led: each round's records, the numbers of the phone that led and the scribe's, what stood on the
    one that led, and on the window."""

    rounds: list
    numbers: list
    seen: list
    window: list


@pytest.fixture(scope="module")
def led(tmp_path_factory):
    if MISSING:
        pytest.skip(f"not installed: {', '.join(MISSING)}")
    folder = tmp_path_factory.mktemp("led")
    drill = short_drill(folder, ROUNDS)
    rig = rig_text('by = "count_in"\ncount_in = "1s"') + "[screen]\nfullscreen = true\n"
    (folder / "rig.toml").write_text(rig, "utf-8")
    words = folder / "window.jsonl"
    bench = {"TOCSIN_BENCH": str(BENCH / "seen_people_bench.py"), "TOCSIN_BENCH_WINDOW": str(words)}
    with contextlib.closing(Server((1366, 768))) as server:
        evening = Evening(
            folder, str(drill), "--rig", str(folder / "rig.toml"), "--rate", "2", "--board",
            display=server.name, screen="window", bench=bench,
        )  # fmt: skip
        try:
            numbers, seen = lead(evening, folder)
        finally:
            evening.close()
    return Led([evening.records(number) for number in range(ROUNDS)], numbers, seen, window_log(words))


def lead(evening, folder):
    """Lead the whole drill; return the phones' numbers, and what stood on the one that leads."""
    Phone(folder / "state", evening.process)
    known = kept(folder / "state")
    address, tokens = f"http://127.0.0.1:{known['port']}/", known["tokens"]
    with (
        browser() as started,
        board(started, None, address=address, token=tokens["steer"]) as first,
        board(started, None, address=address, token=tokens["mark"], size=LYING) as scribe,
    ):
        first.knows()
        scribe.knows()
        first.ask(WATCH)
        for question in ("Glasses on?", "flashing light safe"):
            first.await_text("#prompt", question)
            evening.tap("yes")
        numbers = [f"board {page.ask('board.mirror.state.you.number')}" for page in (first, scribe)]
        for number in range(1, ROUNDS + 1):
            play_round(evening, number, first, scribe)
        return numbers, first.ask("window.seen")


def test_a_drill_is_led_from_one_phone_and_scribed_from_another(led):
    for number, rows in enumerate(led.rounds, start=1):
        marks = [row for row in rows if row["kind"] == "mark"]
        assert [row["label"] for row in marks] == ["contact", "turned", "home"], number
        assert {row["source"].split(" (")[0] for row in marks} == {led.numbers[1]}, number
        contact = marks[0]
        assert contact["end_ns"] - contact["begin_ns"] >= HELD_MS * 1_000_000 * 0.9, number
        begun = [row for row in rows if row["kind"] == "state" and row["event"] == "start"]
        assert [row["source"] for row in begun] == [led.numbers[0]], number


def test_every_word_on_the_phone_stood_on_the_window_at_two_hundred_random_moments(led):
    looks = random.Random("words").sample(led.seen, min(200, len(led.seen)))
    assert len(looks) == 200
    phases = Counter(look["phase"] for look in looks)
    assert set(phases) >= {"standby", "running", "over"}, phases
    assert sum("word" in look["words"] for look in looks) > 5      # cues, too
    compared = 0
    for look in looks:
        found, unknown = strangers(look["words"], look["at_ns"], led.window)
        assert not unknown, (look, [one for one in led.window if abs(one.at_ns - look["at_ns"]) < 5_000_000_000])
        compared += found
    assert compared > 2 * len(looks), compared                      # else the rows' names are not the window's
