"""What the page gives to hands, ears and eyes: motors, tones, and colours that never flash too fast."""

import contextlib
import random

import numpy as np
import pytest

from tests.support.export.exported_plans import bundled, source
from tests.support.export.page_stand import EARS, FAKE_PADS, MS, S, opened, write_page
from tocsin.channels.screen.field import FRAME_SHARE
from tocsin.channels.sound.synth import pcm
from tocsin.config.load import load
from tocsin.model.game import Game, Period
from tocsin.model.moment import parse
from tocsin.model.pattern import SoundPattern, SoundStep, lasts_ns
from tocsin.model.plan import Cue, Plan
from tocsin.model.safety import OKABE_ITO, contrast, flicker, relative_luminance
from tocsin.model.samples import PEAK, RATE_HZ
from tocsin.runner.match.count_in import beat_sound

pytestmark = pytest.mark.devices

PATTERNS = load(None, ["full"], "nothing").plans[0].plan.patterns
# How far the frame's outer edge lies within the field: top, right, bottom, left; the browser shortens equal ones.
INSET = """(() => {
  const [top, right = top, bottom = top, left = right] =
    document.querySelector('#field').style.clipPath.match(/[\\d.]+/g).map(Number);
  return [top, right, bottom, left];
})()"""


def motors(page, pad=None):
    return [call for call in page.ask("window.motors") if call["type"] == "dual-rumble" and pad in (None, call["pad"])]


def as_json(pattern):
    return {
        "steps": [{"hz": s.hz, "to_hz": s.to_hz, "level": s.level, "lasts_ns": s.lasts_ns} for s in pattern.steps],
        "times": pattern.times, "attack_ns": pattern.attack_ns, "release_ns": pattern.release_ns,
    }  # fmt: skip


# -- hands ------------------------------------------------------------------------------------------------------------


def test_home_is_a_triple_on_both_pads_as_the_plan_writes_it(running, address):
    step = PATTERNS.rumble["triple"].steps[0]
    with opened(running, f"{address}?start=now&from=113.9", FAKE_PADS) as page:
        page.await_that("[0, 1].every(n => window.motors.filter(c => c.pad === n && c.type !== 'reset').length >= 3)")
        page.await_match(115.6)                                        # no fourth follows
        for pad in (0, 1):
            before_ns = page.origin_ns() + 117.9 * S                   # NO TOUCH, where a busy machine looks late
            calls = [call for call in motors(page, pad) if call["at"] * MS < before_ns]
            strengths = [(call["strongMagnitude"], call["weakMagnitude"]) for call in calls]
            assert strengths == [(step.strong, step.weak)] * 3
            # Each begins when it is due or later, as the machine may be busy, and lasts up to the end of its step.
            period_ms = sum(s.lasts_ns for s in PATTERNS.rumble["triple"].steps) / MS
            due_ms = [page.origin_ns() / MS + 114_000 + n * period_ms for n in range(3)]
            for call, begins_ms in zip(calls, due_ms, strict=True):
                assert call["startDelay"] == 0
                assert call["at"] >= begins_ms - 20
                assert call["duration"] <= step.lasts_ns / MS + 101
                assert call["at"] + call["duration"] >= begins_ms + step.lasts_ns / MS - 20


def often():
    """A plan that calls the operator twice a second, so that calls are in time however busy the machine is."""
    cue = Cue(
        id="often", at=(parse("driver.begin+1s"),), until=(parse("driver.begin+90s"),), every_ns=500 * MS,
        roles=("operator",), patterns={"rumble": "triple"},
    )  # fmt: skip
    game = Game(name="Often", periods=(Period(id="driver", kind="driver", title="Driver", lasts_ns=100 * S),))
    return source(game, Plan(name="Often", game="g", cues=(cue,), patterns=PATTERNS))


def test_the_operators_cue_goes_to_the_second_pad_until_they_are_swapped(running, tmp_path):
    url = write_page(tmp_path, often())
    with contextlib.ExitStack() as stack:
        pages = [stack.enter_context(opened(running, url, FAKE_PADS)) for _ in range(2)]
        pages[1].ask("page.act('swap', nowNanos())")
        for page in pages:
            page.start()
        for page, pad in zip(pages, (1, 0), strict=True):
            page.await_that("window.motors.filter(call => call.type === 'dual-rumble').length >= 3")
            assert {call["pad"] for call in motors(page)} == {pad}


def test_a_button_that_moves_under_the_hand_is_pressed_nevertheless(running, address):
    """The first press lets sound in, and the line that says so is longer: what stands below it moves down."""
    with opened(running, address, FAKE_PADS) as page:
        page.await_that("document.querySelector('#fact-driver').textContent.startsWith('Bench pad 1')")
        box = page.tab.locator("[data-act=swap]").bounding_box()
        page.tab.mouse.move(box["x"] + box["width"] / 2, box["y"] + 3)
        page.tab.mouse.down()
        page.await_that("document.querySelector('#fact-sound').textContent.startsWith('on')")
        assert page.tab.locator("[data-act=swap]").bounding_box()["y"] > box["y"] + 3, "it did not move"
        page.tab.mouse.up()
        page.await_that("document.querySelector('#fact-driver').textContent.startsWith('Bench pad 2')")


def test_a_hand_that_slips_off_a_button_presses_none(running, address):
    with opened(running, address, FAKE_PADS) as page:
        page.await_that("document.querySelector('#fact-driver').textContent.startsWith('Bench pad 1')")
        for away in ("#fact-screen", "#start-panel [data-act=start]"):
            page.tab.locator("[data-act=swap]").hover()
            page.tab.mouse.down()
            page.tab.locator(away).hover()
            page.tab.mouse.up()
            assert page.phase() == "standby"
            assert page.ask("document.querySelector('#fact-driver').textContent").startswith("Bench pad 1")


def test_standby_shows_whose_pad_is_whose_and_tries_them(running, address):
    with opened(running, address, FAKE_PADS) as page:
        page.await_that("document.querySelector('#fact-driver').textContent.startsWith('Bench pad 1')")
        page.tab.click("[data-act=swap]")
        page.await_that("document.querySelector('#fact-driver').textContent.startsWith('Bench pad 2')")
        page.tab.keyboard.press("t")
        page.await_that("new Set(window.motors.map(call => call.pad)).size === 2")


def test_a_pad_that_goes_is_told_and_one_that_comes_back_takes_its_place_and_the_held_call(running, address):
    with opened(running, f"{address}?from=111", FAKE_PADS) as page:
        page.ask("""(() => {
          const look = () => page.match.reading(nowNanos()).matchNs > 111e9 ? window.unplug(0) : setTimeout(look, 5);
          look();
        })()""")
        page.start()
        page.await_that("document.querySelector('#alarm').textContent.includes(\"DRIVER'S PAD OUT\")")
        page.await_that("window.motors.some(call => call.type === 'dual-rumble')")
        page.await_match(114.3)
        assert {call["pad"] for call in motors(page)} == {1}           # the operator's stays the operator's
        page.ask("window.plug(0)")
        page.await_that("window.motors.some(call => call.pad === 0 && call.type === 'dual-rumble')")


def test_a_pad_without_motors_and_a_refusal_are_said(running, address):
    broken = FAKE_PADS + "fakePads[0].vibrationActuator = null;" + (
        "fakePads[1].vibrationActuator.playEffect = () => Promise.reject(new Error('no such effect'));"
    )
    with opened(running, address, broken) as page:
        page.await_that("document.querySelector('#fact-driver').textContent.includes('has no motors')")
        page.tab.keyboard.press("t")
        page.await_that("document.querySelector('#fact-operator').textContent.includes('no such effect')")


def test_a_phone_shakes_for_the_role_that_is_chosen(running, address):
    log = "window.pulses = []; navigator.vibrate = (pulses) => { window.pulses.push(pulses); return true; };"
    phone = {"has_touch": True, "is_mobile": True, "viewport": {"width": 390, "height": 844}}
    for role, expected in (("", [[300], [250, 200, 250, 200, 250]]), ("driver", [[250, 200, 250, 200, 250]])):
        with opened(running, f"{address}?from=112.8", log, **phone) as page:
            page.tab.select_option("#shakes-for", role)
            page.tab.check("#by-press")
            page.tab.tap("#start-panel .big")
            page.await_that("page.record.lines.some(l => l.cue === 'home' && l.channel === 'rumble' && !l.why)")
            shown = page.ask("window.pulses")
            assert [len(pulses) for pulses in shown] == [len(pulses) for pulses in expected]
            late_ms = {f["cue"]: f["late_ms"] for f in page.firings("rumble") if not f["why"]}.values()
            for got, wanted, late in zip(shown, expected, late_ms, strict=True):
                assert got[1:] == wanted[1:]
                assert wanted[0] - late - 20 <= got[0] <= wanted[0]    # what has passed already is left out


# -- ears -------------------------------------------------------------------------------------------------------------


def test_tones_are_those_of_the_program_sample_by_sample(running, address):
    odd = SoundPattern(
        steps=(SoundStep(hz=500.0, to_hz=2500.0, level=0.9, lasts_ns=31 * MS), SoundStep(lasts_ns=7 * MS)),
        times=3, attack_ns=30 * MS, release_ns=20 * MS,
    )  # fmt: skip
    with opened(running, address) as page:
        for name, pattern in {**PATTERNS.sound, "odd": odd}.items():
            got = page.ask("([pattern, rate]) => [...samplesOf(pattern, rate)]", [as_json(pattern), RATE_HZ])
            wanted = np.frombuffer(pcm(pattern), dtype="<i2")[::2] / PEAK
            assert len(got) == len(wanted), name
            assert np.abs(np.array(got) - wanted).max() < 2e-3, name


def test_the_count_in_has_the_same_tones_as_the_programs(running, address):
    """On the page as in the program: a second from beat to beat, and the same steps, so the same samples."""
    with opened(running, address) as page:
        beats = page.ask("beatTones(10e9)")
    assert [beat["beginNs"] for beat in beats] == [7e9, 8e9, 9e9, 10e9]
    for left, beat in zip((3, 2, 1, 0), beats, strict=True):
        assert beat["pattern"] == as_json(beat_sound(left))
        assert beat["lastsNs"] == lasts_ns(beat_sound(left))


def test_a_tone_sounds_from_its_begin_and_a_higher_one_ends_it(running, address):
    """Rendered by the browser's own OfflineAudioContext: both parts of the rising call, then the drop cuts in."""
    script = """async ([rising, drop]) => {
      const context = new OfflineAudioContext(1, 48000 * 1.5, 48000);
      Object.defineProperty(context, 'state', {value: 'running'});
      const tones = new Tones(() => context);
      tones.wake();
      const now = 1e9;
      const tone = (key, pattern, at, priority) => (
        {key, pattern, beginNs: now + at * 1e9, lastsNs: 480e6, priority});
      const answers = [
        tones.set(tone('rising', rising, 0.5, 5), now),
        tones.set(tone('drop', drop, 0.6, 9), now),
        tones.set(tone('low', drop, 0.7, 1), now),
      ];
      return [answers, [...(await context.startRendering()).getChannelData(0)]];
    }"""
    rising, drop = PATTERNS.sound["rising"], PATTERNS.sound["drop"]
    with opened(running, address) as page:
        answers, samples = page.ask(script, [as_json(rising), as_json(drop)])
        assert page.ask("page.devices.tones.volume") == 0.5
    assert answers == ["", "", "outranked"]
    heard = np.array(samples) / 0.5                                    # the volume
    alone = np.frombuffer(pcm(rising), dtype="<i2")[::2] / PEAK
    after = np.frombuffer(pcm(drop), dtype="<i2")[::2] / PEAK
    assert np.abs(heard[: RATE_HZ // 2]).max() == 0
    assert np.abs(heard[24_000:28_800] - alone[:4_800]).max() < 0.01
    begin = int(0.6 * RATE_HZ) + 480                                   # ten milliseconds for the cut
    assert np.abs(heard[begin : begin + 10_000] - after[480:10_480]).max() < 0.01


def test_the_page_works_without_sound_and_says_so(running, address):
    with opened(running, f"{address}?start=now&from=113.8", "delete window.AudioContext;") as page:
        page.await_that("page.record.lines.filter(l => l.cue === 'home' && l.channel !== 'rumble').length >= 2")
        home = [f for f in page.firings("sound") if f["cue"] == "home"]
        assert [(f["outcome"], f["why"]) for f in home] == [("skipped", "absent")]
        assert "no sound" in page.ask("document.querySelector('#facts').textContent")
        assert page.ask("document.querySelector('#word').textContent.trim()") == "HOME"


def test_a_device_that_has_nothing_still_calls_on_the_screen_and_says_what_is_missing(running, address):
    bare = """
      delete window.AudioContext; delete window.webkitAudioContext;
      for (const name of ['getGamepads', 'vibrate', 'wakeLock']) {
        Object.defineProperty(navigator, name, {value: undefined});
      }
      Object.defineProperty(window, 'localStorage', {get() { throw new Error('forbidden'); }});"""
    said = {
        "fact-sound": "no Web Audio", "fact-driver": "knows no pads", "fact-operator": "knows no pads",
        "fact-vibration": "cannot shake", "fact-screen": "cannot keep it on", "fact-record": "in memory only",
    }  # fmt: skip
    with opened(running, address, bare) as page:
        page.tab.keyboard.press("t")
        for fact, words in said.items():
            page.await_that(f"document.querySelector('#{fact}').textContent.includes('{words}')")
        page.tab.goto(f"{address}?start=now&from=113.9")
        page.await_that("document.querySelector('#word').textContent.trim() === 'HOME'")
        outcomes = {(f["channel"], f["why"]) for f in page.firings() if f["cue"] == "home"}
        assert outcomes == {("rumble", "absent"), ("screen", ""), ("sound", "absent")}


def test_sound_can_be_turned_off_and_scrap_silences_what_was_set(running, address):
    with opened(running, f"{address}?from=111.2", EARS) as page:
        page.start()
        page.await_that("window.tones.length === 1")                   # home is set already, 2.8 s ahead
        page.tab.keyboard.press("m")
        assert "sound off" in page.ask("document.querySelector('#facts').textContent")
        assert page.ask("page.devices.tones.state") == "muted"
        page.press_at_once("x", "x")
        page.await_that("window.tones[0].stops")                       # with the page's next frame
        assert [tone["stops"] for tone in page.ask("window.tones")] == [True]


def test_the_page_of_an_event_is_silent_until_somebody_turns_its_sound_on(running, tmp_path):
    master = "page.devices.tones._master.gain.value"
    with opened(running, write_page(tmp_path, bundled("full"), quiet=True) + "?from=111.2", EARS) as page:
        assert "off" in page.ask("document.querySelector('#fact-sound').textContent")
        page.start()
        page.await_that("window.tones.length === 1")
        assert page.ask("page.devices.tones.state") == "muted"
        assert page.ask(master) == 0
        page.tab.keyboard.press("m")
        assert page.ask("document.querySelector('#sound-on').checked")
        assert page.ask(master) > 0


# -- eyes -------------------------------------------------------------------------------------------------------------

COLOURS = [*OKABE_ITO.values(), (255, 0, 0), (10, 0, 0), (128, 128, 128), (90, 90, 90)]


def test_no_more_than_two_flashes_in_any_second_whatever_is_wanted(running, address):
    """The measure is the program's own, which keeps to WCAG 2.2 and half of what it allows."""
    rng = random.Random("flashes")
    at_ns, frames = 0, []
    for _ in range(1500):
        at_ns += rng.choice([16, 16, 16, 33, 100, 250, 400]) * MS
        one, other = rng.choice(COLOURS), rng.choice(COLOURS)
        laid = rng.choice([[one, other, one, other], [one, one, other, other]])
        frames.append((at_ns, [*(laid if rng.random() < 0.5 else [(0, 0, 0)] * 4), *laid]))
    with opened(running, address) as page:
        script = """frames => {
          const guard = new FlashGuard(8);
          return frames.map(([at, wanted]) => guard.admit(at, wanted.map(harmless)));
        }"""
        shown = page.ask(script, [[at, [list(c) for c in wanted]] for at, wanted in frames])
        assert flicker([(at, [tuple(c) for c in row]) for (at, _), row in zip(frames, shown, strict=True)]).within(2)
        steady = page.ask(
            """() => { const guard = new FlashGuard(8); let came = null;
              for (let ms = 0; ms < 3000; ms += 16) {
                const wanted = ms < 400 && ms % 32 ? Array(8).fill([0,0,0]) : Array(8).fill([255,255,255]);
                const shown = guard.admit(ms * 1e6, wanted);
                if (ms >= 400 && came === null && shown === wanted) { came = ms; }
              } return came; }"""
        )
        assert steady < 400 + 1000                                     # nothing is kept back for long


def test_fields_are_never_saturated_red_and_letters_are_readable(running, address):
    with opened(running, address) as page:
        for colour in COLOURS:
            assert tuple(page.ask("harmless", list(colour))) != (255, 0, 0)
            letters = tuple(page.ask("readable", list(colour)))
            assert contrast(letters, (0, 0, 0)) >= 7
            assert page.ask("luminance", list(colour)) == pytest.approx(relative_luminance(colour), abs=1e-12)
        assert page.ask("[FRAME_SHARE, STEP, BRIGHT]") == [FRAME_SHARE, 0.1, 0.8]


SIZES = ((1366, 768), (390, 844), (1024, 768), (844, 390))
# Boxes, areas and letters as they stand in the browser.
MEASURES = """() => {
  const box = (id) => {
    const {left, top, right, bottom} = document.querySelector(id).getBoundingClientRect();
    return {left, top, right, bottom};
  };
  const style = (id) => getComputedStyle(document.querySelector(id));
  return {
    stage: box('#stage'), plate: box('#plate'), word: box('#word'), hole: box('#hole'), bar: box('#bar'),
    full: document.querySelector('#hole').hidden, cap: parseFloat(style('#word').fontSize) * CAP,
    plateColour: style('#plate').backgroundColor, scroll: document.documentElement.scrollWidth,
  };
}"""


# Measured by the page itself as soon as it shows what is waited for: the full field lasts 1.5 s, and the machine may be
# busy.
AS_SOON_AS = """(id) => new Promise((done) => {
  const look = () => {
    const shown = !document.querySelector('#field').hidden && (id === '#field' || !document.querySelector(id).hidden);
    return shown ? done([(MEASURES)(), INSET]) : requestAnimationFrame(look);
  };
  look();
})""".replace("MEASURES", MEASURES).replace("INSET", INSET)


def assert_all_within(found, width, height):
    plate, stage = found["plate"], found["stage"]
    assert found["plateColour"] == "rgb(0, 0, 0)"
    assert stage["left"] <= plate["left"] <= found["word"]["left"]
    assert found["word"]["right"] <= plate["right"] <= stage["right"]
    assert stage["top"] <= plate["top"]
    assert plate["bottom"] <= stage["bottom"]
    assert found["bar"]["bottom"] <= height
    assert found["scroll"] <= width


def test_home_takes_the_field_then_a_frame_of_at_most_a_fifth_and_its_plate_holds_all_words(running, address):
    full = {}
    for width, height in SIZES:
        viewport = {"width": width, "height": height}
        with opened(running, f"{address}?from=113.2", viewport=viewport) as page:
            # Both are looked out for before the start: the machine may be busy when they come.
            page.ask(f"[window.field, window.frame] = ['#field', '#hole'].map({AS_SOON_AS}); 0")
            page.start()
            full[width, height], inset = page.ask("window.field")
            assert full[width, height]["full"], (width, height)
            assert set(inset) == {0}
            assert_all_within(full[width, height], width, height)
            frame, (top, right, bottom, left) = page.ask("window.frame")
            outer = (width - left - right) * (frame["stage"]["bottom"] - top - bottom)
            inner = (frame["hole"]["right"] - frame["hole"]["left"]) * (frame["hole"]["bottom"] - frame["hole"]["top"])
            assert 0 < outer - inner <= 0.2 * width * height, (width, height)
            assert_all_within(frame, width, height)
    assert full[1366, 768]["cap"] == pytest.approx(768 / 4, rel=0.03)         # where the width allows it


def test_reduced_motion_keeps_the_frame_still_and_the_count_in_without_beats(running, address):
    with opened(running, f"{address}?from=115.9", reduced_motion="reduce") as page:
        page.start()
        page.await_that("!document.querySelector('#word').hidden")     # the half of HOME has passed: resumed, and still
        assert page.ask("document.querySelector('#word').textContent.trim()") == "HOME"
        assert set(page.ask(INSET)) == {0}
        assert page.ask("beatLook(-1e9, true)") is None
        assert page.ask("beatLook(-1e9, false).full")


def test_the_beat_of_the_count_in_shows_once_a_second(running, address):
    with opened(running, address) as page:
        shows = page.ask("Array.from({length: 700}, (_, n) => beatLook((n - 600) * 1e7, false) !== null)")
    risings = [n for n in range(1, len(shows)) if shows[n] and not shows[n - 1]]
    assert [n * 10 - 6000 for n in risings] == [-3000, -2000, -1000, 0]
    assert S // 4 < sum(shows) * 10 * MS // 4 < S // 2


def test_the_quiet_plan_shows_what_the_strip_would_as_a_frame(running, tmp_path):
    quiet = write_page(tmp_path, bundled("quiet"))
    with opened(running, f"{quiet}?start=now&from=113.8") as page:
        page.await_that("document.querySelector('#word').textContent.includes('HOME')")
        assert not page.ask("document.querySelector('#hole').hidden")
        assert page.firings("light")[0]["cue"] == "home"
