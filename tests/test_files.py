"""A file is written whole or not at all, whatever is there, whoever may write, and whatever the disk says."""

import errno
import os
import shutil
import stat
import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.support import PROJECT
from tests.support.preload.disk import Disk, lacking
from tocsin.files import (
    close_to_others,
    create_whole,
    demand_writable,
    leftovers,
    make_folder,
    new_folder,
    patiently,
    write_whole,
)

POSIX = pytest.mark.skipif(os.name != "posix", reason="modes, links and pipes as POSIX has them")
AS_ANOTHER = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0 or shutil.which("setpriv") is None,
    reason="root starts another user's process with setpriv, since root is refused nothing",
)
OLD, NEW = b"old, and longer than the new one", b"new"


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    path = tmp_path / "file"
    path.write_bytes(OLD)
    return path


def test_a_file_takes_the_place_of_another(place: Path) -> None:
    write_whole(place, NEW)
    assert [(path.name, path.read_bytes()) for path in place.parent.iterdir()] == [("file", NEW)]


def test_folders_are_made_for_it(tmp_path: Path) -> None:
    write_whole(tmp_path / "a" / "b" / "file", NEW)
    assert create_whole(tmp_path / "c" / "d" / "file", NEW)
    assert {path.read_bytes() for path in tmp_path.rglob("file")} == {NEW}


def test_what_is_there_is_not_created_again(place: Path) -> None:
    assert not create_whole(place, NEW)
    assert place.read_bytes() == OLD
    assert len(list(place.parent.iterdir())) == 1


def test_of_many_that_create_one_file_at_once_one_has_it_whole(tmp_path: Path) -> None:
    data = [bytes([n]) * 100_000 for n in range(16)]
    with ThreadPoolExecutor(len(data)) as pool:
        written = list(pool.map(lambda one: create_whole(tmp_path / "file", one), data))
    assert sum(written) == 1
    assert (tmp_path / "file").read_bytes() == data[written.index(True)]
    assert len(list(tmp_path.iterdir())) == 1


@POSIX
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_the_mode_of_a_file_that_is_there_is_kept(place: Path, mode: int) -> None:
    place.chmod(mode)
    write_whole(place, NEW)
    assert mode_of(place) == mode


@POSIX
def test_a_private_file_is_closed_to_others_and_so_is_the_folder_made_for_it(tmp_path: Path, place: Path) -> None:
    place.chmod(0o644)
    write_whole(place, NEW, private=True)
    create_whole(tmp_path / "a" / "b" / "new", NEW, private=True)
    assert (mode_of(place), mode_of(tmp_path / "a" / "b" / "new")) == (0o600, 0o600)
    assert (mode_of(tmp_path / "a"), mode_of(tmp_path / "a" / "b")) == (0o700, 0o700)


@POSIX
def test_what_was_open_to_others_is_closed_and_opened_no_further(place: Path) -> None:
    place.chmod(0o444)
    close_to_others(place)
    assert mode_of(place) == 0o400
    place.parent.chmod(0o755)
    close_to_others(place.parent, folder=True)
    assert mode_of(place.parent) == 0o700
    close_to_others(place.parent / "missing")


@POSIX
def test_a_link_stays_a_link_and_what_it_points_to_is_written(place: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "link"
    link.symlink_to(place)
    write_whole(link, NEW)
    assert link.is_symlink()
    assert place.read_bytes() == NEW
    assert [path.name for path in link.parent.iterdir()] == ["link"]


def strange(kind: str, path: Path) -> None:
    match kind:
        case "folder":
            path.mkdir()
        case "pipe":
            os.mkfifo(path)
        case "link to nothing":
            path.symlink_to("nowhere")
        case "link to itself":
            path.symlink_to(path.name)
        case "link to a device":
            path.symlink_to(os.devnull)


@POSIX
@pytest.mark.parametrize(
    ("kind", "number"),
    [("folder", errno.EISDIR), ("pipe", errno.EEXIST), ("link to nothing", errno.ENOENT),
     ("link to itself", errno.ELOOP), ("link to a device", errno.EEXIST)],
)  # fmt: skip
def test_what_is_no_ordinary_file_is_refused_and_stays(tmp_path: Path, kind: str, number: int) -> None:
    path = tmp_path / "place"
    strange(kind, path)
    before = path.lstat()
    for write in (lambda: write_whole(path, NEW), lambda: demand_writable(path)):
        with pytest.raises(OSError, match=r".") as raised:
            write()
        assert raised.value.errno == number
    assert not create_whole(path, NEW)
    assert (path.lstat().st_ino, path.lstat().st_mode) == (before.st_ino, before.st_mode)
    assert [found.name for found in tmp_path.iterdir()] == ["place"]


def test_a_file_in_the_way_of_a_folder_is_said(place: Path) -> None:
    for write in (write_whole, create_whole):
        with pytest.raises(NotADirectoryError):
            write(place / "file", NEW)
    with pytest.raises(NotADirectoryError):
        make_folder(place)


def test_trying_leaves_nothing(tmp_path: Path, place: Path) -> None:
    demand_writable(place)
    demand_writable(tmp_path / "new" / "file")
    assert place.read_bytes() == OLD
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["file", "new"]


def test_a_scanner_that_holds_a_file_for_a_moment_is_waited_for() -> None:
    refusals = [PermissionError(), PermissionError()]
    done = []

    def act() -> None:
        if refusals:
            raise refusals.pop()
        done.append(True)

    patiently(act, pause_ns=0)
    assert done == [True]

    def refused() -> None:
        done.append(False)
        raise PermissionError

    with pytest.raises(PermissionError):
        patiently(refused, pause_ns=0)
    assert done.count(False) == 5


def test_what_a_killed_process_left_is_found_with_its_process(tmp_path: Path) -> None:
    (tmp_path / ".tocsin-4711-0a1b2c3d.part").write_bytes(b"ha")
    (tmp_path / "mine.part").write_bytes(b"mine")
    assert list(leftovers(tmp_path)) == [(tmp_path / ".tocsin-4711-0a1b2c3d.part", 4711)]


def test_a_folder_takes_its_place_whole_or_not_at_all(tmp_path: Path) -> None:
    with new_folder(tmp_path / "a" / "new") as half:
        (half / "file").write_bytes(NEW)
        assert not (tmp_path / "a" / "new").exists()
    assert [path.name for path in (tmp_path / "a").rglob("*")] == ["new", "file"]

    def left(folder: Path, error: Exception | None, *, meanwhile: bool) -> None:
        with new_folder(folder) as half:
            (half / "file").write_bytes(NEW)
            if meanwhile:
                folder.mkdir()
            if error:
                raise error

    with pytest.raises(ValueError, match="mine"):
        left(tmp_path / "other", ValueError("mine"), meanwhile=False)
    with pytest.raises(FileExistsError):
        left(tmp_path / "b", None, meanwhile=True)
    assert list((tmp_path / "b").iterdir()) == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "b"]


# -- in a process of its own


def run_child(script: str, *arguments: object, before: tuple[str, ...] = (), **environment: str) -> str:
    """Run a script in a process of its own; return what it prints."""
    prelude = """
        import errno, os, sys
        from pathlib import Path
        from tocsin.files import *
        path = Path(sys.argv[1])
        def told(act):
            try:
                print(act())
            except OSError as error:
                print(errno.errorcode[error.errno])
    """
    done = subprocess.run(
        [*before, sys.executable, "-c", textwrap.dedent(prelude) + textwrap.dedent(script), *map(str, arguments)],
        capture_output=True, text=True, timeout=60, env={**os.environ, **environment}, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout.strip()


WRITES = """
        told(lambda: write_whole(path, b"new"))
        told(lambda: create_whole(path.with_name("other"), b"new"))
"""


@pytest.mark.devices
@AS_ANOTHER
def test_what_another_user_may_not_write_is_refused() -> None:
    as_another = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups")
    with TemporaryDirectory() as folder:   # pytest's own folders let no other user through
        place = Path(folder) / "file"
        place.write_bytes(OLD)
        place.chmod(0o666)                 # the file may be written, the folder not: it is not replaced in place
        place.parent.chmod(0o755)
        assert run_child(WRITES, place, before=as_another).split() == ["EACCES", "EACCES"]
        place.parent.chmod(0o777)
        place.chmod(0o444)                 # the folder may be written, the file not
        assert run_child(WRITES, place, before=as_another).split() == ["EACCES", "True"]
        assert place.read_bytes() == OLD


@pytest.mark.devices
@AS_ANOTHER
def test_root_leaves_a_file_to_whoever_owns_it(place: Path) -> None:
    os.chown(place, 65534, 65534)
    write_whole(place, NEW)
    assert (place.stat().st_uid, place.stat().st_gid) == (65534, 65534)


@pytest.fixture(scope="module")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Disk:
    if why := lacking():
        pytest.skip(why)
    return Disk(tmp_path_factory.mktemp("disk"))


@pytest.mark.devices
@pytest.mark.parametrize("fails", [errno.ENOSPC, errno.EIO, errno.EROFS], ids=errno.errorcode.get)
@pytest.mark.parametrize("calls", ["open", "write", "fsync", "rename,link"])
def test_a_disk_that_fails_leaves_what_was_there(disk: Disk, place: Path, calls: str, fails: int) -> None:
    said = run_child(WRITES, place, **disk.env(place.parent, calls, fails=fails)).split()
    assert said == [errno.errorcode[fails]] * 2
    assert [(path.name, path.read_bytes()) for path in place.parent.iterdir()] == [("file", OLD)]


@pytest.mark.devices
@pytest.mark.parametrize("fails", [errno.EPERM, errno.ENOTSUP], ids=errno.errorcode.get)
def test_a_disk_without_hard_links_gets_new_files_too(disk: Disk, place: Path, fails: int) -> None:
    assert run_child(WRITES, place, **disk.env(place.parent, "link", fails=fails)).split() == ["None", "True"]
    assert {path.name: path.read_bytes() for path in place.parent.iterdir()} == {"file": NEW, "other": NEW}


@pytest.mark.devices
@pytest.mark.skipif(bool(lacking()), reason=lacking())
def test_no_writer_that_is_killed_tears_or_loses_a_file() -> None:
    """The short form of tests/attacks/kills.py, which also walks through ``tocsin init``."""
    writers = ["export", "people", "journal", "forget", "rig", "voice"]
    done = subprocess.run(
        [sys.executable, "-m", "tests.attacks.kills", "--writer", *writers],
        cwd=PROJECT, capture_output=True, text=True, timeout=100, check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    rows = [line.split() for line in done.stdout.splitlines()[1:]]
    assert [row[0] for row in rows] == writers
    assert all(int(row[1]) >= 5 and row[-1] == "none" for row in rows), done.stdout
