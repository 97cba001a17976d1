"""Who holds a device is named: a real other program on a pseudo-terminal."""

import os
import subprocess
import sys

import pytest

from tocsin.channels.holders import holders

pytestmark = [pytest.mark.devices, pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells it")]


def test_the_program_that_holds_a_device_is_named_and_one_that_has_ended_no_more():
    master, slave = os.openpty()
    name = os.ttyname(slave)
    program = subprocess.Popen(["sleep", "60"], stdin=slave)
    try:
        found = holders([name, "/dev/nothing_here"])
        assert [(holder.name, holder.pid) for holder in found] == [("sleep", program.pid)]
        assert str(found[0]) == f"sleep (process {program.pid})"
    finally:
        program.kill()
        program.wait(10)
    assert holders([name]) == (), "this process holds it itself, which is nobody to be closed"
    os.close(slave)
    os.close(master)


def test_a_link_to_the_device_is_the_device(tmp_path):
    master, slave = os.openpty()
    link = tmp_path / "strip"
    link.symlink_to(os.ttyname(slave))
    program = subprocess.Popen(["sleep", "60"], stdin=slave)
    try:
        assert [holder.pid for holder in holders([str(link)])] == [program.pid]
    finally:
        program.kill()
        program.wait(10)
        os.close(slave)
        os.close(master)
