"""``python -m tocsin.service``: the process that serves the board.

It speaks JSON lines on stdin and stdout, so it can be run and tried by hand; see ``tocsin.service.messages``.
"""

import sys

# Libraries take these where they are there, and do without: colours for a terminal, newer types. Here nobody has any
# use for them, and they take 0.5 MB of the 20 that a service may have (measured).
SPARED = ("curses", "typing_extensions")


def _spare() -> None:
    for name in SPARED:
        sys.modules[name] = None           # type: ignore[assignment]      # so that it is not found


if __name__ == "__main__":
    _spare()
    from tocsin.service.main import main

    sys.exit(main())
