"""Parse a command's arguments: examples under its help, and one line with a hint for a mistake."""

import argparse
import sys
from typing import Any, NoReturn

from tocsin.cli.lines import fitted, fitted_help
from tocsin.errors import USAGE
from tocsin.translation import claim_gettext, marked, tr

# What argparse says by itself: where there is a language it looks these up in our list.
marked(
    "usage: ", "positional arguments", "options", "show this help message and exit",
    "unrecognized arguments: %s", "argument %(argument_name)s: %(message)s",
    "expected one argument", "expected at least one argument", "the following arguments are required: %s",
    "not allowed with argument %s", "ambiguous option: %(option)s could match %(matches)s",
    "invalid choice: %(value)r (choose from %(choices)s)", "invalid %(type)s value: %(value)r",
    "ignored explicit argument %r", "one of the arguments %s is required",
)


class Parser(argparse.ArgumentParser):
    """An ArgumentParser with examples in its help; a mistake prints one line and where to look, not the whole usage."""

    def __init__(self, prog: str, description: str, examples: str) -> None:
        claim_gettext()
        super().__init__(
            prog=prog,
            description=description,
            epilog=examples,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )

    def _print_message(self, message: str, file: Any = None) -> None:
        """Print help or an error; argparse's own keeps quiet about help that cannot be written."""
        if file is not None and file is sys.stdout:
            file.write(fitted_help(message, file))
        else:
            super()._print_message(message, file)

    def error(self, message: str) -> NoReturn:
        """Print the mistake, and exit with the code for usage."""
        self.exit(
            USAGE,
            fitted(
                tr("{prog}: {message}\n  `{prog} --help` shows examples\n", prog=self.prog, message=message),
                sys.stderr,
            ),
        )
