"""``python -m tocsin.probe pads|displays|sound|ports [RIG]``: looks for one kind of device and prints one JSON line.

A process of its own, since a hanging driver must not hang the command that asks; see ``tocsin.features.devices.probe``.
"""

import sys

from tocsin.features.devices.probe import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
