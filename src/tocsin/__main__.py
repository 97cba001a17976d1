"""``python -m tocsin``: the same as the command ``tocsin``."""

import sys

from tocsin.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
