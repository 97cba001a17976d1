"""A disk that hangs under a whole match holds up neither the cues nor a way out, and it is said what may be lost."""

import signal

import pytest

from tests.support.preload.disk import Disk, lacking
from tests.support.stands.stand import Run, gone, rig_file, wait_for, workers
from tocsin.journal.writer import CLOSE_S

pytestmark = [pytest.mark.devices, pytest.mark.skipif(bool(lacking()), reason=lacking())]


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return Disk(tmp_path_factory.mktemp("disk"))


@pytest.fixture
def disk(library):
    library.answer()
    yield library
    library.answer()


def hung_run(tmp_path, strip, disk, *options):
    """Return a run whose disk hangs from the first state on, once HOME is on the strip; and its workers."""
    arguments = ("--from", "driver.end-25s", "--start", "now", *options)
    run = Run(tmp_path, *arguments, rig=rig_file(tmp_path, strip), env=disk.env(tmp_path / "runs", "mkdir,write,fsync"))
    run.await_record(kind="state")
    disk.hang()
    wait_for(lambda: strip.frames and not strip.black)
    return run, workers(run.pid)


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)], ids=lambda v: str(int(v)))
def test_a_match_on_a_hung_disk_is_left_at_once(tmp_path, strip, disk, number, code):
    run, found = hung_run(tmp_path, strip, disk, "--rate", "2")
    run.process.send_signal(number)
    wait_for(lambda: strip.black, 3)           # long before the journal has been given up
    returned, summary, err = run.finish(3 * CLOSE_S)
    assert (returned, summary["outcome"]) == (code, "scrapped")
    assert "the disk has not answered for 5 s" in err
    assert "may be lost" in err
    assert gone(found)


def test_a_match_on_a_hung_disk_is_played_to_its_end_and_says_what_is_lost(tmp_path, strip, disk):
    run, found = hung_run(tmp_path, strip, disk, "--rate", "10")
    returned, summary, err = run.finish(60)
    assert (returned, summary["outcome"], summary["exit"]) == (22, "over", 22)
    light = summary["channels"]["light"]
    assert light["failed"] == 0
    assert light["played"] > 0
    assert not {"late", "absent"} & set(light["skipped_why"])
    assert "the disk has not answered for 5 s; the last" in err
    assert strip.black
    assert gone(found)


def test_a_disk_that_answers_again_has_the_whole_match(tmp_path, strip, disk):
    run, _ = hung_run(tmp_path, strip, disk, "--rate", "10")
    disk.answer()
    returned, summary, _ = run.finish(60)
    assert (returned, summary["outcome"]) == (0, "over")
    records = run.records()
    assert records[-1]["kind"] == "end"
    played = [record for record in records if record["kind"] == "firing" and record["channel"] == "light"]
    assert len(played) == summary["channels"]["light"]["firings"]
