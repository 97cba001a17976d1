"""``python -m tocsin.service``: the process that serves the board.

It speaks JSON lines on stdin and stdout, so it can be run and tried by hand; see ``tocsin.service.messages``.
"""

import sys

from tocsin.service.main import main

if __name__ == "__main__":
    sys.exit(main())
