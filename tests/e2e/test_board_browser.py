"""A drill led from one phone and scribed from another in a real browser, at the real program; the second one goes dark
in between."""

import pytest
from hypothesis import settings

from tests.support.export.board_stand import LYING, board
from tests.support.export.page_stand import browser
from tests.support.people.evening import Evening, rig_text
from tests.support.people.phone import Phone, kept
from tests.support.people.short_drill import short_drill

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
    evening.hear("Nobody on the field?")
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


def test_a_drill_is_led_from_one_phone_and_scribed_from_another(tmp_path):
    drill = short_drill(tmp_path, ROUNDS)
    (tmp_path / "rig.toml").write_text(rig_text('by = "count_in"\ncount_in = "1s"'), "utf-8")
    evening = Evening(tmp_path, str(drill), "--rig", str(tmp_path / "rig.toml"), "--rate", "2", "--board")
    try:
        evening.hear("Glasses on?")
        Phone(tmp_path / "state", evening.process)
        known = kept(tmp_path / "state")
        address, tokens = f"http://127.0.0.1:{known['port']}/", known["tokens"]
        with (
            browser() as started,
            board(started, None, address=address, token=tokens["steer"]) as lead,
            board(started, None, address=address, token=tokens["mark"], size=LYING) as scribe,
        ):
            lead.knows()
            scribe.knows()
            evening.tap("yes")
            numbers = [f"board {page.ask('board.mirror.state.you.number')}" for page in (lead, scribe)]
            for number in range(1, ROUNDS + 1):
                play_round(evening, number, lead, scribe)
    finally:
        evening.close()
    for number in range(1, ROUNDS + 1):
        rows = evening.records(number - 1)
        marks = [row for row in rows if row["kind"] == "mark"]
        assert [row["label"] for row in marks] == ["contact", "turned", "home"], number
        assert {row["source"].split(" (")[0] for row in marks} == {numbers[1]}, number
        contact = marks[0]
        assert contact["end_ns"] - contact["begin_ns"] >= HELD_MS * 1_000_000 * 0.9, number
        begun = [row for row in rows if row["kind"] == "state" and row["event"] == "start"]
        assert [row["source"] for row in begun] == [numbers[0]], number
