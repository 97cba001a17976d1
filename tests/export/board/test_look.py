"""The two looks of a board: every word can be read in both, cues look alike, and nothing flashes by a look."""

import itertools

import msgspec
import pytest

from tests.export.board.test_reach import shown_states
from tests.support.export.board_stand import IN_MATCH, STANDBY, START, board, running
from tocsin.service.messages import ENDED, Away
from tocsin.units import NS_PER_S as S

pytestmark = pytest.mark.devices

LOOKS = ("dark", "light")
LEAST = 7                              # WCAG 2.2, 1.4.6 (AAA): contrast of letters
LEAST_EDGE = 3                         # WCAG 2.2, 1.4.11: of what is no letter, as a button's edge
# Every element with words of its own: its colour, what is behind it, by WCAG 2.2's formula for relative luminance.
CONTRASTS = """() => {
  const parsed = (text) => text.match(/[\\d.]+/g).map(Number);
  const linear = (value) => (value / 255 <= 0.04045 ? value / 255 / 12.92 : ((value / 255 + 0.055) / 1.055) ** 2.4);
  const bright = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const behind = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = parsed(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] > 0) { return colour; }
    }
    return [255, 255, 255];
  };
  const ratio = (one, other) => {
    const [low, high] = [bright(one), bright(other)].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  };
  const own = (one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  const seen = (one) => one.getClientRects().length && !one.closest('.unseen, noscript');
  const words = [...document.querySelectorAll('#board *')].filter((one) => own(one) && seen(one)).map((one) => {
    const style = getComputedStyle(one);
    const colour = one instanceof SVGElement ? style.fill : style.color;
    return [one.textContent, ratio(parsed(colour), behind(one))];
  });
  const edges = [...document.querySelectorAll('button')].filter(seen).map((one) => {
    const style = getComputedStyle(one);
    const line = style.borderStyle === 'none' || parseFloat(style.borderWidth) === 0
      ? style.backgroundColor : style.borderColor;
    return [one.textContent, ratio(parsed(line), behind(one.parentElement))];
  });
  return {words, edges};
}"""


def choose(page, look):
    if page.ask("document.documentElement.dataset.look") != look:
        page.tab.click("#line .look")
        page.await_that(f"document.documentElement.dataset.look === '{look}'")


def demand_readable(page, where):
    found = page.ask(CONTRASTS)
    assert found["words"], where
    assert [(text, ratio) for text, ratio in found["words"] if ratio < LEAST] == [], where
    assert [(text, ratio) for text, ratio in found["edges"] if ratio < LEAST_EDGE] == [], where


@pytest.mark.parametrize("contrast", ["no-preference", "more"])
@pytest.mark.parametrize("look", LOOKS)
def test_every_word_can_be_read_in_the_sun_in_every_state(browser, stand, look, contrast):
    stand.show(STANDBY, anew=True)
    with board(browser, stand, size=(360, 740), contrast=contrast) as page:
        page.knows()
        choose(page, look)
        for name, (status, can) in shown_states().items():
            stand.show(status, can, anew=True)
            page.await_that(f"board.mirror.run === {stand.run} && board._plan.asks === false")
            page.tab.wait_for_timeout(100)
            if page.button("more").is_enabled():
                page.button("more").click()
                page.tab.wait_for_timeout(100)
            demand_readable(page, name)
        stand.show(running(112), IN_MATCH, anew=True)
        page.await_that("Boolean(board.channels.showing()) && !document.querySelector('#field').hidden")
        demand_readable(page, "cue")
        stand.down(Away(ENDED, ends=False))
        page.await_that("Boolean(board.mirror.away)")
        demand_readable(page, "away")
        page.button("phone").click()
        demand_readable(page, "this phone")


def test_dark_is_first_and_the_look_is_chosen_by_one_tap_and_kept(browser, stand):
    stand.show(STANDBY, (START,), anew=True)
    with board(browser, stand, color_scheme="light") as page:
        page.knows()
        assert page.ask("getComputedStyle(document.documentElement).backgroundColor") == "rgb(0, 0, 0)"
        page.tab.click("#line .look")
        page.tab.reload()
        page.knows()
        assert page.ask("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        assert page.ask("document.querySelector('#line .look').getAttribute('aria-pressed')") == "true"
        assert page.ask("document.querySelector('meta[name=theme-color]').content") == "#ffffff"


def test_a_look_that_is_tapped_again_and_again_flashes_no_screen(browser, stand):
    """No more than two changes a second: one flash, where WCAG 2.2 (2.3.1) allows three."""
    stand.show(STANDBY, (START,), anew=True)
    with board(browser, stand) as page:
        page.knows()
        looks = page.ask("""async () => {
          const found = [];
          for (let n = 0; n < 20; n += 1) {
            document.querySelector('#line .look').click();
            found.push(document.documentElement.dataset.look);
            await new Promise((done) => { setTimeout(done, 10); });
          }
          return found;
        }""")
        assert len(list(itertools.groupby(looks))) <= 2


def test_a_cue_looks_alike_in_both_looks(browser, stand):
    seen = {}
    for look in LOOKS:
        stand.show(running(110), IN_MATCH, anew=True)
        with board(browser, stand) as page:
            page.knows()
            choose(page, look)
            page.await_that("Boolean(board.channels.showing()) && !document.querySelector('#field').hidden")
            seen[look] = page.ask("""['#field', '#hole', '#plate'].map((one) => {
              const style = getComputedStyle(document.querySelector(one));
              return [style.background, style.color];
            }).concat([getComputedStyle(document.querySelector('#word')).color])""")
    assert seen["dark"] == seen["light"]


SWINGS = """([light, times]) => {
  const view = board._view;
  board._phone._lightUp(light);
  const guard = new FlashGuard(9);
  view._guard = guard;
  view._look = null;
  view._drawn = "";
  const look = { colours: all([230, 159, 0]), full: true, progress: null, between: false };
  return times.map((ns, n) => {
    const admitted = view._admitted(n % 2 ? look : null, 1e12 + ns);
    return [ns, admitted !== null, guard.shown.map(luminance)];
  });
}"""


@pytest.mark.parametrize("look", LOOKS)
def test_the_flash_guard_knows_the_ground_of_the_look(browser, stand, look):
    """Cues that would come and go ten times a second: no region turns more often than four times (two flashes)."""
    stand.show(STANDBY, anew=True)
    with board(browser, stand) as page:
        page.knows()
        times = [n * S // 20 for n in range(60)]
        page.ask("board._tick = () => {}")
        found = page.ask(SWINGS, [look == "light", times])
    ground = 1 if look == "light" else 0
    assert {round(level) for _, shows, levels in found[1:] if not shows for level in levels} == {ground}
    for region in range(9):
        levels = [(ns, levels[region]) for ns, _, levels in found]
        turns = [ns for (_, before), (ns, after) in itertools.pairwise(levels) if abs(after - before) >= 0.1]
        for one, other in itertools.pairwise(turns):
            assert other - one >= S // 4, (region, one, other)


def test_the_count_in_beats_in_a_colour_that_is_seen_on_its_ground(browser, stand):
    for look in LOOKS:
        ahead = running(-60)
        stand.show(msgspec.structs.replace(ahead, phase="waiting"), anew=True)
        with board(browser, stand) as page:
            page.knows()
            choose(page, look)
            ratio = page.ask("""() => {
              board._beatNs = () => 900e6 + nowNanos();
              board._counts = () => true;
              const [colour] = board._look(null, nowNanos()).colours;
              const ground = luminance(board._phone.light ? WHITE : DARK) + 0.05;
              const level = luminance(colour) + 0.05;
              return Math.max(level, ground) / Math.min(level, ground);
            }""")
            assert ratio >= LEAST_EDGE, look
