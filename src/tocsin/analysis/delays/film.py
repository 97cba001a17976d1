"""Compute delays from a slow-motion film: a table of the first picture in which each device answers a cue. Pure.

An event shows in the first picture after it, so each reading is up to one picture late. The difference of two readings
is off by up to one picture either way, and right on average if cues come at all phases of the film (``cue_times_ns``).
A miscounted picture is refused. Only differences can be seen: one device, the reference, has a known or assumed delay
and stands for the instant of the call.
"""

import csv
import io
import itertools
import re
import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from tocsin.analysis.csv_table import TableError, rows_of, shown
from tocsin.analysis.delays.estimates import Estimate, reading_of
from tocsin.analysis.delays.landing import Delay
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S

COLUMNS = ("cue", "device", "called_ms", "frame")
FIRST_NS = 2 * NS_PER_S
GAP_NS = 1700 * NS_PER_MS              # longer than a strip, a pad and an eye need to come to rest
_PHASES_NS = NS_PER_S // 15            # whole pictures at 30, 60, 120 and 240 a second
_GOLDEN = 0.618_033_988_749_895        # its multiples, less the whole, fill an interval evenly (Weyl; from memory)
_RATE_OFF = 0.01                       # a film that tells another rate by more than this was counted otherwise
_FEWEST = 3
_FAR = 5.0                             # deviations: of a dozen right readings the usual 3.5 would take some (simulated)
_MAD_TO_DEVIATION = 1.4826             # a normal curve's standard deviation over its median deviation
_NUMBER = re.compile(r"\d{1,9}(?:[.,]\d{1,9})?")


class FilmRow(NamedTuple):
    """A device's answer to a cue: ``frame`` is the first picture that shows it, None if none does; ``called_ms`` is
    when the device was called, in milliseconds after the begin of the cues, None if the table does not say."""

    cue: int
    device: str
    called_ms: float | None
    frame: float | None


class Reference(NamedTuple):
    """The device that all others are measured against, and its own delay in milliseconds."""

    device: str
    delay_ms: float


def cue_times_ns(count: int) -> tuple[int, ...]:
    """Return the cues' times in nanoseconds after the begin, spread evenly over the phases of a film."""
    return tuple(FIRST_NS + n * GAP_NS + round(_PHASES_NS * (n * _GOLDEN % 1)) for n in range(count))


def film_text(rows: Iterable[FilmRow]) -> str:
    """Return the table as CSV, to be filled in and read again."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for row in rows:
        called = "" if row.called_ms is None else f"{row.called_ms:.3f}"
        table.writerow([row.cue, row.device, called, "" if row.frame is None else f"{row.frame:g}"])
    return out.getvalue()


def read_film(text: str, devices: Sequence[str]) -> tuple[FilmRow, ...]:
    """Return the rows of a table with the columns cue, device, frame, and optionally called_ms. Raises TableError with
    all mistakes and their lines; a device that is not in the rig is reported once."""
    problems: list[tuple[int, str]] = []
    strange: dict[str, list[int]] = {}
    rows: dict[tuple[int, str], tuple[FilmRow, int]] = {}
    for line, given in rows_of(text, COLUMNS, [column for column in COLUMNS if column != "called_ms"]):
        wrong = list(_problems(given))
        problems += [(line, f": {why}") for why in wrong]
        if given["device"] not in devices:
            strange.setdefault(given["device"], []).append(line)
        elif not wrong:
            row = FilmRow(int(given["cue"]), given["device"], _number(given["called_ms"]), _number(given["frame"]))
            if (before := rows.get(row[:2])) is not None:
                problems.append(
                    (
                        line,
                        tr(
                            ": cue {cue} of {device} is in line {before} too; keep one", cue=row.cue,
                            device=row.device, before=before[1],
                        ),
                    ),
                )
            rows[row[:2]] = (row, line)
    problems += [(lines[0], _strange(device, len(lines) - 1, devices)) for device, lines in strange.items()]
    if problems:
        raise TableError([tr("line {line}{told}", line=line, told=told) for line, told in sorted(problems)])
    if not any(row.frame is not None for row, _ in rows.values()):
        raise TableError([
            tr("no frame is filled in: write the number of the picture in which each answer is first seen")
        ])  # fmt: skip
    return tuple(row for row, _ in rows.values())


def film_rate(rows: Sequence[FilmRow], device: str, fps: float) -> float:
    """Return the film's pictures a second from a device's own answers, or ``fps`` if there are too few. Raises
    TableError if the two differ by more than 1 %: the pictures were then counted at another rate than filmed."""
    points = [(row.called_ms, row.frame) for row in rows if row.device == device and row.frame is not None]
    seen = [(ms, frame) for ms, frame in points if ms is not None]
    slopes = [
        (later[1] - earlier[1]) * 1000 / (later[0] - earlier[0])
        for earlier, later in itertools.combinations(seen, 2)
        if later[0] != earlier[0]
    ]
    if len(seen) < _FEWEST or not slopes:
        return fps
    # The median of all slopes (Theil and Sen): a misread picture does not move it. Each is off by up to a picture.
    found = statistics.median(slopes)
    frames = [frame for _, frame in seen]
    if abs(found / fps - 1) > _RATE_OFF + 1 / max(1.0, max(frames) - min(frames)):
        raise TableError([
            tr(
                "by its cues the film has {found:.1f} frames a second, not {fps:g}: write --fps {found:.0f}, or count "
                "the frames as filmed", found=found, fps=fps,
            )
        ])  # fmt: skip
    return found


def film_delays(rows: Sequence[FilmRow], fps: float, reference: Reference) -> tuple[Delay, ...]:
    """Return the delays of all devices in the film, the reference first. Raises TableError if the reference is missing,
    no other device is seen with it, or the film has another rate."""
    by_cue: dict[int, dict[str, FilmRow]] = {}
    for row in rows:
        if row.frame is not None:
            by_cue.setdefault(row.cue, {})[row.device] = row
    seen = sum(reference.device in devices for devices in by_cue.values())
    if not seen:
        hint = tr("fill its frames in, or name another with --reference")
        raise TableError([tr(
            "no frame of {device}; all others are compared with it: {hint}", device=reference.device, hint=hint,
        )])
    rate = film_rate(rows, reference.device, fps)
    differences: dict[str, list[float]] = {}
    for devices in by_cue.values():
        for device, after_ms in _after_ms(devices, reference.device, rate):
            differences.setdefault(device, []).append(after_ms)
    if not differences:
        raise TableError([tr(
            "no cue shows {device} and another device: fill in both frames of some cues", device=reference.device,
        )])
    known = Estimate(
        mean_ms=reference.delay_ms, median_ms=reference.delay_ms, error_ms=None, spread_ms=0.0, n=seen
    )
    found = [Delay(device=reference.device, method="film", reading=known, reference=True)]
    for device, values_ms in differences.items():
        picture_ms = 1000 / rate
        kept_ms = _counted_right(values_ms, picture_ms)
        reading = reading_of(
            [reference.delay_ms + ms for ms in kept_ms], step_ms=picture_ms, dithered=True,
            refused=len(values_ms) - len(kept_ms),
        )  # fmt: skip
        if reading is not None:
            found.append(Delay(device=device, method="film", reading=reading))
    return tuple(found)


def _after_ms(devices: Mapping[str, FilmRow], reference: str, rate: float) -> Iterator[tuple[str, float]]:
    """Yield how much longer than the reference each device of a cue took from its call to its picture."""
    other = devices.get(reference)
    if other is None or other.frame is None:
        return
    for device, row in devices.items():
        if device != reference and row.frame is not None:
            called_ms = 0.0
            if row.called_ms is not None and other.called_ms is not None:
                called_ms = row.called_ms - other.called_ms
            yield device, (row.frame - other.frame) * 1000 / rate - called_ms


def _counted_right(values_ms: Sequence[float], picture_ms: float) -> list[float]:
    """Return the differences without those in which a picture must have been counted wrongly: more than two pictures
    off, and far from the others by their median deviation (Hampel's rule)."""
    middle_ms = statistics.median(values_ms)
    deviation_ms = statistics.median(abs(value - middle_ms) for value in values_ms)
    limit_ms = max(_FAR * _MAD_TO_DEVIATION * deviation_ms, 2 * picture_ms)
    return [value for value in values_ms if abs(value - middle_ms) <= limit_ms]


def _strange(device: str, more: int, devices: Sequence[str]) -> str:
    """Return what is said of a device that the rig lacks, and that stands in so many more lines."""
    again = tr(" and {more} more", more=more) if more else ""
    has = ", ".join(devices) or "none"
    return tr(
        "{again}: '{device}' is not a device of this rig, which has {has}: is it the right rig?", again=again,
        device=shown(device), has=has,
    )


def _problems(given: Mapping[str, str]) -> Iterator[str]:
    if not given["cue"].isdecimal() or int(given["cue"]) < 1:
        yield tr("'{given}' is not a cue; write the number that the screen shows, from 1", given=shown(given["cue"]))
    if given["frame"] and _number(given["frame"]) is None:
        yield tr(
            "'{given}' is not a frame number; write a number, or leave it empty if it was not seen",
            given=shown(given["frame"]),
        )
    if given["called_ms"] and _number(given["called_ms"]) is None:
        yield tr("'{given}' is not a time in ms; leave this column as Tocsin wrote it", given=shown(given["called_ms"]))


def _number(text: str) -> float | None:
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None
