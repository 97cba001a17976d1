"""``tocsin measure``: how late this laptop, its devices and its people are, by the first word behind it.

What each way measures stands in a module of its own, imported when it is called.
"""

import difflib
import importlib
from collections.abc import Sequence

from tocsin.cli.parser import Parser
from tocsin.errors import UsageError
from tocsin.translation import tr

WAYS = {
    "lateness": tr("how late this laptop begins what it has to do, channel by channel (left out: this)"),
    "delays": tr("how long each device takes from Tocsin's call until it is seen, heard or felt"),
    "start": tr("how late, and how evenly, you start the clock"),
}
_MODULES = {"lateness": "measure_lateness", "delays": "by_people.delays", "start": "by_people.start"}
_EXAMPLES = tr("""\
examples:
  tocsin measure                                    how late each channel of the bundled rig is
  tocsin measure lateness --rig my_rig.toml --busy  with the processor kept busy meanwhile
  tocsin measure delays --rig my_rig.toml --template film.csv
  tocsin measure start --rig my_rig.toml
  tocsin measure lateness --help                    the options of one of them

exit codes: 0 measured, 2 usage, or FILE cannot be written, 20 a mistake in the rig, 21 a device that was asked for is
not there or another Tocsin is running, 22 no room for what is kept meanwhile, 130 Ctrl-C, 143 told to end
""")


def parser() -> Parser:
    """Return the parser of what stands before a way's own options; it only helps."""
    ways = "\n".join(f"  {name:<10} {about}" for name, about in WAYS.items())
    purpose = tr("Measure how late this laptop, its devices and its people are.")
    return Parser(
        "tocsin measure", purpose, tr("what to measure:\n{ways}\n\n{examples}", ways=ways, examples=_EXAMPLES),
    )


def main(arguments: Sequence[str]) -> int:
    """Measure what the first word says, lateness where none does; return the exit code. Raises UsageError for another
    word, and whatever the way raises."""
    first = arguments[0] if arguments else ""
    if first in ("-h", "--help"):
        parser().parse_args([first])
    if first and not first.startswith("-") and first not in WAYS:
        likely = difflib.get_close_matches(first, WAYS, n=1)
        hint = (
            tr("did you mean `tocsin measure {likely}`?", likely=likely[0]) if likely
            else tr("there is {ways}", ways=", ".join(WAYS))
        )
        raise UsageError(tr("'{first}' cannot be measured", first=first), hint=hint)
    way, rest = (first, arguments[1:]) if first in WAYS else ("lateness", arguments)
    code: int = importlib.import_module(f"tocsin.cli.commands.{_MODULES[way]}").main(rest)
    return code
