"""``python -m tocsin.companion busy|ways|listen``: a process beside a measurement."""

import sys

from tocsin.features.measure.helper_main import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
