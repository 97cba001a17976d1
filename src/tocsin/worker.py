"""``python -m tocsin.worker CHANNEL``: the process that owns one channel's device.

It speaks JSON lines on stdin and stdout, so it can be run and tried by hand; see ``tocsin.workers.protocol``.
"""

import sys

from tocsin.spawn import leave
from tocsin.workers.main import main

if __name__ == "__main__":
    leave(main(sys.argv[1:]))
