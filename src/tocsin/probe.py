"""``python -m tocsin.probe KIND [RIG]``: looks for pads, displays, sound, ports or packages and prints one JSON line.

It is a process of its own, so that a hanging driver cannot hang the command; see ``tocsin.features.devices.probe``.
"""

import sys

from tocsin.features.devices.probe import main
from tocsin.spawn import leave

if __name__ == "__main__":
    leave(main(sys.argv[1:]))
