"""The page on a phone and a tablet, by taps: words stay on their plate, and a finger that slips ends no match."""

from itertools import pairwise

import pytest

from tests.support.export.exported_plans import bundled, source
from tests.support.export.page_stand import opened, write_page
from tocsin.model.game import Game, Period
from tocsin.model.moment import parse
from tocsin.model.pattern import Patterns, ScreenPattern
from tocsin.model.plan import Cue, Plan
from tocsin.model.rig import SCRIBE_KEYS
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

pytestmark = pytest.mark.devices

PHONES = ((360, 640), (640, 360), (390, 844), (768, 1024))
TOUCH = {"has_touch": True, "is_mobile": True}
YELLOW = (240, 228, 66)
ASKED = "press Cancel (x) again within 2 s to cancel"
WORDS = ("No touch", "Zählen", "Jetzt Übergabe", "Ångström", "Home")
# Where the letters of the word really are: its lines, and how far they reach above each baseline by the canvas.
LETTERS = """() => {
  const word = document.querySelector('#word');
  const box = (element) => {
    const {left, top, right, bottom} = element.getBoundingClientRect();
    return {left, top, right, bottom};
  };
  const range = document.createRange();
  const px = parseFloat(getComputedStyle(word).fontSize);
  const canvas = document.createElement('canvas').getContext('2d');
  canvas.font = '700 ' + px + 'px ' + getComputedStyle(word).fontFamily;
  const lines = [...word.childNodes].filter((node) => node.nodeType === Node.TEXT_NODE).map((node) => {
    range.selectNodeContents(node);
    const {left, right, top} = range.getBoundingClientRect();
    const {fontBoundingBoxAscent, actualBoundingBoxAscent} = canvas.measureText(node.textContent);
    const baseline = top + fontBoundingBoxAscent;
    return {left, right, baseline, top: baseline - actualBoundingBoxAscent};
  });
  return {plate: box(document.querySelector('#plate')), lines, text: word.textContent};
}"""


def words():
    """A plan that holds each word for a minute, so that it shows however late a browser is; letters and field of one
    colour."""
    pattern = ScreenPattern(field="plain", colours=(YELLOW,), letters=YELLOW, lasts_ns=60 * S, full_ns=60 * S)
    cues = tuple(
        Cue(id=f"c{n}", at=(parse(f"driver.begin+{5 + 70 * n}s"),), until=(parse(f"driver.begin+{65 + 70 * n}s"),),
            patterns={"screen": "word"}, say=word)
        for n, word in enumerate(WORDS)
    )  # fmt: skip
    game = Game(name="Words", periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=400 * S),))
    return source(game, Plan(name="Words", game="g", cues=cues, patterns=Patterns(screen={"word": pattern})))


@pytest.mark.parametrize("size", PHONES)
def test_all_letters_with_their_accents_lie_on_the_plate_and_in_its_middle(running, tmp_path, size):
    url = write_page(tmp_path, words())
    with opened(running, url, viewport={"width": size[0], "height": size[1]}, **TOUCH) as page:
        for n, word in enumerate(WORDS):
            page.tab.goto(f"{url}?start=now&from={4.8 + 70 * n}")
            page.await_that("!document.querySelector('#word').hidden")
            found = page.ask(LETTERS)
            assert found["text"] == word.upper()
            plate, lines = found["plate"], found["lines"]
            left = min(line["left"] for line in lines) - plate["left"]
            right = plate["right"] - max(line["right"] for line in lines)
            assert left == pytest.approx(right, abs=3), word
            assert right > 4, word
            assert lines[0]["top"] >= plate["top"] + 2, word
            for above, below in pairwise(lines):
                assert below["top"] >= above["baseline"] + 1, word


@pytest.mark.parametrize("size", PHONES[:2])
def test_a_word_of_nine_letters_is_whole_on_its_button(running, tmp_path, size):
    cue = Cue(id="c", at=(parse("driver.begin+5s"),), patterns={"screen": "word"}, say="Nachladen", callable=True)
    game = Game(name="Words", periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=60 * S),))
    pattern = ScreenPattern(field="none", colours=(YELLOW,), letters=YELLOW, lasts_ns=2 * S)
    made = source(game, Plan(name="Words", game="g", cues=(cue,), patterns=Patterns(screen={"word": pattern})))
    url = write_page(tmp_path, made)
    with opened(running, f"{url}?start=now", viewport={"width": size[0], "height": size[1]}, **TOUCH) as page:
        page.await_that("page.match.phase === 'running'")
        page.tab.tap("[data-act=more]")
        page.await_that("!document.querySelector('[data-act=\"call.c\"]').hidden")
        assert page.tab.inner_text("[data-act='call.c']").split() == ["Call", "Nachladen"]
        lines = page.ask(
            """(() => {
              const range = document.createRange();
              range.selectNodeContents(document.querySelector('[data-act="call.c"]'));
              return new Set([...range.getClientRects()].map((box) => Math.round(box.top))).size;
            })()"""
        )
        assert lines == 2                                              # Call, Nachladen


def test_a_match_is_cancelled_by_two_taps_or_by_a_key_pressed_twice_within_two_seconds(running, address):
    with opened(running, f"{address}?start=now&from=80", viewport={"width": 360, "height": 640}, **TOUCH) as page:
        page.await_match(80.1)
        page.tab.tap("#match [data-act=scrap]")
        assert page.phase() == "running"
        assert page.ask("document.querySelector('#facts').textContent") == ASKED
        page.tab.tap("#match [data-act=scrap]")
        assert page.phase() == "standby"
        assert page.records("end")[-1]["outcome"] == "scrapped"
        page.tab.goto(f"{address}?start=now&from=80")
        page.await_match(80.1)
        page.tab.keyboard.press("x")
        assert page.phase() == "running"
        assert page.ask("document.querySelector('#facts').textContent") == ASKED
        page.ask("page._cancelAskedNs -= 2e9")         # two seconds later
        assert page.press_at_once("x", "x") == ["running", "standby"]


def test_a_tap_says_by_how_much_the_clock_has_been_corrected(running, address):
    with opened(running, f"{address}?start=now&from=80", viewport={"width": 360, "height": 640}, **TOUCH) as page:
        page.await_match(80.1)
        before_ns = page.origin_ns()
        told = []
        page.tab.tap("#match [data-act=more]")
        for act in ("earlier", "earlier", "later", "later", "later"):
            page.tab.tap(f"#match [data-act={act}]")
            told.append(page.ask("document.querySelector('#facts').textContent"))
        sums = [text.removeprefix("clock corrected by ").removesuffix(" s in all") for text in told]
        assert sums == ["+0.2", "+0.4", "+0.2", "0.0", "-0.2"]
        assert page.origin_ns() == before_ns + 200 * MS
        assert page.ask("document.querySelector('[data-act=earlier]').innerText.trim()") == "Clock on 0.2\u00a0s"


BUTTONS = """[...document.querySelectorAll('.controls button')].filter((button) => !button.hidden)
  .map((button) => [button.dataset.act, button.offsetTop, button.scrollWidth <= button.clientWidth])"""


def test_the_buttons_of_a_running_match_stand_in_one_row_on_a_phone_on_its_side(running, address):
    with opened(running, f"{address}?start=now&from=80", viewport={"width": 640, "height": 360}, **TOUCH) as page:
        page.await_match(80.1)
        rows = page.ask(BUTTONS)
        assert [act for act, _, _ in rows] == ["mark.contact", "mark.turned", "mark.home", "hold", "more", "scrap"]
        assert {top for _, top, _ in rows} == {rows[0][1]}
        assert all(fits for _, _, fits in rows)
        assert page.ask("document.querySelector('#bar').offsetHeight") <= 0.3 * 360      # the rest is for the words


@pytest.mark.parametrize("size", PHONES)
def test_one_button_shows_the_rest_for_ten_seconds_or_until_it_is_pressed_again(running, address, size):
    phone = {"viewport": {"width": size[0], "height": size[1]}, **TOUCH}
    with opened(running, f"{address}?start=now&from=10", **phone) as page:
        page.await_match(10.1)
        few = page.ask(BUTTONS)
        assert len(few) == 5 + 1
        page.tab.tap("#match [data-act=more]")
        page.await_that(f"{BUTTONS}.length > 6")
        assert page.ask("document.querySelector('[data-act=more]').getAttribute('aria-expanded')") == "true"
        rows = page.ask(BUTTONS)
        assert [act for act, _, _ in rows if act not in [act for act, _, _ in few]] == [
            "call.home", "earlier", "later", "mute",
        ]  # fmt: skip
        assert all(fits for _, _, fits in rows)
        page.tab.tap("#match [data-act=more]")
        page.await_that(f"{BUTTONS}.length === 6")
        page.tab.tap("#match [data-act=more]")
        page.await_that(f"{BUTTONS}.length > 6")
        page.ask("page._moreUntilNs -= 10e9")          # ten seconds later
        page.await_that(f"{BUTTONS}.length === 6")


@pytest.mark.parametrize(
    ("label", "key", "code"),
    [("contact", "è", "Digit7"), ("turned", "8", "Digit8"), ("home", "PageUp", "Numpad9")],
)
def test_the_scribes_keys_go_by_their_place_on_each_layout(running, address, label, key, code):
    """On a French row they type letters with accents, in a number block without its lock they are called otherwise."""
    with opened(running, f"{address}?start=now&from=80") as page:
        page.await_match(80.1)
        for kind in ("keydown", "keyup"):
            page.ask(f"document.dispatchEvent(new KeyboardEvent('{kind}', {{ key: '{key}', code: '{code}' }}))")
        assert [mark["label"] for mark in page.records("mark")] == [label]
        assert page.ask(f"document.querySelector('[data-act=\"mark.{label}\"]').getAttribute('aria-keyshortcuts')") == (
            SCRIBE_KEYS[label]
        )


@pytest.mark.parametrize("plan", ["full", "doors"])
@pytest.mark.parametrize("size", PHONES[:2])
def test_start_and_try_all_stand_on_the_first_screen(running, tmp_path, size, plan):
    url = write_page(tmp_path, bundled(plan))
    with opened(running, url, viewport={"width": size[0], "height": size[1]}, **TOUCH) as page:
        for act in ("start", "try"):
            box = page.tab.locator(f"#standby [data-act={act}]").bounding_box()
            assert box["y"] + box["height"] < size[1]
        assert page.ask("document.querySelectorAll('#standby [data-act=try]').length") == 1
        page.tab.tap("#standby [data-act=try]")
        assert page.ask("document.querySelector('#notice').textContent").endswith("heard it? felt it?")


def test_where_fingers_are_all_there_is_keys_come_last(running, address):
    told = {}
    for name, options in (("fingers", {"viewport": {"width": 360, "height": 640}, **TOUCH}), ("mouse", {})):
        with opened(running, address, **options) as page:
            told[name] = page.tab.inner_text("#standby")
    for text in told.values():
        steps = text.split("How to use this page")[1].split("Record")[0].strip().splitlines()
        assert [line for line in steps if "keyboard" in line or "page down" in line] == [steps[-1]]
    before = {name: text.split("How to use this page")[0] for name, text in told.items()}
    assert "page down" in before["mouse"]
    assert "Sound. At events: off (key m)" in before["mouse"]
    assert "page down" not in before["fingers"]
    assert "(key" not in before["fingers"]
    assert "Sound. At events: off" in before["fingers"]


def test_what_was_refused_in_a_match_is_no_longer_told_in_the_next_standby(running, address):
    url = f"{address}?start=now&from=136.5&rate=10"
    with opened(running, url, viewport={"width": 360, "height": 640}, **TOUCH) as page:
        notice = "document.querySelector('#notice').textContent"
        page.await_that("page.match.phase === 'over'")
        page.tab.keyboard.press("x")
        assert page.ask("document.querySelector('#facts').textContent") == "cannot cancel: the match is over"
        page.tab.tap("#match [data-act=start]")
        assert page.phase() == "standby"
        assert page.ask(notice) == ""
        # Nor is the question before a match was scrapped; what is said in standby itself stays.
        page.tab.goto(f"{address}?start=now&from=80")
        page.await_match(80.1)
        page.tab.tap("#match [data-act=scrap]")
        page.tab.tap("#match [data-act=scrap]")
        assert page.phase() == "standby"
        assert page.ask(notice) == ""
        page.tab.keyboard.press("x")
        assert page.ask(notice) == "cannot cancel: no match is on"
