"""Every way out leaves the strip black, the sound silent and no process behind, within a second or so."""

import signal
import time

import pytest

from tests.support.stands.stand import Run, firings, gone, rig_file, wait_for, workers
from tocsin.units import NS_PER_S

pytestmark = pytest.mark.devices


def lit_run(tmp_path, strip):
    """Return a run that has HOME on the strip, and its workers."""
    run = Run(tmp_path, "--from", "driver.end-23s", "--rate", "2", rig=rig_file(tmp_path, strip))
    run.await_record(kind="firing", channel="light", cue="home", outcome="played")
    wait_for(lambda: strip.frames and not strip.black)
    return run, workers(run.pid)


@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 143)], ids=lambda v: str(int(v))
)
def test_a_signal_scraps_the_match_with_its_exit_code(tmp_path, strip, number, code):
    run, found = lit_run(tmp_path, strip)
    run.process.send_signal(number)
    returned, summary, err = run.finish(10)
    assert returned == code
    assert summary["outcome"] == "scrapped"
    assert summary["exit"] == code
    assert "Traceback" not in err
    assert strip.black
    assert gone(found)
    assert run.records()[-1]["kind"] == "end"


def test_a_killed_conductor_leaves_everything_safe(tmp_path, strip):
    run, found = lit_run(tmp_path, strip)
    run.kill()
    wait_for(lambda: strip.black, 2)
    assert gone(found)


def test_a_run_that_was_cut_short_goes_on_with_its_own_clock(tmp_path, strip):
    run, _ = lit_run(tmp_path, strip)
    begin = next(r for r in run.records() if r["kind"] == "origin")
    origin, start_ns = begin["origin_ns"], begin["at_ns"]
    killed_ns = time.perf_counter_ns()
    run.kill()
    wait_for(lambda: strip.black, 2)
    again = Run(tmp_path, "--resume")
    code, summary, err = again.finish()
    assert summary["outcome"] == "over", err
    assert summary["disturbed"] is True
    records = again.records()
    cut_ns = next(r["at_ns"] for r in records if r["kind"] == "fault" and r["what"] == "resumed")
    assert {r["origin_ns"] for r in records if r["kind"] == "origin"} == {origin}
    # Lost is what fell due while nobody ran, and nothing else; that and only that costs the exit code.
    lost = [r for r in firings(records) if r["why"] in ("late", "crossed") and origin + r["due_ns"] // 2 > start_ns]
    assert all(killed_ns <= origin + r["due_ns"] // 2 <= cut_ns + NS_PER_S for r in lost)
    assert code == (1 if any(r["why"] == "late" for r in lost) else 0)
    assert not firings(records, outcome="failed")
    played = [(r["no"], r["instance"]) for r in firings(records, outcome="played")]
    assert len(played) == len(set(played))                       # nothing is struck twice
    assert "no_touch" in {r["cue"] for r in firings(records, "light") if r["outcome"] in ("played", "resumed")}
    assert sum(r["kind"] == "end" for r in records) == 1
    assert strip.black


def test_a_run_that_would_be_over_by_now_gets_its_end_and_no_new_match_begins(tmp_path):
    run = Run(tmp_path, "--from", "driver.end-20s", "--rate", "10")
    origin_ns = run.await_record(kind="origin", anchor="match")["origin_ns"]
    run.kill()
    over_ns = origin_ns + 140 * NS_PER_S // 10          # the bundled game's 136 s and 4 s to coast
    wait_for(lambda: time.perf_counter_ns() > over_ns)
    again = Run(tmp_path, "--resume")
    code, summary, err = again.finish()
    assert (code, summary) == (22, {}), err
    assert "that run is over: nothing to go on with" in err
    assert len(list((tmp_path / "runs").iterdir())) == 1
    end = again.records()[-1]
    assert (end["kind"], end["outcome"]) == ("end", "crashed")
    code, _, err = Run(tmp_path, "--resume").finish()
    assert code == 22
    assert "there is no run to go on with" in err


def test_nothing_to_go_on_with_is_said_in_a_sentence(tmp_path):
    code, _, err = Run(tmp_path, "--resume").finish()
    assert code == 22
    assert "there is no run to go on with" in err
    assert "Traceback" not in err


def test_two_at_once_are_refused(tmp_path, strip):
    run = Run(tmp_path, "--from", "driver.end-20s", rig=rig_file(tmp_path, strip))
    run.worker("light")
    code, _, err = Run(tmp_path, "--rate", "100").finish()
    assert code == 21
    assert f"another Tocsin is running (process {run.pid})" in err
    run.process.terminate()
    run.finish()


def test_a_channel_that_was_asked_for_must_be_there(tmp_path):
    code, _, err = Run(tmp_path, "--only", "light", rig=rig_file(tmp_path)).finish()
    assert code == 21
    assert "light was asked for" in err
    assert "no such port" in err


def test_a_folder_that_cannot_be_written_is_refused_before_the_match(tmp_path):
    (tmp_path / "runs").write_text("a file, not a folder")
    code, _, err = Run(tmp_path).finish()
    assert code == 22
    assert "journal cannot be written" in err
    assert "--runs" in err


def test_every_mistake_of_a_plan_is_shown_and_nothing_starts(tmp_path):
    plan = tmp_path / "mine.toml"
    plan.write_text('format = "tocsin-plan/1"\nname = "Mine"\ngame = "bel_works"\n[[cue]]\nid = "home"\nat = 30\n')
    code, _, err = Run(tmp_path, "--plan", str(plan)).finish()
    assert code == 20
    assert "casting_day" in err
    assert "line 6" in " ".join(err.split())      # long folders wrap the line
