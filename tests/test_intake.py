"""Files that people give: what is none, or too large, is refused before it is read."""

import os
import sys

import pytest

from tocsin.intake import TooLargeError, read_given

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="has these files")


def test_a_file_is_read_up_to_its_limit(tmp_path):
    path = tmp_path / "file"
    path.write_bytes(b"x" * 1000)
    assert read_given(path, 1000) == b"x" * 1000
    with pytest.raises(TooLargeError, match="it has 1 kB, and at most 1 kB are read"):
        read_given(path, 999)


def test_of_a_large_file_nothing_is_read(tmp_path):
    path = tmp_path / "large"
    with path.open("wb") as file:
        file.truncate(10**12)                  # sparse: to read it would take the memory of many laptops
    with pytest.raises(TooLargeError, match="1,000,000,000 kB"):
        read_given(path, 1000)


@LINUX
@pytest.mark.parametrize("name", ["/dev/zero", "/dev/null"])
def test_a_device_is_no_file(name, tmp_path):
    link = tmp_path / "plan.toml"
    link.symlink_to(name)
    with pytest.raises(OSError, match="a pipe or a device"):
        read_given(link, 1000)


@LINUX
def test_nobody_waits_for_a_pipe(tmp_path):
    os.mkfifo(tmp_path / "plan.toml")
    with pytest.raises(OSError, match="a pipe or a device"):
        read_given(tmp_path / "plan.toml", 1000)


@LINUX
def test_a_file_that_states_no_size_ends_at_the_limit_too(tmp_path):
    link = tmp_path / "plan.toml"
    link.symlink_to("/proc/self/status")       # of the system's own: its size is stated as 0
    with pytest.raises(TooLargeError):
        read_given(link, 10)


def test_a_folder_is_named_as_one(tmp_path):
    with pytest.raises(IsADirectoryError, match="it is a folder"):
        read_given(tmp_path, 1000)
