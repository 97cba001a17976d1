"""Ask a team for what its files are made of: its game, its two times, and who plays."""

import argparse
from collections.abc import Callable
from typing import TypeVar

from tocsin.cli.asking import Question, answered
from tocsin.cli.people import Named, named_in
from tocsin.config.write.answers import (
    USUAL_AUTONOMOUS_NS,
    USUAL_CONTACT,
    USUAL_DRIVER_NS,
    USUAL_HOME_NS,
    USUAL_OFF_NS,
    GameAnswers,
    counts_of,
    digits_of,
    driver_of,
    in_seconds,
    pause_of,
    points_of,
    shown,
    spans_of,
    time_of,
    time_or_none,
    usual_window,
)
from tocsin.config.write.room import RESERVE_NS, Room
from tocsin.config.write.team import Times
from tocsin.translation import tr
from tocsin.units import NS_PER_MS, NS_PER_S, format_clock

T = TypeVar("T")

OPTIONS = {
    "--autonomous": ("TIME", tr("how long the autonomous period lasts, e.g. 28s; none")),
    "--pause": ("TIME", tr("how long the pause before the drivers begin lasts, e.g. 11s; none; key: a person ends it")),
    "--driver": ("TIME", tr("how long the driver-controlled period lasts, e.g. 1:37")),
    "--digits": ("0:20|0:19", tr("what the official display shows while 20.0 to 19.0 s are left")),
    "--counts": ("WHAT", tr("what it counts down: each period, or the match")),
    "--windows": ("LIST", tr("when contact costs points, by that display: 0:18; none; 1:20-0:50,0:18")),
    "--contact": ("POINTS", tr("what a contact then gives the opponents, e.g. 9")),
    "--home": ("TIME", tr("how long the robot needs home, e.g. 7s")),
    "--off": ("TIME", tr("how early a call must come to break off a push, e.g. 4s")),
}
WHO = tr("who plays, in which crew (A, B, C; A if none is said); `none` for nobody yet")
_HINT_OF_WHO = tr("Ann, Ben")


def ask_game(given: argparse.Namespace, usual: GameAnswers | None = None) -> GameAnswers:
    """Return the answers about a team's game, from options or asked; ``usual`` are those that Enter gives. Raises
    UsageError, EOFError if a person leaves."""
    before = usual or GameAnswers(USUAL_AUTONOMOUS_NS, 0, USUAL_DRIVER_NS)
    autonomous_ns = answered(_time(
        "--autonomous", tr("How long is the autonomous period? (e.g. 28s; none)"), "28s",
        _or_none(before.autonomous_ns), time_or_none,
    ), given.autonomous)  # fmt: skip
    pause_ns: int | None = 0
    if autonomous_ns:
        pause_ns = answered(_time(
            "--pause", tr("And the pause before the drivers begin? (e.g. 11s; none; key: a person ends it)"), "11s",
            "key" if before.pause_ns is None else _or_none(before.pause_ns), pause_of,
        ), given.pause)  # fmt: skip
    driver_ns = answered(_time(
        "--driver", tr("How long is the driver-controlled period? (e.g. 1:37)"), "1:37", shown(before.driver_ns),
        driver_of,
    ), given.driver)  # fmt: skip
    digits = answered(Question(
        option="--digits", asks=tr("From 20.0 to 19.0 s left, does the official display show 0:20 or 0:19?"),
        example="0:20", usual="0:20" if before.digits == "ceil" else "0:19", read=digits_of,
    ), given.digits)  # fmt: skip
    counts = before.counts
    if autonomous_ns:
        counts = answered(Question(
            option="--counts", asks=tr("Does it count down each period, or the whole match? (period or match)"),
            example="period", usual=before.counts, read=counts_of,
        ), given.counts)  # fmt: skip
    spans = answered(Question(
        option="--windows",
        asks=tr("When does contact cost points, by that display? (e.g. 0:18; none; several: 1:20-0:50, 0:18)"),
        example="0:18", usual=_usual_windows(usual, driver_ns),
        read=lambda text, example: spans_of(text, driver_ns, example),
    ), given.windows)  # fmt: skip
    contact = 0
    if spans:
        contact = answered(Question(
            option="--contact", asks=tr("How many points does a contact then give the opponents? (e.g. 9)"),
            example="9", usual=str(before.contact if usual else USUAL_CONTACT), read=points_of,
        ), given.contact)  # fmt: skip
    return GameAnswers(autonomous_ns, pause_ns, driver_ns, digits, counts, spans, contact)


def differs(given: argparse.Namespace, standing: GameAnswers) -> str:
    """Return the first option about the game that says something else than what stands there, or an empty text. Raises
    UsageError for one that means nothing."""
    stand = {
        "autonomous": _or_none(standing.autonomous_ns),
        "pause": "key" if standing.pause_ns is None else _or_none(standing.pause_ns),
        "driver": shown(standing.driver_ns),
        "digits": standing.digits,
        "counts": standing.counts,
        "windows": _usual_windows(standing, standing.driver_ns),
        "contact": str(standing.contact),
    }
    for option in stand:
        if (said := getattr(given, option)) is not None:
            asked = argparse.Namespace(**{**stand, option: said})
            if ask_game(asked, standing) != standing:
                return f"--{option}"
    return ""


def ask_times(
    given: argparse.Namespace, room: Room, home_ns: int | None = None, off_ns: int | None = None
) -> Times:
    """Return both times, from options or asked; those given here are what Enter gives. Raises like ``ask_game``."""
    return Times(ask_home(given, room, home_ns), ask_off(given, room, off_ns) if room.window else USUAL_OFF_NS)


def ask_home(given: argparse.Namespace, room: Room, usual_ns: int | None = None) -> int:
    """Return how long the way home takes, in nanoseconds. Raises like ``ask_game``."""
    most_ns = USUAL_HOME_NS if room.last_ns is None else max(NS_PER_S // 2, (room.last_ns - RESERVE_NS) // 2)
    usual = format_clock(usual_ns or _at_most(USUAL_HOME_NS, most_ns))
    asks = tr("How long is the robot's way home? (e.g. 7s)")
    return answered(_time("--home", asks, "7s", usual, time_of, room.against_home), given.home)


def ask_off(given: argparse.Namespace, room: Room, usual_ns: int | None = None) -> int:
    """Return how early a push is broken off, in nanoseconds. Raises like ``ask_game``."""
    usual = format_clock(usual_ns or _at_most(USUAL_OFF_NS, room.ahead_ns or USUAL_OFF_NS))
    asks = tr("How early must a call come to break off a push? (e.g. 4s)")
    return answered(_time("--off", asks, "4s", usual, time_of, room.against_off), given.off)


def ask_crews(given: argparse.Namespace) -> list[Named]:
    """Return who plays: crew, role and name of each. Raises like ``ask_game``."""
    question = Question(
        option="--who",
        asks=tr("Who plays? Driver, then operator; a ; before the next crew (e.g. Ann, Ben; Cleo)"),
        example=_HINT_OF_WHO, usual=tr("nobody yet"), read=named_in,
    )  # fmt: skip
    if given.who:
        return [one for text in given.who for one in named_in(text, _HINT_OF_WHO)]
    return answered(question, None)


def _time(
    option: str, asks: str, example: str, usual: str, read: Callable[[str, str], T],
    against: Callable[[T], str] = lambda _: "",
) -> Question[T]:  # fmt: skip
    return Question(
        option=option, asks=asks, example=example, usual=usual, read=read, against=against, tidied=in_seconds
    )


def _or_none(lasts_ns: int) -> str:
    return format_clock(lasts_ns) if lasts_ns else "none"


def _at_most(usual_ns: int, most_ns: int) -> int:
    """Return a usual time, or a shorter one of whole tenths that fits."""
    return usual_ns if usual_ns <= most_ns else most_ns // (100 * NS_PER_MS) * 100 * NS_PER_MS or most_ns


def _usual_windows(before: GameAnswers | None, driver_ns: int) -> str:
    if before is None or any(span.begin_left_ns > driver_ns for span in before.spans):
        return usual_window(driver_ns)
    told = (
        shown(span.begin_left_ns) + (f"-{shown(span.end_left_ns)}" if span.end_left_ns else "") for span in before.spans
    )
    return ", ".join(told) or "none"
