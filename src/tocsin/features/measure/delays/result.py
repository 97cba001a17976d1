"""Hold the result of a delay measurement: figures, sentences, and the latencies for a rig file."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import msgspec

from tocsin.analysis.delays.estimates import FEWEST
from tocsin.analysis.delays.landing import Delay, landings, latencies_ms, shift_ms, verdict
from tocsin.config.write.rig_edit import Place, Value, write_values
from tocsin.errors import OVER
from tocsin.features.measure.delays.cues import first_pads, latencies_of
from tocsin.model.rig import Rig
from tocsin.translation import tr

MICROPHONE_IN_IT = tr(
    "The sound's number includes the microphone's delay, often 5 to 20 ms (estimate, no source), more by radio: "
    "--microphone-ms takes it off.",
)


class DelayResult(msgspec.Struct, frozen=True, kw_only=True):
    """The whole result. ``latency_ms`` are the measured latencies, ``rig_ms`` those in the rig, by device; ``written``
    says whether they were written. ``reference`` says how the film's reference is known. ``absent`` are missing devices
    of the rig, and why; ``unheard`` counts cues that the microphone did not hear. ``left``: it was ended early."""

    exit: int = OVER
    rig: str
    delays: tuple[Delay, ...] = ()
    rig_ms: dict[str, float] = {}
    latency_ms: dict[str, int] = {}
    reference: str = ""
    microphone: str = ""
    microphone_ms: float = 0.0
    unheard: int = 0
    template: str = ""
    left: bool = False
    absent: dict[str, str] = {}
    written: bool = False
    lines: tuple[str, ...] = ()


def result_of(rig: Rig, delays: Sequence[Delay], **besides: object) -> DelayResult:
    """Return the result for a rig from delays, in figures and words; ``besides`` are other fields of the result."""
    found = DelayResult(
        rig=rig.name, delays=tuple(delays), rig_ms=latencies_of(rig), latency_ms=latencies_ms(delays),
        **besides,  # type: ignore[arg-type]
    )  # fmt: skip
    return msgspec.structs.replace(found, lines=tuple(_lines(found)))


def write_into(path: Path, rig: Rig, found: DelayResult) -> DelayResult:
    """Write the measured latencies into a rig file; return the result with a line about it. Raises UsageError and the
    errors of loading a rig; then the file is unchanged."""
    write_values(path, places_of(rig, found.latency_ms))
    told = ", ".join(f"{device} {ms}" for device, ms in found.latency_ms.items())
    if moved_ms := round(shift_ms(found.delays)):
        told += tr("; all {moved} ms more than measured, since none may be negative", moved=moved_ms)
    return msgspec.structs.replace(
        found, written=True, lines=(*found.lines, tr("Wrote latency_ms into {path}: {told}.", path=path, told=told)),
    )


def places_of(rig: Rig, latency_ms: Mapping[str, int]) -> dict[Place, Value]:
    """Return the place of each device's latency in a rig file, and its new value."""
    pads = first_pads(rig)
    return {
        ("pad", pads[device], "latency_ms") if device in pads else (device, "latency_ms"): ms
        for device, ms in latency_ms.items()
    }


def _lines(found: DelayResult) -> Iterator[str]:
    if found.left:
        yield tr("Ended before its time: nothing is measured.")
    for device, why in found.absent.items():
        yield tr("Not there, so not measured: {device} ({why}).", device=device, why=why)
    if found.unheard:
        yield tr(
            "The microphone did not hear {unheard} of the sounds: louder, nearer, or in more quiet?",
            unheard=found.unheard,
        )
    if not found.delays:
        return
    width = max(len(delay.device) for delay in found.delays)
    yield f"{'device':<{width}}  delay ms       ±   n  refused  rig says"
    for delay in found.delays:
        yield f"{delay.device:<{width}}  {_figures(delay)}  {found.rig_ms[delay.device]:>8.0f}"
    yield tr("95 times in 100 the delay is within the ±.")
    if any(delay.reading.error_ms is None and not delay.reference for delay in found.delays):
        yield tr("?: too few to know how exact it is: a device needs {fewest} readings.", fewest=FEWEST)
    if found.reference:
        yield found.reference
    if any(delay.method == "microphone" for delay in found.delays):
        yield tr(
            "Heard by {microphone}; {microphone_2:g} ms were taken off for it. {microphone_in_it}",
            microphone=found.microphone, microphone_2=found.microphone_ms, microphone_in_it=MICROPHONE_IN_IT,
        )
    yield from verdict(landings(found.delays, found.rig_ms))


def _figures(delay: Delay) -> str:
    reading = delay.reading
    error = "known" if delay.reference else "?" if reading.error_ms is None else f"{reading.error_ms:.1f}"
    return f"{reading.median_ms:>8.1f}  {error:>6}  {reading.n:>2}  {reading.refused:>7}"
