"""Who wins a device: what findings reckon with against the rules that the devices themselves keep."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.rumble.arbiter import Arbiter
from tocsin.lint.tracks import PlacedFiring, Track, foremost, played
from tocsin.model.clock.schedule import Shot
from tocsin.model.display import view_model
from tocsin.model.pattern import RumblePattern, RumbleStep
from tocsin.model.timeline.point import MATCH, Point
from tocsin.model.timeline.timeline import Firing
from tocsin.units import NS_PER_MS as MS
from tocsin.units import NS_PER_S as S

STEP_NS = 100 * MS


def firing(no: int, priority: int) -> Firing:
    return Firing(
        no=no, cue=f"cue_{no}", n=0, channel="rumble", role="driver", begin=Point(MATCH, 0), until=None,
        sustained=False, pattern="p", word="", late_limit_ns=0, priority=priority, when="", match_ns=0, lasts_ns=0,
    )  # fmt: skip


@st.composite
def _placed(draw: st.DrawFn) -> list[PlacedFiring]:
    spans = draw(st.lists(st.tuples(st.integers(0, 20), st.integers(1, 8), st.integers(0, 2)), max_size=12))
    spans.sort(key=lambda span: span[0])
    return [
        PlacedFiring(firing(no, priority), begin * STEP_NS, (begin + length) * STEP_NS)
        for no, (begin, length, priority) in enumerate(spans)
    ]


@given(_placed())
def test_what_shows_is_what_strip_and_screen_choose(placed: list[PlacedFiring]) -> None:
    shots = [Shot(firing=p.firing, instance=0, begin_ns=p.begin_ns, end_ns=p.end_ns) for p in placed]
    spans = foremost(placed)
    for at_ns in range(0, 30 * STEP_NS, STEP_NS // 2):
        live = [shot for shot in shots if shot.begin_ns <= at_ns < (shot.end_ns or 0)]
        wanted = view_model.foremost(live)
        shown = [s.placed for s in spans if s.begin_ns <= at_ns < s.end_ns and s.placed is not None]
        assert [p.firing for p in shown] == ([wanted.firing] if wanted else [])


@given(_placed())
def test_what_a_pad_plays_is_what_its_arbiter_takes(placed: list[PlacedFiring]) -> None:
    arbiter, taken = Arbiter(), []
    for p in placed:
        while (due_ns := arbiter.next_ns()) is not None and due_ns <= p.begin_ns:
            arbiter.step(p.begin_ns)
        pattern = RumblePattern(steps=(RumbleStep(strong=1.0, lasts_ns=p.end_ns - p.begin_ns),))
        if arbiter.begin(p.firing.no, pattern, p.begin_ns, p.begin_ns, p.firing.priority):
            taken.append(p.firing.no)
    done = played(placed)
    assert sorted(one.placed.firing.no for one in done) == list(range(len(placed)))
    outranked = {one.placed.firing.no for one in done if one.by and one.by.firing.priority > one.placed.firing.priority
                 and one.end_ns == one.placed.begin_ns and one.by.begin_ns <= one.placed.begin_ns
                 and one.by.firing.no < one.placed.firing.no}  # fmt: skip
    assert [p.firing.no for p in placed if p.firing.no not in outranked] == taken


@given(_placed())
def test_a_pad_plays_one_thing_at_a_time(placed: list[PlacedFiring]) -> None:
    runs = sorted((one.placed.begin_ns, one.end_ns) for one in played(placed) if one.end_ns > one.placed.begin_ns)
    assert all(before[1] <= after[0] for before, after in pairwise(runs))


def test_moments_in_words() -> None:
    def when(anchor: str, at_ns: int) -> str:
        return Track(anchor=anchor, variant="", placed=(), channels={}).when(at_ns)

    assert when(MATCH, 114 * S) == "at 114s of the match"
    assert when("driver", 2 * S) == "at driver.begin+2s"
    assert when("call.home", 0) == "at the call"
    assert when("call.home", S) == "1s after the call"
    assert when("mark.swap", S) == "at mark.swap+1s"
