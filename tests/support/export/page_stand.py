"""A stand for the exported page: a real Chromium opens it from disk, with pads, a loudspeaker and eyes that record.

Needs Chromium itself (Debian: apt-get install chromium; else TOCSIN_CHROMIUM names it), since Playwright's own is a
download of hundreds of megabytes.
"""

import contextlib
import os
import shutil
import time
from pathlib import Path

import pytest

from tocsin.export.page import page_html

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required",
)  # fmt: skip
S, MS = 1_000_000_000, 1_000_000
FRAME_NS = 17 * MS

# Two pads with motors that log, as the W3C Gamepad specification describes them; `unplug(n)` and `plug(n)` pull them.
FAKE_PADS = """
window.motors = [];
const padOf = (index) => ({
  index, id: 'Bench pad ' + (index + 1) + ' (Vendor: 1209 Product: 000' + index + ')', connected: true,
  buttons: Array.from({length: 17}, () => ({pressed: false, value: 0})), axes: [0, 0, 0, 0],
  vibrationActuator: {
    playEffect(type, effect) {
      window.motors.push({at: performance.now(), pad: index, type, ...effect});
      return Promise.resolve('complete');
    },
    reset() { window.motors.push({at: performance.now(), pad: index, type: 'reset'}); return Promise.resolve(); },
  },
});
window.fakePads = [padOf(0), padOf(1), null, null];
window.unplug = (n) => { window.fakePads[n] = null; };
window.plug = (n) => { window.fakePads[n] = padOf(n); };
navigator.getGamepads = () => window.fakePads;
"""
# What the loudspeaker is told: when each tone is heard by the audio clock, on the page's clock.
EARS = """
window.tones = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when) {
  const stamp = this.context.getOutputTimestamp();
  const heard = stamp.performanceTime + (when - stamp.contextTime) * 1000;
  const roughly = performance.now() + (when - this.context.currentTime) * 1000;
  this.told = {heard, roughly, lasts: this.buffer.duration, stops: false};
  window.tones.push(this.told);
  return start.call(this, when);
};
const stop = AudioBufferSourceNode.prototype.stop;
AudioBufferSourceNode.prototype.stop = function (when) { this.told.stops = true; return stop.call(this, when); };
"""
# What stands on the screen: each word with the time at which it came, each look that is let out.
EYES = """
window.words = [];
window.looks = [];
const look = () => {
  const word = document.querySelector('#word');
  const shown = word && !word.hidden && !document.querySelector('#match').hidden ? word.textContent : '';
  const last = window.words[window.words.length - 1];
  if (!last || last.word !== shown) { window.words.push({at: performance.now(), word: shown}); }
  const field = document.querySelector('#field');
  const hole = document.querySelector('#hole');
  if (field) {
    const colours = field.hidden ? '' : field.style.background;
    window.looks.push({at: performance.now(), colours, full: !field.hidden && hole.hidden});
  }
};
window.addEventListener('DOMContentLoaded', () => new MutationObserver(look).observe(
  document, {subtree: true, childList: true, characterData: true, attributes: true}));
"""


def chromium():
    """Return where Chromium is, or None."""
    named = os.environ.get("TOCSIN_CHROMIUM")
    return named or next((path for name in NAMES if (path := shutil.which(name))), None)


@contextlib.contextmanager
def browser():
    """Yield a running Chromium; skip where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is missing: pip install '.[test]'")
    path = chromium()
    if path is None:
        pytest.skip("Chromium is missing: apt-get install chromium, or name it in TOCSIN_CHROMIUM")
    with playwright.sync_playwright() as running:
        started = running.chromium.launch(executable_path=path, args=list(FLAGS))
        yield started
        started.close()


class Opened:
    """The page in a tab: ``requests`` holds every address that it asked for, ``errors`` what its script threw."""

    def __init__(self, context, tab, url):
        self.context = context
        self.tab = tab
        self.requests = []
        self.errors = []
        context.on("request", lambda request: self.requests.append(request.url))
        tab.on("pageerror", lambda error: self.errors.append(str(error)))
        tab.set_default_timeout(120_000)   # in milliseconds: beside other work a page takes its time
        tab.goto(url)

    def ask(self, script, argument=None):
        """Return what a piece of JavaScript yields."""
        return self.tab.evaluate(script, argument)

    def await_that(self, condition, timeout_s=120):
        """Wait until a condition holds. The page's policy forbids Playwright's own way, which evaluates text."""
        until = time.monotonic() + timeout_s
        while not self.ask(condition):
            assert time.monotonic() < until, f"never came: {condition}; errors: {self.errors}"
            self.tab.wait_for_timeout(10)

    def await_match(self, match_s):
        """Wait until so much match time has passed."""
        self.await_that(f"page.match.phase === 'over' || page.match.reading(nowNanos()).matchNs >= {match_s} * 1e9")

    def start(self):
        """Start the match from standby by a press, uncounted: what the page takes to open is no match time."""
        self.tab.check("#by-press")
        self.tab.click("#start-panel .big")

    def press_at_once(self, *keys):
        """Press keys in one task of the page, so that no time lies between them; return the phase after each."""
        return self.ask("""(keys) => keys.map((key) => {
          const code = /^[0-9]$/.test(key) ? 'Digit' + key : '';
          ['keydown', 'keyup'].forEach((type) => document.body.dispatchEvent(
            new KeyboardEvent(type, {key, code, bubbles: true, cancelable: true})));
          return page.match.phase;
        })""", list(keys))

    def phase(self):
        return self.ask("page.match.phase")

    def records(self, kind=None):
        """Return the records so far, of one kind or all."""
        lines = self.ask("page.record.lines")
        return [line for line in lines if kind in (None, line["kind"])]

    def firings(self, *channels):
        return [line for line in self.records("firing") if not channels or line["channel"] in channels]

    def origin_ns(self, anchor="match"):
        return [line["origin_ns"] for line in self.records("origin") if line["anchor"] == anchor][-1]

    def close(self):
        errors = self.errors
        self.context.close()
        assert errors == []


def write_page(folder, source, **options):
    """Write the page of a source as a file; return its address."""
    path = Path(folder) / "page.html"
    path.write_text(page_html(source, **options), encoding="utf-8")
    return path.as_uri()


@contextlib.contextmanager
def opened(running, url, *scripts, **options):
    """Yield the page in a context of its own, with scripts that run before its own."""
    context = running.new_context(**{"viewport": {"width": 1366, "height": 768}, **options})
    for script in scripts:
        context.add_init_script(script)
    page = Opened(context, context.new_page(), url)
    yield page
    page.close()
