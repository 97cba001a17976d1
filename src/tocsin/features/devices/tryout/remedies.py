"""List why people may not notice a device that reports success, and the fixes; the likeliest first. Pure.

Sources: bug reports of SDL and of pads' drivers (a driver says yes whatever a motor does), vendors' guides to strips;
the order is common practice, no source.
"""

from collections.abc import Iterator, Sequence

from tocsin.channels.device import UNANSWERED, UNHEARD
from tocsin.features.devices.tryout.verdict import Attempt
from tocsin.model.rig import Light, Pad, Screen, Sound
from tocsin.translation import tr

FELT_STRENGTH = 0.4                    # below it nothing is felt under load (common practice, no source)
LOW_VOLUME = 0.3
NOTES = tr("see hardware_notes/{}.md")


def pad_fixes(pad: Pad) -> tuple[str, ...]:
    """Return likely fixes for a pad that is not felt."""
    return tuple(_pad(pad))


def strip_fixes(light: Light, answers: Sequence[Attempt], why: str) -> tuple[str, ...]:
    """Return likely fixes for a strip that is not seen as it should be; ``why`` is its port's message when it
    opened."""
    exchanged = _exchanged(light.order, answers)
    return (exchanged,) if exchanged else tuple(_strip(light, why))


def screen_fixes(screen: Screen) -> tuple[str, ...]:
    """Return likely fixes for a window that is not seen."""
    return (
        tr("another window may be over it: bring it to the front"),
        tr(
            'it is on display {display}: write display = 0, 1, … for another; `tocsin devices` lists them',
            display=screen.display,
        ),
        tr("the display may be switched off or on another input, or the desktop not extended to it"),
        NOTES.format("screen"),
    )  # fmt: skip


def sound_fixes(sound: Sound, outputs: Sequence[str]) -> tuple[str, ...]:
    """Return likely fixes for a loudspeaker that is not heard; ``outputs`` are the system's names of its outputs."""
    return tuple(_sound(sound, outputs))


def _pad(pad: Pad) -> Iterator[str]:
    if pad.strength < FELT_STRENGTH:
        yield tr(
            "strength = {strength:g} in the rig: below {felt_strength:g} little is felt; try 1.0",
            strength=pad.strength, felt_strength=FELT_STRENGTH,
        )
    if pad.device:
        yield tr("the device {name} took every call: look at its package, or at what it drives", name=pad.device)
        yield NOTES.format("packages")
        return
    yield tr("it says yes but the motors do not turn: try a cable instead of radio, or another USB port")
    yield tr("rumble may be switched off in the pad's or the system's settings, or the pad has no motors")
    yield tr("a weak battery or hub: plug the pad into the laptop itself, or a hub with its own power")
    if not pad.hidapi:
        yield tr("hidapi = true in its [[pad]] drives it another way; other programs may then lose its buttons")
    yield NOTES.format("pads")


def _strip(light: Light, why: str) -> Iterator[str]:
    if light.device:
        yield tr("the device {name} took every frame: look at its package, or at the lamp", name=light.device)
        yield from _dim(light)
        yield NOTES.format("packages")
        return
    if why == UNANSWERED:
        yield tr("no board answered on this port: it may be another device; look for the strip's with `tocsin devices`")
    if why == UNHEARD:
        yield tr("a board greets and answers no frame: `tocsin devices --controller` asks one with Tocsin's firmware")
    yield tr("the strip's supply may be off; ground must be common to strip and board")
    yield tr("the data line may be on another pin than the board's program says, or at the strip's far end")
    yield tr(
        'baud = {baud} and protocol = "{protocol}" (or "{other}") must be those of the board\'s program',
        baud=light.baud, protocol=light.protocol, other="adalight" if light.protocol == "tpm2" else "tpm2",
    )
    yield from _dim(light)
    yield NOTES.format("light")


def _dim(light: Light) -> Iterator[str]:
    if light.brightness < 0.2 or light.max_ma < 2 * light.leds:       # half of which they draw while dark
        yield tr(
            "brightness = {brightness:g} and max_ma = {max_ma} leave little light for {leds} LEDs",
            brightness=light.brightness, max_ma=light.max_ma, leds=light.leds,
        )


def _exchanged(order: str, answers: Sequence[Attempt]) -> str:
    """Return which byte order the answers speak for, if the strip shone in another colour than was sent."""
    named = [(answer.fired.title, answer.named.title) for answer in answers if answer.named is not None]
    wrong = [(sent, came) for sent, came in named if sent != came]
    if not wrong:
        return ""
    sent, came = wrong[0]
    return tr(
        '{sent} came out as {came}: write order = "{order}" under [light]', sent=sent, came=came,
        order=_order(order, named),
    )


def _order(order: str, named: Sequence[tuple[str, str]]) -> str:
    """Return the order in which the board takes its bytes: two colours settle it, one speaks for a plain exchange."""
    takes = {order.index(sent[0].upper()): came[0].upper() for sent, came in named}
    if len(takes) == 1:
        (place, letter), = takes.items()
        takes[order.index(letter)] = order[place]
    for place in range(len(order)):
        takes.setdefault(place, next((letter for letter in order if letter not in takes.values()), order[place]))
    return "".join(takes[place] for place in range(len(order)))


def _sound(sound: Sound, outputs: Sequence[str]) -> Iterator[str]:
    if sound.volume < LOW_VOLUME:
        yield tr("volume = {volume:g} in the rig is low: raise it step by step", volume=sound.volume)
    yield tr("the system's volume may be down or muted, or the loudspeaker switched off")
    named = tr(": there are {outputs}", outputs=", ".join(outputs)) if len(outputs) > 1 else ""
    yield tr(
        "it may come out elsewhere, in headphones or a display; choose the output in the system's settings{named}",
        named=named,
    )
    yield NOTES.format("sound")
