"""Nothing that was written is lost or overwritten, and a disk in trouble never takes the match along."""

import errno
import json
import os
import shutil
import stat
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.preload.disk import Disk, lacking
from tocsin.errors import JournalError
from tocsin.journal.place import KEPT_NAMES
from tocsin.journal.reader import read
from tocsin.journal.records import FiringRecord, Header, OriginRecord
from tocsin.journal.writer import CLOSE_S, HANGS, MOST_WAITING_BYTES, JournalWriter

WALL = "2026-03-14T15:09:26.535Z"
HEADER = Header(at_ns=0, wall=WALL, boot="b", label="Practice")
NO_FULL_DISK = pytest.mark.skipif(sys.platform == "win32", reason="a full disk is made with RLIMIT_FSIZE (POSIX)")


def firing(n: int) -> FiringRecord:
    return FiringRecord(at_ns=n, cue="home", n=n, channel="light", anchor="match", due_ns=n, outcome="played")


def occurrences(folder: Path) -> list[int]:
    return [record.n for record in read(folder).records if isinstance(record, FiringRecord)]


def run_child(script: str, *arguments: object, **environment: str) -> dict:
    """Run a script in a process of its own; it prints one JSON object last."""
    prelude = """
        import json, os, signal, sys
        from pathlib import Path
        from tocsin import monotime
        from tocsin.errors import JournalError
        from tocsin.journal.records import End, FiringRecord, Header, State
        from tocsin.journal.writer import JournalWriter
        HEADER = Header(at_ns=0, wall="2026-03-14T15:09:26.535Z", boot="b")
        def firing(n):
            return FiringRecord(at_ns=n, cue="home", n=n, channel="light", anchor="match", due_ns=n, outcome="played")
        runs = Path(sys.argv[1])
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(prelude) + textwrap.dedent(script), *map(str, arguments)],
        capture_output=True, text=True, timeout=60, env={**os.environ, **environment}, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    return json.loads(done.stdout or "{}")


def test_what_was_appended_is_read_back_in_order(tmp_path):
    writer = JournalWriter.create(tmp_path / "new" / "runs", HEADER)
    given_records = [OriginRecord(at_ns=1, anchor="match", origin_ns=5, cause="start"), *map(firing, range(50))]
    for record in given_records:
        writer.append(record)
    assert writer.close() == ""
    journal = read(writer.folder)
    assert journal.records == (HEADER, *given_records)
    assert journal.troubles() == ()


def test_a_record_can_be_read_as_soon_as_it_is_appended(tmp_path):
    writer = JournalWriter.create(tmp_path, HEADER)
    assert read(writer.folder).records == (HEADER,)
    for n in range(3):
        writer.append(firing(n))
        assert occurrences(writer.folder) == list(range(n + 1))
    writer.close()


def test_runs_of_one_millisecond_and_label_get_folders_of_their_own(tmp_path):
    writers = [JournalWriter.create(tmp_path, HEADER) for _ in range(3)]
    for n, writer in enumerate(writers):
        writer.append(firing(n))
        writer.close()
    assert [occurrences(writer.folder) for writer in writers] == [[0], [1], [2]]


def test_closing_twice_and_appending_late_do_no_harm(tmp_path):
    writer = JournalWriter.create(tmp_path, HEADER)
    writer.append(firing(0))
    assert writer.close() == ""
    assert writer.close() == ""
    assert occurrences(writer.folder) == [0]


def test_a_runs_folder_that_is_a_file_is_refused(tmp_path):
    (tmp_path / "runs").write_text("mine")
    with pytest.raises(JournalError, match="cannot be written") as caught:
        JournalWriter.create(tmp_path / "runs", HEADER)
    assert caught.value.exit_code == 22
    assert "--runs" in caught.value.hint
    assert (tmp_path / "runs").read_text() == "mine"


@pytest.mark.devices
@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="root starts the other user")
@pytest.mark.skipif(shutil.which("setpriv") is None, reason="needs setpriv")
def test_a_folder_of_another_user_is_refused():
    script = """
import sys
from pathlib import Path
from tocsin.journal.records import Header
from tocsin.journal.writer import JournalWriter
JournalWriter.create(Path(sys.argv[1]), Header(at_ns=0, wall="w", boot="b"))
"""
    done = subprocess.run(
        ["setpriv", "--reuid=65534", "--clear-groups", sys.executable, "-c", script, "/root/tocsin-runs"],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert "JournalError: /root/tocsin-runs: the journal cannot be written: permission denied" in done.stderr


@pytest.mark.devices
@NO_FULL_DISK
def test_a_full_disk_at_the_opening_is_refused_and_leaves_no_folder(tmp_path):
    found = run_child(
        """
        import resource
        resource.setrlimit(resource.RLIMIT_FSIZE, (20, -1))
        try:
            JournalWriter.create(runs, HEADER)
        except JournalError as error:
            print(json.dumps({"exit": error.exit_code, "says": str(error)}))
        """,
        tmp_path,
    )
    assert found["exit"] == 22
    assert "cannot be written: file too large" in found["says"]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.devices
@NO_FULL_DISK
def test_records_wait_for_a_disk_that_is_full_and_follow_in_order(tmp_path):
    found = run_child(
        """
        import resource
        writer = JournalWriter.create(runs, HEADER)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4000, -1))       # one record goes out in part
        for n in range(100):
            writer.append(firing(n))
        full = writer.failed
        resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))         # room again
        limit_ns = monotime.now_ns() + 20 * 10**9
        while writer.failed and monotime.now_ns() < limit_ns:       # it tries again by itself
            monotime.sleep_ns(10**7)
        by_itself = writer.failed
        writer.append(firing(100))
        print(json.dumps({"full": full, "by_itself": by_itself, "end": writer.close(), "folder": str(writer.folder)}))
        """,
        tmp_path,
    )
    assert found["full"] == "file too large"
    assert found["by_itself"] == ""
    assert found["end"] == ""
    assert occurrences(Path(found["folder"])) == list(range(101))
    assert read(Path(found["folder"])).troubles() == ()


@pytest.mark.devices
@NO_FULL_DISK
def test_a_disk_that_stays_full_is_told_at_the_end_and_what_was_written_stays(tmp_path):
    found = run_child(
        """
        import resource
        writer = JournalWriter.create(runs, HEADER)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4000, -1))
        for n in range(100):
            writer.append(firing(n))
        print(json.dumps({"end": writer.close(), "folder": str(writer.folder)}))
        """,
        tmp_path,
    )
    journal = read(Path(found["folder"]))
    kept = occurrences(Path(found["folder"]))
    assert kept == list(range(len(kept)))
    assert 5 < len(kept) < 100
    assert found["end"] == f"file too large; {100 - len(kept)} records lost"
    assert len(journal.troubles()) == 1


@pytest.mark.devices
@NO_FULL_DISK
def test_memory_stays_bounded_on_a_disk_that_stays_full(tmp_path):
    found = run_child(
        f"""
        import resource
        writer = JournalWriter.create(runs, HEADER)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4000, -1))
        begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        for n in range({MOST_WAITING_BYTES} // 100):                # each takes more than 200 bytes
            writer.append(firing(n))
        says = writer.failed
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - begun
        print(json.dumps({{"says": says, "grown": grown * (1 if sys.platform == "darwin" else 1024)}}))
        os._exit(0)
        """,
        tmp_path,
    )
    assert "records lost" in found["says"]
    assert found["grown"] < 4 * MOST_WAITING_BYTES


@pytest.mark.devices
def test_everything_appended_outlives_a_sudden_death(tmp_path):
    """On a busy machine a record may reach the system after ``append`` has waited its while: that one is awaited."""
    found = run_child(
        """
        writer = JournalWriter.create(runs, HEADER)
        there = lambda: writer.path.read_bytes().count(b'"firing"')
        late = 0
        for n in range(200):
            writer.append(firing(n))
            if there() <= n:
                late += 1
                until(lambda: there() > n)
        print(json.dumps({"folder": str(writer.folder), "late": late}), flush=True)
        os._exit(9)
        """,
        tmp_path,
    )
    assert occurrences(Path(found["folder"])) == list(range(200))
    assert found["late"] < 100, "append waits until the system has a record"


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    if why := lacking():
        pytest.skip(why)
    return Disk(tmp_path_factory.mktemp("disk"))


@pytest.fixture
def disk(library):
    library.answer()
    return library


@pytest.mark.devices
def test_appending_does_not_wait_for_a_slow_disk(tmp_path, disk):
    found = run_child(
        """
        writer = JournalWriter.create(runs, HEADER)
        begun_ns = monotime.now_ns()
        longest_ns = 0
        while monotime.now_ns() - begun_ns < 2 * 10**9:             # at least two syncs of 700 ms lie in this
            before_ns = monotime.now_ns()
            writer.append(State(at_ns=1, states=("running",)))
            longest_ns = max(longest_ns, monotime.now_ns() - before_ns)
            monotime.sleep_ns(5 * 10**6)
        print(json.dumps({"longest_ms": longest_ns / 1e6, "end": writer.close()}))
        """,
        tmp_path, **disk.env(tmp_path, "fsync", delay_ms=700),
    )  # fmt: skip
    assert found["end"] == ""
    assert found["longest_ms"] < 500


@pytest.mark.devices
def test_a_disk_that_never_answers_does_not_hold_the_end(tmp_path, disk):
    folder = JournalWriter.create(tmp_path, HEADER)
    folder.close()
    found = run_child(
        """
        writer = JournalWriter.reopen(Path(sys.argv[1]))
        writer.append(End(at_ns=1, outcome="over", exit=0))
        print(json.dumps({"end": writer.close()}))
        """,
        folder.folder, **disk.env(tmp_path, "fsync", delay_ms=30_000),
    )  # fmt: skip
    assert found["end"] == "the disk has not answered for 5 s; the last record may be lost"


HUNG = """
        hung = Path(os.environ["DISK_HANGS"])
        def until(done):
            limit_ns = monotime.now_ns() + 30 * 10**9
            while not done() and monotime.now_ns() < limit_ns:
                monotime.sleep_ns(10**6)
            assert done()
"""


@pytest.mark.devices
@pytest.mark.parametrize("calls", ["write", "fsync", "write,fsync"])
def test_nobody_waits_for_a_hung_disk_and_its_records_follow_in_order(tmp_path, disk, calls):
    found = run_child(
        HUNG + """
        writer = JournalWriter.create(runs, HEADER)
        writer.append(firing(0))
        until(lambda: b"firing" in writer.path.read_bytes())
        hung.touch()
        begun_ns = monotime.now_ns()
        for n in range(1, 300):
            writer.append(State(at_ns=n, states=("running",)))
            writer.append(firing(n))
        took_ms = (monotime.now_ns() - begun_ns) / 1e6
        until(lambda: writer.failed)
        told = writer.failed
        hung.unlink()
        until(lambda: not writer.failed)
        print(json.dumps({"took_ms": took_ms, "told": told, "end": writer.close(), "folder": str(writer.folder)}))
        """,
        tmp_path, **disk.env(tmp_path, calls),
    )  # fmt: skip
    assert found["told"] == HANGS
    assert found["end"] == ""
    assert occurrences(Path(found["folder"])) == list(range(300))
    assert found["took_ms"] < 1000, "once the system is waited for, for a twentieth of a second, and never again"


@pytest.mark.devices
@pytest.mark.parametrize("calls", ["mkdir", "open", "write", "fsync"])
def test_a_journal_that_cannot_be_opened_yet_takes_all_records_behind_its_header(tmp_path, disk, calls):
    found = run_child(
        HUNG + """
        hung.touch()
        begun_ns = monotime.now_ns()
        writer = JournalWriter.begin(runs / "new", HEADER)
        for n in range(100):
            writer.append(firing(n))
        took_ms = (monotime.now_ns() - begun_ns) / 1e6
        until(lambda: writer.failed)
        hung.unlink()
        print(json.dumps({"took_ms": took_ms, "end": writer.close(), "folder": str(writer.folder)}))
        """,
        tmp_path, **disk.env(tmp_path, calls),
    )  # fmt: skip
    journal = read(Path(found["folder"]))
    assert (found["end"], journal.troubles()) == ("", ())
    assert isinstance(journal.records[0], Header)
    assert occurrences(Path(found["folder"])) == list(range(100))
    assert found["took_ms"] < 1000


@pytest.mark.devices
@pytest.mark.parametrize("calls", ["mkdir", "write", "fsync"])
def test_a_disk_that_hangs_to_the_end_is_waited_for_once_and_what_may_be_lost_is_said(tmp_path, disk, calls):
    found = run_child(
        HUNG + """
        hung.touch()
        writer = JournalWriter.begin(runs / "new", HEADER)
        for n in range(100):
            writer.append(firing(n))
        begun_ns = monotime.now_ns()
        said = [writer.close(), writer.close(), writer.close()]
        took_s = (monotime.now_ns() - begun_ns) / 1e9
        print(json.dumps({"said": said, "took_s": took_s}))
        """,
        tmp_path, **disk.env(tmp_path, calls),
    )  # fmt: skip
    assert set(found["said"]) == {"the disk has not answered for 5 s; the whole run may be lost"}
    assert found["took_s"] < 2 * CLOSE_S


def test_a_journal_that_could_not_be_begun_says_so_and_harms_nobody(tmp_path):
    (tmp_path / "runs").write_text("mine")
    writer = JournalWriter.begin(tmp_path / "runs", HEADER)
    writer.append(firing(0))
    assert "the journal cannot be written" in writer.close()
    assert writer.refused
    writer.append(firing(1))
    assert "the journal cannot be written" in writer.failed
    assert (tmp_path / "runs").read_text() == "mine"


@pytest.mark.skipif(os.name != "posix", reason="modes as POSIX has them")
def test_a_run_is_for_its_user_alone_and_one_of_an_earlier_version_too_when_it_goes_on(tmp_path):
    def modes(*paths):
        return [stat.S_IMODE(path.stat().st_mode) for path in paths]

    writer = JournalWriter.create(tmp_path / "runs", HEADER)
    writer.close()
    places = (writer.folder.parent, writer.folder, writer.path)
    assert modes(*places) == [0o700, 0o700, 0o600]
    for path, mode in zip(places, (0o755, 0o755, 0o644), strict=True):
        path.chmod(mode)
    JournalWriter.reopen(writer.folder).close()
    assert modes(*places) == [0o700, 0o700, 0o600]
    for name in KEPT_NAMES:                    # what Tocsin keeps beside the runs is its own
        (places[0] / name).touch()
    places[0].chmod(0o755)
    JournalWriter.reopen(writer.folder).close()
    assert modes(*places) == [0o700, 0o700, 0o600]
    (places[0] / "photos").mkdir()             # a folder that a person chose, for other things too
    places[0].chmod(0o755)
    JournalWriter.reopen(writer.folder).close()
    assert modes(*places) == [0o755, 0o700, 0o600]


@pytest.mark.devices
def test_a_sync_that_fails_is_told(tmp_path, disk):
    folder = JournalWriter.create(tmp_path, HEADER)
    folder.close()
    found = run_child(
        """
        writer = JournalWriter.reopen(Path(sys.argv[1]))
        writer.append(firing(0))
        print(json.dumps({"end": writer.close()}))
        """,
        folder.folder, **disk.env(tmp_path, "fsync", fails=errno.EIO),
    )  # fmt: skip
    assert found["end"] == "the disk may not have everything: input/output error"
    assert occurrences(folder.folder) == [0]


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_a_run_goes_on_behind_the_last_whole_record_wherever_it_broke(tmp_path_factory, data):
    writer = JournalWriter.create(tmp_path_factory.mktemp("runs"), HEADER)
    for n in range(4):
        writer.append(firing(n))
    writer.close()
    whole = writer.path.read_bytes()
    cut = data.draw(st.integers(whole.index(b"\n") + 1, len(whole)))
    rubbish = data.draw(st.sampled_from([b"", b"\0\0\0", b'{"ki', b"\xff\xfe"]))
    broken = whole[:cut] + rubbish
    writer.path.write_bytes(broken)
    before = read(writer.folder)

    again = JournalWriter.reopen(writer.folder)
    again.append(firing(77))
    assert again.close() == ""

    after = read(writer.folder)
    assert after.records == (*before.records, firing(77))
    assert after.troubles() == ()
    kept = b"".join(file.read_bytes() for file in sorted(writer.folder.glob("torn-*.txt")))
    assert kept == before.torn


def test_what_was_torn_twice_is_kept_twice(tmp_path):
    writer = JournalWriter.create(tmp_path, HEADER)
    writer.close()
    for rest in (b'{"kind":"fir', b'{"kind":"sta'):
        with writer.path.open("ab") as file:
            file.write(rest)
        JournalWriter.reopen(writer.folder).close()
    assert [(writer.folder / f"torn-{n}.txt").read_bytes() for n in (1, 2)] == [b'{"kind":"fir', b'{"kind":"sta']


def test_a_folder_without_a_journal_is_not_gone_on_with(tmp_path):
    with pytest.raises(JournalError, match="there is no journal"):
        JournalWriter.reopen(tmp_path)
    assert list(tmp_path.iterdir()) == []
