"""Who can use the page and what it can reach: assistive devices, keys of control programs, and no network at all."""

from pathlib import Path
from urllib.parse import urlparse

import pytest

from tests.support.export.exported_plans import bundled
from tests.support.export.page_sources import nasty
from tests.support.export.page_stand import FAKE_PADS, opened, write_page

pytestmark = pytest.mark.devices


def faults(page):
    """Return what axe-core, the rules of many audits of WCAG, finds wrong, as its own report."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    results = axe.run(page.tab)
    assert len(results.response["passes"]) > 10
    return results.generate_report() if results.violations_count else ""


@pytest.mark.parametrize(("plan", "size"), [("full", (1366, 768)), ("doors", (390, 844))])
def test_axe_finds_no_fault_in_standby_running_held_over(running, tmp_path, plan, size):
    url = write_page(tmp_path, bundled(plan))
    ends = {"full": 135.2, "doors": 129.5}[plan]
    with opened(running, url, FAKE_PADS, viewport={"width": size[0], "height": size[1]}) as page:
        assert faults(page) == "", "standby"
        page.tab.goto(f"{url}?start=now&from=80")
        page.await_match(80.2)
        assert faults(page) == "", "running"
        page.tab.goto(f"{url}?start=now&from={ends}")
        page.await_that("!document.querySelector('#word').hidden || page.match.phase === 'over'")
        assert faults(page) == "", "a cue"
        page.await_that("page.match.phase !== 'waiting'")
        page.tab.keyboard.press("p")
        assert faults(page) == "", "held"
        page.tab.keyboard.press("p")
        page.await_that("page.match.phase === 'over'")
        assert faults(page) == "", "over"


def test_a_screen_reader_is_told_the_word_politely_and_where_the_focus_goes(running, address):
    with opened(running, f"{address}?start=now&from=113.9") as page:
        page.await_that("document.querySelector('#said').textContent === 'Home'")
        assert page.ask("document.querySelector('#said').getAttribute('aria-live')") == "polite"
        page.press_at_once("x", "x")
        page.await_that("document.activeElement.id === 'standby-title'")       # with the page's next frame
        page.tab.keyboard.press("Tab")
        assert page.ask("document.activeElement.dataset.act") == "start"
        page.tab.keyboard.press("s")
        assert page.ask("document.activeElement.id") == "match"


def test_the_focus_goes_through_all_controls_in_the_order_in_which_they_stand(running, address):
    with opened(running, f"{address}?start=now&from=50") as page:
        page.await_match(50.1)

        def reached(count):
            page.tab.focus("#match")
            found = []
            for _ in range(count):
                page.tab.keyboard.press("Tab")
                found.append(page.ask("document.activeElement.dataset.act"))
            return found

        scribe = ["mark.contact", "mark.turned", "mark.home"]
        assert reached(6) == [*scribe, "hold", "more", "scrap"]
        page.tab.keyboard.press("k")
        assert reached(10) == [*scribe, "hold", "more", "call.home", "earlier", "later", "mute", "scrap"]


def test_space_and_enter_press_nothing_on_a_device_that_drives_a_robot(running, address):
    """Control programs stop robots on them (from memory)."""
    with opened(running, address) as page:
        for key in ("Space", "Enter", "Escape", "BracketLeft", "BracketRight", "Backslash", "F1", "F5", "F12"):
            page.tab.focus("#start-panel .big")
            if key != "F5":                              # the browser's own reload
                page.tab.keyboard.press(key)
            assert page.phase() == "standby", key
        page.tab.uncheck("#drives-robot")
        page.tab.focus("#start-panel .big")
        page.tab.keyboard.press("Enter")
        assert page.phase() == "waiting"


@pytest.mark.parametrize("way", ["PageDown", "s", "click", "pad"])
def test_a_match_starts_by_key_click_or_pad(running, address, way):
    with opened(running, address, FAKE_PADS) as page:
        if way == "click":
            page.tab.click("#start-panel .big")
        elif way == "pad":
            page.ask("fakePads[1].buttons[9].pressed = true")
            page.tab.wait_for_timeout(100)
            assert page.phase() == "standby"             # off by default: pad buttons also drive robots
            page.ask("fakePads[1].buttons[9].pressed = false")
            page.tab.check("#pad-starts")
            page.tab.wait_for_timeout(100)
            page.ask("fakePads[1].buttons[9].pressed = true")
        else:
            page.tab.keyboard.press(way)
        page.await_that("page.match.phase === 'waiting'")


def test_no_request_leaves_the_page_from_load_to_the_saved_record(running, address):
    with opened(running, f"{address}?start=now&rate=100") as page:
        page.await_that("page.match.phase === 'over'")
        with page.tab.expect_download():
            page.tab.click("#bar [data-act=save]")
        asked = {url.split("?")[0] for url in page.requests}
        assert {url for url in asked if not url.startswith("blob:")} == {address}


def test_the_policy_blocks_connections_images_and_foreign_scripts(running, address):
    with opened(running, address) as page:
        blocked = page.ask(
            """async (address) => {
              const blocked = [];
              document.addEventListener('securitypolicyviolation', (event) => blocked.push(event.effectiveDirective));
              const went = [];
              await fetch(address).then(() => went.push('fetch'), () => {});
              await new Promise((done) => {
                const image = new Image(); image.onload = () => { went.push('image'); done(); };
                image.onerror = done; image.src = 'data:image/gif;base64,R0lGODlhAQABAAAAACw=';
              });
              const script = document.createElement('script'); script.textContent = 'window.ran = true';
              document.body.append(script);
              await new Promise((done) => setTimeout(done, 200));
              return {blocked, went, ran: Boolean(window.ran)};
            }""",
            address,
        )
    assert blocked["went"] == []
    assert not blocked["ran"]
    assert {"connect-src", "img-src", "script-src-elem"} <= set(blocked["blocked"])


def test_a_page_that_somebody_has_changed_does_not_run(running, tmp_path, address):
    """The hash is over the script as it was exported."""
    text = Path(urlparse(address).path).read_text(encoding="utf-8")
    changed = tmp_path / "changed.html"
    changed.write_text(text.replace("const COUNT_IN_NS = 5", "const COUNT_IN_NS = 6"), encoding="utf-8")
    with opened(running, changed.as_uri()) as page:
        assert page.ask("typeof page") == "undefined"
        # A browser without the script still shows what the page is, and its cautions.
        assert page.tab.is_visible(".cautions")


def test_words_of_a_plan_run_nothing(running, tmp_path):
    with opened(running, f"{write_page(tmp_path, nasty())}?start=now&from=53") as page:
        page.await_that("!document.querySelector('#word').hidden")
        assert page.ask("document.querySelectorAll('script').length") == 3
