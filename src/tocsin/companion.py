"""``python -m tocsin.companion busy|ways|listen``: a process beside a measurement; see ``tocsin.app.companion``."""

import sys

from tocsin.app.companion import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
