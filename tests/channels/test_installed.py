"""Devices that packages bring: which are found, which are not, and what is said of those that cannot be used."""

import re
import sys

import pytest

from tests.support.packages.installing import install, install_example
from tocsin.channels.installed import (
    InstalledDevice,
    Loaded,
    NotUsableError,
    PackageError,
    installed_devices,
    not_installed,
    versions_of,
)
from tocsin.devices import HOOKS, DeviceLost, Shaker, Strip
from tocsin.model.rig import Light, Pad, Rig

BROKEN = '''
import os, sys
class Bare:
    def open(self, leds): pass
    write = 3
class Cut:
    def found(self): raise OSError(113, "No route to host")
    def shake(self, strong, weak, ms): return 1 / 0
    def stop(self): sys.exit(3)
def nothing(): return None
def far(): raise FileNotFoundError(2, "no such file", "/etc/belt")
def asks(address): return Cut()
'''


@pytest.fixture
def site(tmp_path, monkeypatch):
    """Give a folder from which packages are found, and what installs there."""
    folder = tmp_path / "site"
    monkeypatch.setattr(sys, "path", [sys.path[0], str(folder), *sys.path[1:]])
    known = set(sys.modules)
    installed_devices.cache_clear()
    yield tmp_path
    installed_devices.cache_clear()
    for name in set(sys.modules) - known:
        if name in ("rope_light", "broken"):
            del sys.modules[name]


@pytest.fixture
def broken(site):
    """Give what installs the broken module's parts as devices."""

    def installed(**devices):
        install(site, "broken-parts", "2.0", "broken", BROKEN, {k: f"broken:{v}" for k, v in devices.items()})

    return installed


def refused(name, kind):
    with pytest.raises(NotUsableError) as caught:
        Loaded(name, kind)
    return str(caught.value), caught.value.absent


def test_what_is_installed_is_found_with_package_and_version(site):
    install_example(site)
    found = [one for one in installed_devices() if one.package == "rope-light"]
    assert found == [
        InstalledDevice(name="belt", package="rope-light", version="1.0"),
        InstalledDevice(name="rope", package="rope-light", version="1.0"),
    ]
    rig = Rig(name="r", light=Light(device="rope"), pads=(Pad(role="driver", device="no_belt"), Pad(role="coach")))
    assert versions_of(rig) == {"rope": "rope-light 1.0"}


def test_what_lies_in_the_folder_that_one_stands_in_is_no_device(tmp_path, monkeypatch):
    install_example(tmp_path)
    monkeypatch.setattr(sys, "path", [str(tmp_path / "site"), *sys.path[1:]])      # as `python -m` has it
    installed_devices.cache_clear()
    assert "rope" not in [one.name for one in installed_devices()]
    installed_devices.cache_clear()


def test_a_slip_comes_with_the_name_that_was_meant_and_others_with_all_names(site):
    assert "no package there brings any device" in not_installed("rope")
    install_example(site)
    installed_devices.cache_clear()
    assert not_installed("rope") == ""
    assert not_installed("rpoe").startswith('Write: device = "rope"')
    listed = "Installed are: belt (rope-light 1.0), rope (rope-light 1.0)."
    assert not_installed("chandelier") == f"Install its package, or name another device. {listed}"


def test_one_that_is_not_there_is_absent_and_says_what_is(site):
    install_example(site)
    text, absent = refused("rpoe", "strip")
    assert absent
    assert text.startswith('no package brings the device "rpoe". Write: device = "rope"')


@pytest.mark.parametrize("file", ["entry_points.txt", "METADATA"])
@pytest.mark.parametrize("data", [b"[tocsin.devices]\nlamp", b"\xff\xfe\x00", b"", None])
def test_a_damaged_package_takes_no_other_along(site, file, data):
    install(site, "damaged", "0.1", "damaged", "", {"lamp": "damaged:Lamp"})
    install_example(site)
    damaged = site / "site" / "damaged-0.1.dist-info" / file
    if data is None:
        damaged.unlink()
    else:
        damaged.write_bytes(data)
    installed_devices.cache_clear()
    assert {"belt", "rope"} <= {one.name for one in installed_devices()}
    assert all(one.package and one.version for one in installed_devices())


def test_the_hooks_are_those_of_the_contract():
    for kind, contract in (("strip", Strip), ("shaker", Shaker)):
        assert HOOKS[kind] == tuple(name for name in vars(contract) if not name.startswith("_"))


def test_two_packages_of_one_name_are_told_and_neither_is_taken(site):
    install_example(site)
    install(site, "other-rope", "3.1", "other", "", {"rope": "other:Rope"})
    text, absent = refused("rope", "strip")
    assert not absent
    assert text == '2 packages bring a device "rope": other-rope 3.1, rope-light 1.0; uninstall all but one'


@pytest.mark.parametrize(
    ("device", "kind", "says"),
    [
        ("Bare", "strip", "x (broken-parts 2.0) is no strip: it lacks booting, feel, write, close"),
        ("Cut", "strip", "x (broken-parts 2.0) is no strip: it lacks open, booting, feel, write, close"),
        ("nothing", "shaker", "x (broken-parts 2.0) is no shaker: it lacks found, shake, stop"),
        ("Gone", "strip", "x (broken-parts 2.0) failed in 'load': AttributeError: module 'broken' has no attribute"),
        ("asks", "shaker", "x (broken-parts 2.0) failed in 'load': TypeError: asks() missing 1 required"),
        ("far", "shaker", "x (broken-parts 2.0): no such file"),
    ],
)
def test_one_that_cannot_be_used_says_why(broken, device, kind, says):
    broken(x=device)
    text, absent = refused("x", kind)
    assert not absent
    assert text.startswith(says)


def test_a_module_that_ends_the_process_or_is_missing_is_told_like_any_mistake(site):
    leaves = "import sys\nsys.exit('good bye')\n"
    install(site, "leaves", "1", "broken", leaves, {"x": "broken:X", "y": "missing_one:Y"})
    assert "failed in 'load': SystemExit: good bye" in refused("x", "strip")[0]
    assert "failed in 'load': ModuleNotFoundError: No module named 'missing_one'" in refused("y", "strip")[0]


def test_a_hook_that_fails_is_lost_or_a_mistake_and_nothing_else(broken):
    broken(x="Cut")
    device = Loaded("x", "shaker")
    with pytest.raises(DeviceLost, match=r"^No route to host$"):
        device.hook("found")
    with pytest.raises(PackageError) as caught:
        device.hook("shake", 1.0, 0.0, 300)
    assert caught.value.what == "x (broken-parts 2.0) failed in 'shake'"
    assert re.fullmatch(r"ZeroDivisionError: division by zero \(\w+\.py:\d+\); tell whoever wrote it", caught.value.why)
    with pytest.raises(PackageError, match="failed in 'stop': SystemExit: 3"):
        device.hook("stop")
