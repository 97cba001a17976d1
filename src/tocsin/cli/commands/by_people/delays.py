"""``tocsin measure delays``: how long each device of a rig takes from Tocsin's call until it is noticed."""

from collections.abc import Sequence
from pathlib import Path

from tocsin.cli.arguments import channels, count, number
from tocsin.cli.lines import say_to, tell_json
from tocsin.cli.parser import Parser
from tocsin.cli.project import meant_here
from tocsin.readable import typed
from tocsin.runner.pygames import demand_one_pygame
from tocsin.translation import tr

MOST_TIMES = 60
_EXAMPLES = tr("""\
examples:
  tocsin measure delays --rig my_rig.toml --template film.csv        play a dozen cues and film them
  tocsin measure delays --rig my_rig.toml --frames film.csv --fps 240
  tocsin measure delays --rig my_rig.toml --frames film.csv --fps 240 --write
  tocsin measure delays --rig my_rig.toml --microphone --only sound --write

The film: strip, screen and pad (with a strip of paper on it) side by side at one height, a phone in slow motion. In the
table write for each cue, whose number the screen shows, the first picture in which each device is seen to answer; leave
empty what was not seen. Step by step in hardware_notes/delays.md.

CAUTION. Screen and strip light up without warning, once in 1.7 s, and sounds come suddenly: nobody who is harmed by
flashing light takes part or looks on, and the sound is low. Where pads can move a robot, it is off.

exit codes: 0 measured, 2 usage, or FILE cannot be written, 20 a mistake in the rig or the table, 21 a device that was
asked for is not there or another Tocsin is running, 130 Ctrl-C, 143 told to end
""")


def parser() -> Parser:
    """Return the parser of ``tocsin measure delays``."""
    purpose = tr("Measure how long pads, strip, screen and loudspeaker take, so that all come together.")
    result = Parser("tocsin measure delays", purpose, _EXAMPLES)
    add = result.add_argument
    add("--rig", metavar="NAME|FILE", help=tr("the devices of this laptop (the project's)"))
    add("--only", type=channels, metavar="CHANNEL,...", help=tr("only these, and they must be there"))
    add("--times", type=count(3, MOST_TIMES), default=12, metavar="N", help=tr("cues to play (12)"))
    way = result.add_mutually_exclusive_group()
    way.add_argument("--template", type=Path, metavar="FILE", help=tr("play cues to film; write the table there"))
    way.add_argument("--frames", type=Path, metavar="FILE", help=tr("read a film's table, filled in"))
    add("--fps", type=number(20, 2000, tr("frames a second")), default=240.0, metavar="X",
        help=tr("frames a second, as filmed (240)"))  # fmt: skip
    add("--reference", default="", metavar="DEVICE", help=tr("the film's device to compare with (light)"))
    add("--reference-ms", type=number(0, 2000, "ms"), metavar="X", help=tr("its own delay, where it is known better"))
    add("--microphone", nargs="?", const="", metavar="NAME", help=tr("hear the sound's delay with a microphone"))
    add("--microphone-ms", type=number(0, 500, "ms"), default=0.0, metavar="X", help=tr("its own delay (0)"))
    add("--now", action="store_true", help=tr("begin at once: the cautions have been asked"))
    add("--write", action="store_true", help=tr("put the latencies into the rig file"))
    add("--json", action="store_true", help=tr("print the result as JSON, alone on stdout"))
    return result


def main(arguments: Sequence[str]) -> int:
    """Measure or read a film; return the exit code."""
    options = parser()
    given = options.parse_args(arguments)
    if given.frames is not None and given.microphone is not None:
        options.error(tr("argument --microphone: not allowed with argument --frames"))
    meant = meant_here()
    rig = meant.needed_rig(given.rig)
    meant.tell()
    demand_one_pygame()
    # Loaded here: numpy takes a while, which the other ways have no use for.
    from tocsin.features.measure.delays.measurement import DelayRequest, measure_delays

    wish = DelayRequest(
        rig=rig, only=given.only, times=given.times, template=given.template, microphone=given.microphone,
        microphone_ms=given.microphone_ms, frames=given.frames, fps=given.fps, reference=given.reference,
        reference_ms=given.reference_ms, now=given.now, write=given.write,
    )  # fmt: skip
    say = say_to(given.json)
    found = measure_delays(wish, say, json_output=given.json)
    for line in found.lines:
        say(line)
    if found.template:
        then = typed("tocsin", "measure", "delays", "--rig", rig, "--frames", found.template, "--fps", "240")
        say(tr("Wrote {template}. Fill the film's pictures in, then: {then}", template=found.template, then=then))
    if given.json:
        tell_json(found)
    return found.exit
