"""Teams in games of all kinds, as their answers to the questions of ``tocsin init``."""

from typing import NamedTuple

from hypothesis import strategies as st

from tocsin.config.write.answers import GameAnswers, Span
from tocsin.config.write.new_game import game_text
from tocsin.config.write.room import Room, room_in
from tocsin.config.write.starter import built, game_in
from tocsin.config.write.team import Times
from tocsin.units import NS_PER_MS, NS_PER_S

S = NS_PER_S


class Team(NamedTuple):
    """A team's game as its answers, and the times that it would give."""

    game: GameAnswers
    times: Times


def lasting(least_s: int, most_s: int) -> st.SearchStrategy[int]:
    """Return times as people give them: whole seconds mostly, tenths now and then."""
    whole = st.integers(least_s, most_s).map(lambda s: s * S)
    return whole | st.integers(least_s * 10, most_s * 10).map(lambda tenths: tenths * 100 * NS_PER_MS)


@st.composite
def windows(draw: st.DrawFn, driver_ns: int) -> tuple[Span, ...]:
    """Return no window, one or several, the earliest first."""
    count = draw(st.sampled_from([0, 1, 1, 1, 2, 3]))
    inside = st.integers(0, driver_ns // (500 * NS_PER_MS)).map(lambda halves: halves * 500 * NS_PER_MS)
    edges = sorted(draw(st.lists(inside, min_size=2 * count, max_size=2 * count, unique=True)), reverse=True)
    spans = [Span(begin, end) for begin, end in zip(edges[::2], edges[1::2], strict=True)]
    if spans and draw(st.booleans()):
        spans[-1] = Span(spans[-1].begin_left_ns, 0)
    return tuple(spans)


@st.composite
def teams(draw: st.DrawFn) -> Team:
    """Return teams in games of all kinds: without autonomous, with pauses that a person ends, with short periods."""
    driver_ns = draw(lasting(10, 300))
    autonomous_ns = draw(st.just(0) | lasting(10, 300))
    spans = draw(windows(driver_ns))
    game = GameAnswers(
        autonomous_ns=autonomous_ns,
        pause_ns=draw(st.sampled_from([0, None]) | lasting(1, 60)) if autonomous_ns else 0,
        driver_ns=driver_ns,
        digits=draw(st.sampled_from(["ceil", "floor"])),
        counts=draw(st.sampled_from(["period", "match"])) if autonomous_ns else "period",
        spans=spans,
        contact=draw(st.sampled_from([0, 5, 20])) if spans else 0,
    )
    room = room_of(game)
    return Team(game, Times(*(draw(fitting(room, home=home)) for home in (True, False))))


def room_of(game: GameAnswers) -> Room:
    """Return the room that a game leaves."""
    return room_in(built(game_in(game_text(game, "Invented"))))


def fitting(room: Room, *, home: bool) -> st.SearchStrategy[int]:
    """Return the times that would be taken, as an answer that does not fit is asked again."""
    against = room.against_home if home else room.against_off
    return lasting(1, 60).filter(lambda ns: not against(ns)) if not against(S) else st.just(S // 10)
