"""``python -m tocsin.worker CHANNEL``: the process that owns one channel's device.

It speaks JSON lines on stdin and stdout, so it can be run and tried by hand; see ``tocsin.app.messages``.
"""

import sys

from tocsin.app.worker import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
