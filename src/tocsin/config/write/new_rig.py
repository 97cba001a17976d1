"""Write the text of a new rig file, with the purpose of each line."""

from collections.abc import Iterator

from tocsin.config.toml.phrases import quoted
from tocsin.model.rig import Light, Pad, Rig, Screen, Sound

_HEAD = """\
# A rig, written by `tocsin devices --write` from what was plugged in. Change what you like: `tocsin check` finds
# mistakes, `tocsin devices --rig` shows whether all of it is there, and with --try people confirm each device.

format = "tocsin-rig/1"
name = {name}

# true: this laptop drives a robot, or may. Then nothing here gets real-time priority, and keys are letters, digits,
# arrows and page keys alone. Write false only for a laptop that no robot is ever driven from.
drives_robot = {drives_robot}

[start]
by = "count_in"                      # everyone presses on the beat; or "countdown", "horn", "press"
"""
_NO_PAD = """\
# No pad was plugged in.
# [[pad]]
# role = "driver"                    # or "operator", "coach", "scribe", "feeder"
# usb = "0000:0000"                  # `tocsin devices` shows it
"""
_NO_LIGHT = """\
# No strip was found.
# [light]
# port = "auto"                      # looked up by usb; or a port such as "COM5", "/dev/ttyUSB0"
# usb = "0000:0000"
# protocol = "tpm2"                  # or "adalight": what the board's program takes
# leds = 30
"""
_LIGHT = """\
protocol = "{protocol}"                    # or "{other}": what the board's program takes
leds = {leds}                            # count them
order = "{order}"                        # if red and green are exchanged: "GRB"
max_ma = {max_ma}                         # Caution: all LEDs, lit and dark; a USB port gives 500 mA, the board 50 of it
brightness = {brightness:g}                     # never look into the strip from near
"""
_SOUND = """\
[sound]
volume = {volume:g}                         # Caution: try it low first; nobody should have an ear at the loudspeaker
latency_ms = 12                      # an estimate; a loudspeaker on radio adds 100 to 300
"""
_NO_SOUND = """\
# No loudspeaker was found.
# [sound]
# volume = 0.8
"""
_NO_SCREEN = """\
# No display was found: the countdown is in the terminal.
# [screen]
# display = 0
"""
_SCREEN = """\
[screen]
display = {display}                          # 1 for a second one
latency_ms = 16                      # an estimate: one frame
"""
_BOARD = """\
# For phones (`tocsin run --board lan`), which never belong into the robot's own network. Only if both are apart:
# [board]
# beside_robot = true                # phones and robot are in different networks, somebody made sure of it
# port = 8737
"""


def rig_text(rig: Rig) -> str:
    """Return a rig file's text: the rig's devices, and a commented example for each missing one."""
    return "\n".join(_tables(rig))


def _tables(rig: Rig) -> Iterator[str]:
    yield _HEAD.format(name=quoted(rig.name), drives_robot="true" if rig.drives_robot else "false")
    yield from map(_pad, rig.pads)
    if not rig.pads:
        yield _NO_PAD
    yield _light(rig.light) if rig.light else _NO_LIGHT
    yield _sound(rig.sound) if rig.sound else _NO_SOUND
    yield _screen(rig.screen) if rig.screen else _NO_SCREEN
    yield _BOARD


def _pad(pad: Pad) -> str:
    lines = ["[[pad]]", f"role = {quoted(pad.role)}"]
    lines += [f"{key} = {quoted(value)}" for key, value in (("usb", pad.usb), ("name", pad.name)) if value]
    if pad.order is not None:
        lines.append(f"order = {pad.order:<28} # of equal pads, as they appeared, from 1")
    lines.append("latency_ms = 80                      # an estimate: a motor needs this long to be felt")
    return _whole(lines, pad.confirmed)


def _light(light: Light) -> str:
    lines = ["[light]", f"port = {quoted(light.port)}"]
    lines += [f"usb = {quoted(light.usb)}"] if light.usb else []
    other = "adalight" if light.protocol == "tpm2" else "tpm2"
    facts = _LIGHT.format(
        protocol=light.protocol, other=other, leds=light.leds, order=light.order, max_ma=light.max_ma,
        brightness=light.brightness,
    )
    speed = [f"baud = {light.baud:<29} # as the board has it"] if light.baud != Light().baud else []
    return _whole([*lines, *facts.splitlines(), *speed], light.confirmed)


def _sound(sound: Sound) -> str:
    return _whole(_SOUND.format(volume=sound.volume).splitlines(), sound.confirmed)


def _screen(screen: Screen) -> str:
    return _whole(_SCREEN.format(display=screen.display).splitlines(), screen.confirmed)


def _whole(lines: list[str], confirmed: str) -> str:
    """Return a table's text, with the day on which a person last confirmed the device."""
    if confirmed:
        lines = [*lines, f"confirmed = {confirmed}               # a person noticed it that day"]
    return "".join(f"{line}\n" for line in lines)
