"""Two real programs play one match: the second by another clock, over a line that delays, breaks, and comes back."""

import signal

import pytest

from tests.support.preload import skew
from tests.support.stands.laptops import Laptops
from tests.support.stands.slow_line import steady
from tests.support.stands.stand import Run, rig_file, wait_for

pytestmark = pytest.mark.devices


@pytest.fixture
def begin(tmp_path):
    """Give what starts a keeper, and its follower once both stand by."""
    if why := skew.lacking():
        pytest.skip(why)
    both = []

    def begun(*arguments, **keywords):
        both.append(Laptops(tmp_path, *arguments, **keywords))
        both[-1].follow()
        both[-1].await_follower()
        return both[-1]

    yield begun
    for laptops in both:
        laptops.end()


def within_what_is_stated(laptops):
    cues = laptops.cues()
    assert [cue for cue in cues if abs(cue.meant_apart_ns) > cue.stated_ns] == []
    assert all(abs(error_ns) <= stated_ns for error_ns, stated_ns in laptops.offsets())
    return cues


def state_now(run):
    return next((r for r in reversed(run.records()) if r["kind"] == "state" and not r["refused"]), None)


def phase_is(run, phase):
    return wait_for(lambda: (found := state_now(run)) and any(s.startswith(phase) for s in found["states"]) and found)


def test_both_give_the_same_cues_within_the_stated_bound_over_uneven_ways(begin):
    """5 ms out and 25 back: the offset reads 10 ms wrong, as it must, and ± 15 ms covers it (RFC 5905's formulas)."""
    laptops = begin("--rate", "10", ppm=60)
    laptops.line.out, laptops.line.back = steady(0.005), steady(0.025)
    laptops.keeper.press("s")
    laptops.follower.await_record(kind="end")
    laptops.keeper.await_record(kind="end")
    cues = within_what_is_stated(laptops)
    assert {cue.name[0] for cue in cues} >= {"count_in", "home", "no_touch", "over"}
    header = laptops.follower.records()[0]
    assert header["options"]["follows"]["place"] == f"127.0.0.1:{laptops.line.port}"
    assert laptops.token not in (laptops.there / "runs").joinpath(
        next((laptops.there / "runs").glob("*/journal.jsonl"))
    ).read_text("utf-8")


def test_it_plays_on_while_the_line_is_cut_and_hears_of_a_hold_when_it_is_back(begin):
    laptops = begin("--from", "driver.end-40s")
    laptops.keeper.press("s")
    phase_is(laptops.follower, "running")
    laptops.line.cut()
    laptops.keeper.press("p")
    held = phase_is(laptops.keeper, "held")
    laptops.follower.await_record(kind="firing", cue="home", outcome="played")     # it cannot know
    laptops.line.cut(is_cut=False)
    phase_is(laptops.follower, "held")
    laptops.keeper.press("p")
    laptops.follower.await_record(kind="origin", cause="resume")
    laptops.keeper.press("xx")
    phase_is(laptops.follower, "scrapped")
    assert laptops.follower.process.poll() is None
    assert held["held_ns"]
    within_what_is_stated(laptops)


def test_a_keeper_that_is_killed_and_resumed_is_followed_on(begin):
    laptops = begin("--from", "driver.end-90s")
    laptops.keeper.press("s")
    phase_is(laptops.follower, "running")
    laptops.keeper.process.send_signal(signal.SIGKILL)
    laptops.keeper.process.communicate(timeout=10)
    laptops.resume()
    laptops.keeper.await_record(kind="fault", what="resumed")
    wait_for(lambda: laptops.listens() and laptops.state()["programs"])
    laptops.keeper.press("p")
    phase_is(laptops.follower, "held")
    laptops.keeper.press("p")
    laptops.follower.await_record(kind="origin", cause="resume")
    laptops.keeper.press("xx")
    phase_is(laptops.follower, "scrapped")
    assert len(list((laptops.there / "runs").iterdir())) == 1, "one match, one run"
    within_what_is_stated(laptops)


def test_a_wrong_token_and_one_that_only_looks_are_told_at_once(begin, tmp_path):
    laptops = begin()
    cases = {"x" * 22: "does not know this token", laptops.watch: "one may look, but not follow"}
    for token, says in cases.items():
        folder = tmp_path / token
        folder.mkdir()
        run = Run(folder, f"http://127.0.0.1:{laptops.line.port}/#t={token}", rig=rig_file(folder), command="follow")
        code, _, err = run.finish()
        assert code == 2
        assert says in " ".join(err.split())
        assert token not in err
