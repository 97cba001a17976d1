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
from tocsin.model.display.status import Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.model.timeline.timeline import MATCH

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


@pytest.mark.parametrize("name", SOURCES)
def test_the_words_are_those_of_the_programs_window(pages, name):
    made = SOURCES[name]
    timeline, maker = made.timeline, ViewModelMaker(made.timeline)
    rng = random.Random(f"words {name}")
    cases = []
    while len(cases) < 200:
        elapsed = elapsed_somewhere(timeline, rng)
        if MATCH in elapsed and elapsed[MATCH] >= 0 and not timeline.at(elapsed).ended:
            given = rng.sample(range(len(timeline.firings)), len(timeline.firings) // 4) if rng.random() < 0.3 else []
            cases.append((elapsed, rng.choice(timeline.variants or ("",)), rng.random() < 0.2, given))
    found = pages[name].ask(
        """cases => cases.map(([elapsed, variant, held, given]) => page._maker.at({
             phase: held ? 'held' : 'running', heldNs: held ? 0 : null, variant, given,
             elapsed: () => new Map(Object.entries(elapsed)),
           }, 0))""",
        cases,
    )
    for (elapsed, variant, held, given), got in zip(cases, found, strict=True):
        origins = tuple(Origin(anchor=anchor, origin_ns=-ns) for anchor, ns in elapsed.items())
        status = Status(
            phase="held" if held else "running", origins=origins, held_ns=0 if held else None, variant=variant,
            given=tuple(given),
        )  # fmt: skip
        view = maker.at(status, 0)
        words = (got["title"], got["digits"], got["moving"], got["windows"])
        assert words == (view.title, view.digits, view.moving, list(view.windows)), (elapsed, variant)
        assert got["ahead"] == [ahead.line for ahead in view.ahead], (elapsed, variant, given)


@pytest.mark.parametrize(
    ("variant", "word"), [("north_first", "SOUTH DOOR in 3 s"), ("south_first", "NORTH DOOR in 3 s")]
)
def test_what_comes_is_that_of_the_variant_that_is_played(pages, variant, word):
    found = pages["doors"].ask(
        """variant => page._maker.at({phase: 'running', heldNs: null, variant, given: [],
             elapsed: () => new Map([['match', 50e9]])}, 0).ahead""",
        variant,
    )
    assert word in found


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


PLAYED_IN_THE_PAGE = """([channel, lives]) => {
  const origin = (o) => ({anchor: o.anchor, originNs: o.origin_ns, rate: o.rate, instance: o.instance,
                          sentNs: o.sent_ns, startsNs: o.starts_ns});
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
