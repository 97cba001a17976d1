"""Put this folder on PYTHONPATH: then the system lists the ports of ``TOCSIN_TEST_PORTS``, a JSON list of name and USB
ids, in every process of a run. So pseudo-terminals stand behind USB, and their boards are waited for."""

import json
import os

from serial.tools import list_ports, list_ports_common


def _port(name, usb):
    port = list_ports_common.ListPortInfo(name)
    port.vid, port.pid = (int(part, 16) for part in usb.split(":"))
    return port


if "TOCSIN_TEST_PORTS" in os.environ:
    _found = [_port(name, usb) for name, usb in json.loads(os.environ["TOCSIN_TEST_PORTS"])]
    list_ports.comports = lambda include_links=False: list(_found)
