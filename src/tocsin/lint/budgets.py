"""Check the strip's budgets: current, time on the wire, frames a second; and whether a named device is there at all.
They need a rig."""

from collections.abc import Iterator

from tocsin.lint import limits as limit
from tocsin.lint.finding import TELL, WARN, Finding, Kind
from tocsin.lint.limits import DIM_SHARE, FEWEST_FRAMES, LATE_LIGHT_NS, USB_MA
from tocsin.lint.subject import Devices, Subject
from tocsin.model.diagnostics import Path
from tocsin.model.pattern import STANDING, LightPattern
from tocsin.model.rig import Light, Rig
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

_SAMPLES = 16                          # moments of a round at which a pattern's current is looked at

KINDS_OF_BUDGETS: dict[str, Kind] = {
    "strip_dimmed": Kind(
        WARN,
        "The light pattern '{pattern}' asks for {asked} mA and max_ma allows {max_ma}: the strip is dimmed to {share}.",
        "The limit dims all patterns alike: in a bright hall nobody sees them.",
        "Use fewer LEDs, or a supply that gives more, and raise max_ma no further than it gives.",
        (limit.DIM_SHARE,),
    ),
    "more_than_usb": Kind(
        TELL,
        "The strip and its board draw up to {most} mA (max_ma = {max_ma}; dark LEDs take {dark}): more than a USB port "
        "gives.",
        "A port that is overloaded switches off, and the strip with it.",
        "Give the strip a supply of its own, with a fuse (hardware_notes/light.md), or write: max_ma = 400",
        (limit.USB_MA,),
    ),
    "never_lit": Kind(
        WARN,
        "{leds} LEDs draw {dark} mA while they are dark, and max_ma allows {max_ma}: the strip never lights.",
        "What dark LEDs draw is taken off max_ma first.",
        "Use fewer LEDs, or a supply that gives more, and raise max_ma no further than it gives.",
        (limit.NEVER_LIT,),
    ),
    "slow_wire": Kind(
        WARN,
        "A frame of {leds} LEDs takes {wire} at {baud} baud: the light is {late} behind the other channels.",
        "All channels should come at the same instant.",
        "Raise baud if the controller can, or set latency_ms in [light] to the time that a frame takes.",
        (limit.LATE_LIGHT_NS,),
    ),
    "few_frames": Kind(
        WARN,
        "{leds} LEDs at {baud} baud get {frames} frames a second, and the light pattern '{pattern}' moves.",
        "It jumps, and short looks miss it.",
        "Raise baud if the controller can, use fewer LEDs, or still patterns: plain, bands, apart.",
        (limit.FEWEST_FRAMES,),
    ),
    "device_not_installed": Kind(
        WARN,
        'No package on this laptop brings the device "{device}".',
        "Without its package Tocsin plays as if it were not there.",
        "{how}",
        (limit.INSTALLED,),
    ),
}


def budgets(subject: Subject) -> Iterator[Finding]:
    """Yield the plan's demands that exceed the rig's strip."""
    if subject.rig is None or subject.rig.light is None:
        return
    light = subject.rig.light
    used = {name: cue for (channel, name), cue in subject.used.items() if channel == "light"}
    patterns = {name: subject.plan.patterns.light[name] for name in used}
    if not patterns:
        return
    yield from _current(subject, light, patterns)
    frames = NS_PER_S / subject.devices.frame_interval_ns(light)
    moving = [name for name, pattern in patterns.items() if pattern.form not in STANDING]
    if moving and frames < FEWEST_FRAMES.value:
        facts = {"frames": f"{frames:.1f}", "leds": str(light.leds), "baud": str(light.baud), "pattern": moving[0]}
        yield Finding(code="few_frames", level="warning", file="rig", path=("light", "leds"), facts=facts)


def budgets_of_rig(rig: Rig, devices: Devices) -> Iterator[Finding]:
    """Yield what is wrong with a rig's strip, with any plan."""
    light = rig.light
    if light is None:
        return
    path: Path = ("light", "max_ma")
    most_ma = devices.most_ma(light) + devices.board_ma
    facts = {
        "max_ma": str(light.max_ma), "dark": f"{light.dark_ma:.0f}", "most": f"{most_ma:.0f}", "leds": str(light.leds),
    }  # fmt: skip
    if light.never_lit:
        yield Finding(code="never_lit", level="warning", file="rig", path=path, facts=facts)
    if most_ma > USB_MA.value:
        yield Finding(code="more_than_usb", level="advice", file="rig", path=path, facts=facts)
    wire_ns = devices.frame_wire_ns(light)
    late_ns = wire_ns - light.latency_ns
    if late_ns > LATE_LIGHT_NS.value:
        facts = {
            "leds": str(light.leds), "baud": str(light.baud), "wire": tr("{wire:.0f} ms", wire=wire_ns / NS_PER_MS),
            "late": tr("{late:.0f} ms", late=late_ns / NS_PER_MS),
        }  # fmt: skip
        path = ("light", "latency_ms" if light.latency_ns else "leds")
        yield Finding(code="slow_wire", level="warning", file="rig", path=path, facts=facts)


def named_devices(rig: Rig, devices: Devices) -> Iterator[Finding]:
    """Yield the devices that a rig names and no package of this laptop brings."""
    named: list[tuple[Path, str]] = [(("pad", slot, "device"), pad.device) for slot, pad in enumerate(rig.pads)]
    named.append((("light", "device"), rig.light.device if rig.light is not None else ""))
    for path, name in named:
        if name and (how := devices.not_installed(name)):
            facts = {"device": name, "how": how}
            yield Finding(code="device_not_installed", level="warning", file="rig", path=path, facts=facts)


def _current(subject: Subject, light: Light, patterns: dict[str, LightPattern]) -> Iterator[Finding]:
    """Yield a current limit that dims the strip so far that it is hardly seen, with the pattern that asks for most.

    Less than that is what a limit is for, and no news.
    """
    asked = {name: _most_ma(subject.devices, light, pattern) for name, pattern in patterns.items()}
    name = max(asked, key=lambda pattern: asked[pattern])
    if asked[name] <= light.max_ma or light.never_lit:
        return
    # The channel dims every frame by the same share, as if all of it were white.
    white_ma = subject.devices.current_ma([(255, 255, 255)] * light.leds)
    share = (light.max_ma - light.dark_ma) / (white_ma - light.dark_ma)
    if share >= DIM_SHARE.value:
        return
    facts = {
        "pattern": name, "asked": f"{asked[name]:.0f}", "max_ma": str(light.max_ma), "share": f"{share * 100:.1f}%"
    }  # fmt: skip
    yield Finding(code="strip_dimmed", level="warning", file="rig", path=("light", "max_ma"), facts=facts)


def _most_ma(devices: Devices, light: Light, pattern: LightPattern) -> float:
    """Return the current that a pattern's brightest frame would draw at the rig's brightness, without the limit."""
    moments = [0] if pattern.form in STANDING else [n * pattern.cycle_ns // _SAMPLES for n in range(_SAMPLES)]
    frames = (devices.strip_colours(pattern, light.leds, at_ns, 1.0) for at_ns in moments)
    return max(devices.current_ma(devices.limited(frame, light.brightness, float("inf"))) for frame in frames)
