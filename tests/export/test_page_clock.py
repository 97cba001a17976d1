"""The page's clock, schedule and words against those of the program, at many moments of many matches."""

import contextlib
import random

import msgspec
import pytest

from tests.support.export.exported_plans import BUNDLED, bundled
from tests.support.export.page_sources import by_hand
from tests.support.export.page_stand import MS, S, browser, opened, write_page
from tocsin.model.clock.origins import Origin, Origins, next_occurrence
from tocsin.model.clock.schedule import Schedule
from tocsin.model.display.digits import official
from tocsin.model.display.status import KeyHelp, Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.drill import ALL_SHOWN
from tocsin.model.rig import Start
from tocsin.model.timeline.timeline import MATCH, Point

pytestmark = pytest.mark.devices

SOURCES = {**{plan: bundled(plan) for plan in BUNDLED}, "by_hand": by_hand()}


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """The page of each source, open in a tab of its own."""
    with contextlib.ExitStack() as stack:
        running = stack.enter_context(browser())
        yield {
            name: stack.enter_context(opened(running, write_page(tmp_path_factory.mktemp(name), made)))
            for name, made in SOURCES.items()
        }


def elapsed_somewhere(timeline, rng):
    """Return match time since some origins: at edges, beside them, anywhere, before the begin and after the end."""
    edges = timeline.boundaries()
    known = timeline.segments[: rng.randint(1, len(timeline.segments))]
    elapsed = {}
    for segment in known:
        near = rng.choice(edges[segment.anchor]) + rng.choice([-S, -1, 0, 1, S])
        elapsed[segment.anchor] = rng.choice([near, rng.randint(-5 * S, 170 * S)])
    for anchor in ("mark.contact", "call.home"):
        if rng.random() < 0.3:
            elapsed[anchor] = rng.randint(-S, 20 * S)
    return elapsed


@pytest.mark.parametrize("name", SOURCES)
def test_the_reading_is_the_timelines_at_two_hundred_moments(pages, name):
    timeline = SOURCES[name].timeline
    rng = random.Random(f"reading {name}")
    moments = [elapsed_somewhere(timeline, rng) for _ in range(200)]
    found = pages[name].ask(
        "moments => moments.map(moment => page.timeline.at(new Map(Object.entries(moment))))", moments
    )
    for elapsed, got in zip(moments, found, strict=True):
        reading = timeline.at(elapsed)
        assert got == {
            "period": reading.period,
            "awaits": reading.awaits,
            "windows": list(reading.windows),
            "matchNs": reading.match_ns,
            "leftNs": reading.left_ns,
            "over": reading.over,
            "ended": reading.ended,
        }, elapsed


def test_the_digits_are_the_official_displays_at_two_hundred_moments(pages):
    """Known: "ceil" shows 0:20 from 20.0 until 19.0 s are left, "floor" from below 21.0 until 20.0 s (the design)."""
    rng = random.Random("digits")
    lefts = [-S, -1, 0, 1, S - 1, S, S + 1, 19 * S, 19 * S + 1, 20 * S, 20 * S + 1, 21 * S - 1, 60 * S, 3600 * S]
    lefts += [rng.randint(0, 200 * S) for _ in range(200 - len(lefts))]
    for digits in ("ceil", "floor"):
        found = pages["full"].ask("([lefts, digits]) => lefts.map(ns => official(ns, digits))", [lefts, digits])
        assert found == [official(ns, digits) for ns in lefts]
        assert found[lefts.index(20 * S)] == "0:20"


ORIGIN_IN_PAGE = """const origin = (o) => ({anchor: o.anchor, originNs: o.origin_ns, rate: o.rate,
  instance: o.instance, sentNs: o.sent_ns, startsNs: o.starts_ns});"""
VIEWS_IN_THE_PAGE = "cases => {" + ORIGIN_IN_PAGE + """
  return cases.map(([status, nowNs]) => {
    const origins = new Origins(page.timeline);
    status.origins.forEach((one) => origins.known.set(one.anchor, origin(one)));
    return page._maker.at({
      phase: status.phase, origins, heldNs: status.held_ns, variant: status.variant, given: status.given,
      shows: status.shows, sign: status.sign, ofMatch: status.of_match, begins: status.begins,
      behindNs: status.behind_ns, clearUntilNs: status.clear_until_ns, outsideUntilNs: status.outside_until_ns,
      keepsOut: status.keeps_out, ask: status.ask, hasResult: status.result.length > 0, keys: status.keys,
      start: {by: status.start.by, countInNs: status.start.count_in_ns}, earlyMs: status.early_ms,
      typed: status.typed,
    }, nowNs);
  });
}"""
BOUND = (("s", "start"), ("p", "hold"), ("b", "begin"))
KEYS = tuple(KeyHelp(key=key, does="", action=action) for key, action in BOUND)


def some_status(timeline, rng):
    """Return a status as any program may show it: on edges, counted in, held, over, hidden, of a match or of none."""
    now_ns = 10**12
    elapsed = elapsed_somewhere(timeline, rng)
    starts_ns = rng.choice([0, 0, 0, now_ns + rng.choice([-S, 1, S, 3 * S])])
    origins = tuple(
        Origin(anchor=anchor, origin_ns=now_ns - ns, starts_ns=starts_ns) for anchor, ns in elapsed.items()
    )
    phase = rng.choice(["running", "running", "running", "running", "waiting", "held", "over", "standby", "scrapped"])
    until_ns = [None, now_ns - S, now_ns, now_ns + 1, now_ns + rng.randint(1, 70 * S)]
    return Status(
        phase=phase,
        origins=() if phase == "standby" and rng.random() < 0.5 else origins,
        held_ns=now_ns if phase == "held" else None,
        variant=rng.choice(("", *timeline.variants)),
        given=tuple(rng.sample(range(len(timeline.firings)), len(timeline.firings) // 4)) if rng.random() < 0.3 else (),
        shows=rng.choice([ALL_SHOWN, ALL_SHOWN, ("clock",), ()]),
        sign=rng.choice([(), ("WATCH", "the robot, not the clock")]),
        of_match=rng.random() < 0.9,
        begins=rng.choice([Point(MATCH, 0), Point(timeline.segments[-1].anchor, rng.randint(0, 10 * S))]),
        behind_ns=rng.choice([0, 0, 700 * MS, 2 * S]),
        clear_until_ns=rng.choice(until_ns),
        outside_until_ns=rng.choice(until_ns),
        keeps_out=rng.random() < 0.5,
        ask=rng.choice(["", "", "Who is on the field?"]),
        result=rng.choice([(), ("clean",)]),
        keys=rng.choice([(), KEYS, KEYS]),
        start=Start(by=rng.choice(["count_in", "countdown", "horn", "press"]), count_in_ns=rng.choice([3, 5]) * S),
        early_ms=rng.choice([0, 0, 40, 250, 350, 750, 1250]),
        typed=rng.choice(["", "", "", "1:2_", "1:23"]),
    ), now_ns  # fmt: skip


@pytest.mark.parametrize("name", SOURCES)
def test_the_words_are_those_of_the_programs_window(pages, name):
    timeline, maker = SOURCES[name].timeline, ViewModelMaker(SOURCES[name].timeline)
    rng = random.Random(f"words {name}")
    cases = [some_status(timeline, rng) for _ in range(400)]
    found = pages[name].ask(VIEWS_IN_THE_PAGE, msgspec.to_builtins(cases))
    stages = set()
    for (status, now_ns), got in zip(cases, found, strict=True):
        view = maker.at(status, now_ns)
        expected = {
            "title": view.title, "digits": view.digits, "moving": view.moving, "sign": list(view.sign),
            "windows": list(view.windows), "ahead": [ahead.line for ahead in view.ahead], "prompt": view.prompt,
            "clear": view.clear, "outside": view.outside,
        }  # fmt: skip
        assert {name: got[name] for name in expected} == expected, status
        stages.add((got["stage"], bool(got["sign"]), got["tells"]))
    assert {stage for stage, *_ in stages} == {"standby", "match", "over"}
    assert ("over", True, False) in stages


@pytest.mark.parametrize(
    ("variant", "word"), [("north_first", "SOUTH DOOR in 3 s"), ("south_first", "NORTH DOOR in 3 s")]
)
def test_what_comes_is_that_of_the_variant_that_is_played(pages, variant, word):
    status = Status(phase="running", variant=variant, origins=(Origin(anchor=MATCH, origin_ns=-50 * S),))
    [found] = pages["doors"].ask(VIEWS_IN_THE_PAGE, msgspec.to_builtins([(status, 0)]))
    assert word in found["ahead"]


def random_life(timeline, rng, numbers):
    """Return a run as steps: origins that come, move and go, calls, variants, and moments at which it is asked."""
    now_ns, steps, origins = 10**12, [], {}
    # Rates at which the offsets of all plans divide evenly: where a half is rounded differs by a nanosecond.
    rate = rng.choice([1, 2, 20])
    variant = rng.choice(timeline.variants or ("",))
    for _ in range(rng.randint(10, 40)):
        now_ns += rng.choice([0, MS, 100 * MS, S, 3 * S, 10 * S])
        kind = rng.choice(["due", "due", "due", "origin", "origin", "hold", "variant", "give"])
        if kind == "origin":
            anchor = rng.choice([*(s.anchor for s in timeline.segments), "mark.contact", "call.home"])
            instance = origins[anchor].instance + 1 if anchor in origins and "." in anchor else 0
            origins[anchor] = Origin(
                anchor=anchor, origin_ns=now_ns - rng.choice([0, -2 * S, S, 33 * S, 110 * S]), rate=float(rate),
                instance=instance, sent_ns=now_ns, starts_ns=rng.choice([0, 0, now_ns + 2 * S]),
            )  # fmt: skip
        elif kind == "hold":
            origins = {}
        elif kind == "variant":
            variant = rng.choice(timeline.variants or ("",))
        if kind == "give":
            steps.append({"give": rng.sample(numbers, min(2, len(numbers)))})
        elif kind != "due":
            steps.append({"origins": list(origins.values()), "variant": variant})
        steps.append({"due": now_ns})
    return steps


def played(timeline, firings, steps):
    """Return what the program's own schedule orders in such a run."""
    schedule = Schedule(firings, [segment.anchor for segment in timeline.segments])
    orders = []
    for step in steps:
        if "due" in step:
            orders.append([_told(order) for order in schedule.due(step["due"])])
        elif "give" in step:
            schedule.give(step["give"])
        else:
            schedule.withdraw()
            schedule.choose(step["variant"])
            for origin in step["origins"]:
                schedule.set_origin(origin)
    return orders


def _told(order):
    shot = order.shot
    return [order.verb, shot.firing.no, shot.instance, shot.begin_ns, shot.end_ns, shot.resumed, order.why]


PLAYED_IN_THE_PAGE = "([channel, lives]) => {" + ORIGIN_IN_PAGE + """
  const told = ({verb, shot, why}) => [verb, shot.firing.no, shot.instance, shot.beginNs, shot.endNs, shot.resumed,
                                       why === 'withdrawn' ? '' : why];
  return lives.map((steps) => {
    const firings = page.timeline.firings.filter((firing) => firing.channel === channel);
    const schedule = new Schedule(firings, page.timeline);
    const orders = [];
    for (const step of steps) {
      if ('due' in step) { orders.push(schedule.due(step.due).map(told)); }
      else if ('give' in step) { schedule.give(step.give); }
      else { schedule.setOrigins(step.origins.map(origin), step.variant); }
    }
    return orders;
  });
}"""


@pytest.mark.parametrize("channel", ["screen", "rumble"])
@pytest.mark.parametrize("name", ["full", "doors", "by_hand"])
def test_the_schedule_orders_what_the_programs_does(pages, name, channel):
    """Sustained cues resume, one-shots that are late are skipped, whatever origins come: both are asked alike."""
    timeline = SOURCES[name].timeline
    firings = [firing for firing in timeline.firings if firing.channel == channel]
    rng = random.Random(f"{name} {channel}")
    lives = [random_life(timeline, rng, [firing.no for firing in firings]) for _ in range(150)]
    found = pages[name].ask(PLAYED_IN_THE_PAGE, [channel, msgspec.to_builtins(lives)])
    verbs = set()
    for steps, got in zip(lives, found, strict=True):
        expected = played(timeline, firings, steps)
        if channel == "rumble":              # motors end by themselves: only what is withdrawn is told there
            got = [[order for order in orders if order[0] != "end"] for orders in got]
            expected = [[order for order in orders if order[0] != "end"] for orders in expected]
        assert got == expected
        verbs |= {(order[0], order[6]) for orders in got for order in orders}
    assert {("begin", ""), ("resume", ""), ("skip", "late"), ("skip", "crossed")} <= verbs


NUDGED_IN_THE_PAGE = """(aheads) => aheads.map((aheadNs) => {
  const none = () => {};
  const record = {begin: none, end: none, held: none, origin: none, variant: none};
  const match = new Match(page.timeline, {anchor: 'match', offset_ns: 0}, 1, record);
  const schedule = new Schedule(page.timeline.firings.filter((one) => one.channel === 'sound'), page.timeline);
  const done = [];
  match.start(0, 0, 'press');
  const home = page.timeline.firings.find((one) => one.cue === 'home' && one.match_ns !== null).begin.offset_ns;
  let nudgedNs = home - aheadNs;
  for (let nowNs = 0; nowNs < 170e9; nowNs += 20e6) {
    if (nudgedNs !== null && nowNs >= nudgedNs) {
      nudgedNs = null;
      match.nudge(nowNs, NUDGE_NS);
      match.nudge(nowNs, NUDGE_NS);
    }
    match.settle(nowNs);
    if (match.changed) {
      match.changed = false;
      schedule.setOrigins(match.firingOrigins(nowNs), match.variant);
    }
    schedule.due(nowNs).forEach(({verb, shot, why}) => done.push([verb, shot.firing.no, why]));
  }
  return [done, match.origins.latest.originNs];
})"""


def test_a_nudge_loses_no_cue_that_was_to_come(pages):
    timeline = SOURCES["full"].timeline
    own = [f.no for f in timeline.firings if f.channel == "sound" and f.match_ns is not None]
    aheads_ns = [10 * MS, 100 * MS, 190 * MS, 390 * MS, 410 * MS, -20 * MS]
    for done, origin_ns in pages["full"].ask(NUDGED_IN_THE_PAGE, aheads_ns):
        assert sorted(no for verb, no, _ in done if verb == "begin") == sorted(own)
        assert [one for one in done if one[0] == "skip"] == []
        assert origin_ns == -400 * MS


def test_a_call_stands_for_the_same_occurrence_as_in_the_program(pages):
    """Parts left early, parts counted in to, clocks started in mid-match: a hundred and fifty moments."""
    timeline = SOURCES["by_hand"].timeline
    rng = random.Random("calls")
    cases = []
    for _ in range(150):
        known = timeline.segments[: rng.randint(1, len(timeline.segments))]
        origins, at_ns = [], 0
        starts_ns = rng.choice([0, 0, rng.randint(1, 40) * S])
        for segment in known:
            origins.append(Origin(anchor=segment.anchor, origin_ns=at_ns, starts_ns=starts_ns))
            at_ns += rng.randint(1, 40) * S
        cases.append((origins, rng.randint(0, 80) * S))
    found = pages["by_hand"].ask(
        """cases => cases.map(([origins, nowNs]) => {
             const match = new Match(page.timeline, {anchor: 'match', offset_ns: 0}, 1, {});
             origins.forEach((o) => match.origins.known.set(o.anchor, {anchor: o.anchor, originNs: o.origin_ns, rate: 1,
               instance: 0, sentNs: 0, startsNs: o.starts_ns}));
             return ['home', 'there', 'here', 'swap'].map((cue) => match._nextOccurrence(nowNs, cue));
           })""",
        msgspec.to_builtins(cases),
    )
    for (origins, now_ns), got in zip(cases, found, strict=True):
        known = Origins(timeline, origins)
        elapsed = known.elapsed_ns(now_ns)
        expected = [
            next_occurrence(timeline, known, elapsed, timeline.default_variant, cue)
            for cue in ("home", "there", "here", "swap")
        ]
        assert got == expected, (origins, now_ns)
