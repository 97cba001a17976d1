"""What follows from the answers to the questions of ``tocsin init`` where little is known ahead."""

from tocsin.config.write.room import Room
from tocsin.units import NS_PER_S

ROOM = Room(
    window="crane", title="Crane down", keeps_off=True, before="Drivers", ahead_ns=40 * NS_PER_S, last="Drivers",
    last_ns=60 * NS_PER_S, window_ns=20 * NS_PER_S,
)  # fmt: skip


def test_where_the_end_is_not_known_the_way_home_decides_nothing() -> None:
    said = ROOM._replace(window_ns=None).followed(30 * NS_PER_S, 4 * NS_PER_S)
    assert said.startswith("Home is called 4s before 'Crane down' begins (the lead break_off).")
    assert said.endswith("to the end: the way home is not used.")


def test_where_the_begin_is_not_known_home_is_called_from_the_end() -> None:
    said = ROOM._replace(ahead_ns=0).followed(7 * NS_PER_S, 4 * NS_PER_S)
    assert said == (
        "Home is called 11s before the end (the lead home): nobody knows yet when 'Crane down' begins. "
        "No call uses the 4s to break off a push (the lead break_off)."
    )
