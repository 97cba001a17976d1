"""Who can use a board, on which device: nothing is too small, cut off or covered, nothing is told by colour alone."""

import itertools
import json
import os
import subprocess
import sys

import msgspec
import pytest

from tests.export.test_page_texts import of_plan
from tests.support import texts
from tests.support.export.board_stand import (
    IN_MATCH,
    LYING,
    MARKS,
    STANDBY,
    START,
    TABLET,
    UNDO,
    UPRIGHT,
    BoardService,
    board,
    running,
)
from tests.support.export.exported_plans import bundled
from tocsin import monotime
from tocsin.model.display.round_picture import Dot, Instant, RoundPicture, Span
from tocsin.model.display.status import DeviceFact
from tocsin.service.messages import ENDED, Away, Offer
from tocsin.units import NS_PER_S as S

pytestmark = pytest.mark.devices

SIZES = {
    "upright": UPRIGHT, "lying": LYING, "tablet": TABLET, "small": (320, 568), "lying tablet": (1024, 768),
    "narrow": (360, 740), "low": (740, 360),
}  # fmt: skip
PICTURE = RoundPicture(
    shape="question", word="not known", number="no mark", title="Round 12 of 12, crew B", reason="nobody marked home",
    dealt="without light", edge="end of the match", windows=(Span(begin_s=-4, end_s=0),), limit_s=2.0,
    pushes=(Span(begin_s=-6, end_s=None),), instants=(Instant(what="call", at_s=-4),), tally="● 9  × 2  ? 1",
    series=tuple(Dot(at_s=at, shape="filled") for at in (-2, -1.9, 0.5, None)),
)  # fmt: skip
CARD = ("Round 5 of 12: crew B", "from 0:40, without light, the coach is silent", "Setup: robot behind the far line")


CANCEL = Offer(action="scrap", does="cancel", sure=True)


def step(does):
    return Offer(action="start", does=does)


def shown_states():
    """Return what a board shows in an evening: name, status, offers."""
    held = running(60)
    over = msgspec.structs.replace(running(170), phase="over", keeps_out=True, result=("Not known",), video="film it")
    lost = (DeviceFact(what="light", state="lost", text="the controller's cable is out: plug it in"),)
    return {
        "standby": (STANDBY, (START, Offer(action="variant", does="variant"))),
        "card": (msgspec.structs.replace(STANDBY, card=CARD, ask="Look at the field, then press f at the laptop"),
                 (Offer(action="crew", does="next crew"), Offer(action="battery", does="battery changed"))),
        "field is clear": (msgspec.structs.replace(STANDBY, card=CARD, clear_until_ns=monotime.now_ns() + 60 * S),
                           (START,)),
        "running": (running(60), IN_MATCH),
        "clock hidden": (running(60, shows=(), sign=("Watch", "the robots, no clock in this drill")), IN_MATCH),
        "alarm": (running(60, devices=lost, error_ms=900, notice="light lost"), IN_MATCH),
        "held": (msgspec.structs.replace(held, phase="held", held_ns=monotime.now_ns(), notice="held at 1:16"),
                 (*MARKS, UNDO, Offer(action="resume", does="resume"), CANCEL)),
        "outside": (msgspec.structs.replace(over, outside_until_ns=1 << 60), (*MARKS, step("result"))),
        "result": (msgspec.structs.replace(over, picture=PICTURE),
                   (*MARKS, UNDO, step("next round"), Offer(action="repeat", does="repeat the round"))),
        "why not": (msgspec.structs.replace(over, picture=PICTURE, ask="Why not? 1: it broke, 2: wrong mark"),
                    tuple(Offer(action=f"plan.{n}", does=does) for n, does in enumerate(("it broke", "wrong mark")))),
        "lines": (msgspec.structs.replace(over, result=("Clean 3 of 4", "Turned 1.2 s after it", "Home too late")),
                  (*MARKS, UNDO, step("next"))),
    }  # fmt: skip


# Each button that shows: its box, whether its words are whole in it, and whether something lies over its middle.
BUTTONS = """() => [...document.querySelectorAll('button')].filter((one) => one.offsetParent !== null).map((one) => {
  const {left, top, right, bottom} = one.getBoundingClientRect();
  const seen = document.elementFromPoint((left + right) / 2, (top + bottom) / 2);
  return {act: one.dataset.act, left, top, right, bottom, whole: one.scrollWidth <= one.clientWidth + 1
          && one.scrollHeight <= one.clientHeight + 1, seen: one.contains(seen)};
})"""
# Each row of words that shows, against the stage.
ROWS = """() => {
  const stage = document.querySelector('#stage').getBoundingClientRect();
  const rows = [...document.querySelectorAll('#plate > *, #round > p, #round > h1, #round-word, #round-number')];
  return rows.filter((row) => row.offsetParent !== null && row.textContent).map((row) => {
    const range = document.createRange();
    range.selectNodeContents(row);
    const {left, right, top, bottom} = range.getBoundingClientRect();
    return {id: row.id, px: parseFloat(getComputedStyle(row).fontSize), inside: left >= stage.left - 1
            && right <= stage.right + 1 && top >= stage.top - 8 && bottom <= stage.bottom + 8};
  });
}"""


def faults(page):
    """Return what axe-core, the rules of many audits of WCAG, finds wrong, as its own report."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    results = axe.run(page.tab)
    assert len(results.response["passes"]) > 10
    return results.generate_report() if results.violations_count else ""


def show(stand, page, name, status, can):
    """Show a state, and wait until the board does."""
    stand.show(status, can, anew=True)
    page.await_that(f"board.mirror.run === {stand.run} && board._plan.asks === false")
    page.tab.wait_for_timeout(100)                     # a frame


@pytest.mark.parametrize("size", SIZES)
def test_buttons_are_large_whole_and_in_sight_and_words_lie_on_the_stage(browser, stand, size):
    """At least 48 pixels (WCAG 2.2, 2.5.8 asks 24)."""
    stand.show(STANDBY, anew=True)
    with board(browser, stand, size=SIZES[size]) as page:
        page.knows()
        for name, (status, can) in shown_states().items():
            show(stand, page, name, status, can)
            for more in (False, True):
                if more and page.button("more").count() and page.button("more").is_enabled():
                    page.button("more").click()
                    page.tab.wait_for_timeout(100)
                for button in page.ask(BUTTONS):
                    where = (name, button)
                    assert min(button["right"] - button["left"], button["bottom"] - button["top"]) >= 48, where
                    assert 0 <= button["left"] < button["right"] <= SIZES[size][0], where
                    assert 0 <= button["top"] < button["bottom"] <= SIZES[size][1], where
                    assert button["whole"], where
                    assert button["seen"], where
                if more and page.ask("board._buttons.more"):
                    page.button("more").click()
                    page.tab.wait_for_timeout(100)     # the words have their room again
            for row in page.ask(ROWS):
                assert row["inside"], (name, row)
                assert row["px"] >= (12 if row["id"].startswith("round") else 11), (name, row)
            assert min([12, *page.ask(LABELS)]) >= 12, name


# The words on a round's bar, as large as they are.
LABELS = """() => [...document.querySelectorAll('#round-bar text')].filter((one) => one.getClientRects().length)
  .map((one) => parseFloat(one.getAttribute('font-size')))"""
WIDTHS, HEIGHTS = (320, 375, 414, 480, 568, 600, 620, 640, 700, 768, 800, 844, 960, 1100), (320, 390, 480, 582, 690)
# What does not lie in the window, or has words that do not lie in it.
CUT = """() => {
  const wide = document.scrollingElement.scrollWidth > innerWidth ? ['page ' + innerWidth] : [];
  const found = [...document.querySelectorAll('#board, #board > *, button')].filter((one) => one.offsetParent !== null);
  return [...wide, ...found.filter((one) => {
    const {left, right} = one.getBoundingClientRect();
    return left < 0 || right > innerWidth || (one.tagName === 'BUTTON' && one.scrollWidth > one.clientWidth + 1);
  }).map((one) => one.id || one.dataset.act)];
}"""


def test_no_window_between_a_small_phone_and_a_laptop_cuts_anything_at_its_sides(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand, is_mobile=False) as page:
        page.knows()
        shown = shown_states()
        for name in ("card", "running", "held"):
            show(stand, page, name, *shown[name])
            for size in itertools.product(WIDTHS, HEIGHTS):
                page.tab.set_viewport_size(dict(zip(("width", "height"), size, strict=True)))
                assert page.ask(CUT) == [], (name, size)


@pytest.mark.parametrize("size", [LYING, (667, 375), (568, 320), (320, 568), UPRIGHT])
def test_the_first_button_is_whole_without_scrolling(browser, stand, size):
    stand.show(STANDBY, anew=True)
    with board(browser, stand, size=size, entered=False) as page:
        page.await_text("#who", "This is board")
        [enter] = [one for one in page.ask(BUTTONS) if one["act"] == "enter"]
        assert 0 <= enter["top"] < enter["bottom"] <= size[1]
        assert 0 <= enter["left"] < enter["right"] <= size[0]
        assert enter["whole"]
        assert enter["seen"]
        assert page.button("enter").inner_text() == "Open the board"     # "begin" would be the match
        if size[0] > size[1]:
            assert page.ask("phone.scrollHeight <= phone.clientHeight")


@pytest.mark.parametrize("look", ["dark", "light"])
@pytest.mark.parametrize("size", ["narrow", "lying", "tablet"])
def test_axe_finds_no_fault_in_any_state(browser, stand, size, look):
    stand.show(STANDBY, anew=True)
    with board(browser, stand, size=SIZES[size], entered=False) as page:
        if look == "light":
            page.tab.click("#phone .look")
        assert faults(page) == "", "begin"
        page.enter()
        page.knows()
        for name, (status, can) in shown_states().items():
            show(stand, page, name, status, can)
            assert faults(page) == "", name
            if name == "running":
                page.button("more").click()
                page.tab.wait_for_timeout(100)
                assert faults(page) == "", "more"
                page.button("hold").click()
                page.await_text("#bar", "press again")
                assert faults(page) == "", "asked twice"
                page.button("more").click()
        for name in ("standby", "result", "lines"):
            show(stand, page, name, *shown_states()[name])
            stand.down(Away(ENDED, ends=False))
            page.await_that("Boolean(board.mirror.away)")
            page.tab.wait_for_timeout(100)
            assert faults(page) == "", f"{name}, away"


def test_a_switch_puts_the_buttons_at_the_other_side_of_a_lying_phone(browser, stand):
    stand.show(STANDBY, (*MARKS, START), anew=True)
    with board(browser, stand, size=LYING) as page:
        page.knows()
        left = "document.querySelector('#zone').getBoundingClientRect().left"
        assert page.ask(left) > LYING[0] / 2
        page.button("phone").click()
        page.tab.check("#mirrored")
        page.button("enter").click()
        assert page.ask(left) == 0
        page.tab.reload()
        page.knows()
        assert page.ask(left) == 0


_MADE = "import json; from tocsin.export.board.page import board_page; print(json.dumps(board_page()))"
SEEN = """() => {
  const labels = [...document.querySelectorAll('[aria-label]')].map((one) => one.getAttribute('aria-label'));
  return [document.body.innerText, ...labels, document.querySelector('#said').textContent].join('\\n');
}"""
# What stands on the board seldom: each text by the function that makes it.
SELDOM = """() => {
  const {line, wishes, _said: said} = board;
  const found = [said.unheard(7000)];
  wishes.marks.push({mark: {label: 'contact'}, notedMs: 0, unset: true});
  found.push(said.unheard(7000));
  wishes.marks.length = 0;
  board.clock.known = false;
  found.push(said.unheard(7000));
  board.clock.known = true;
  const keep = line.is;
  line.is = 'cut';
  line.heardMs = -Infinity;
  found.push(said.bad(0), said.late());
  line.is = keep;
  board.mirror.state.away = '⟦away⟧';
  found.push(said.ended());
  board.mirror.state.away = '';
  found.push(...Object.values(HAPPENED), ...HOMES, CALL_EDGE, END_EDGE, PUSH, ...UNKNOWN.values());
  return found;
}"""


def test_all_that_people_read_on_the_board_is_marked(browser, tmp_path):
    variables = texts.wrapped(tmp_path / "locale")
    made = subprocess.run([sys.executable, "-c", _MADE], cwd=texts.PROJECT, text=True, timeout=120, check=True,
                          env={**os.environ, **variables}, capture_output=True)  # fmt: skip
    source = bundled("full")
    free = of_plan(source)
    service = BoardService(source, made=json.loads(made.stdout))
    standby = msgspec.structs.replace(STANDBY, scribe=())
    service.show(standby, (Offer(action="start", does="⟦start⟧"),))
    seen = {}
    with board(browser, service, entered=False) as page:
        page.knows()
        page.tab.wait_for_timeout(300)
        seen["begin"] = page.ask(SEEN)
        page.enter()
        service.show(running(60, scribe=()), (Offer(action="begin", does="⟦begin⟧"),))
        page.await_that("!document.querySelector('#digits').hidden")
        seen["running"] = page.ask(SEEN)
        seen["seldom"] = "\n".join(page.ask(SELDOM))
    assert service.end() == 0
    for where, told in seen.items():
        assert texts.WRAPPED[0] in told, where
        outside = map(str.lower, texts.unmarked(told))
        assert [word for word in outside if word not in free] == [], where
