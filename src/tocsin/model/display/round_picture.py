"""A round of a drill as a picture: what happened when, the verdict as shape, word and number, and the rounds before it.

Pure facts, in seconds of real time from the edge that the round was about: below 0 is before it.
"""

from typing import Literal

import msgspec

from tocsin.translation import marked, tr

Shape = Literal["filled", "cross", "open", "question"]       # clean, not clean, not counted, cannot be told
SHAPES: dict[Shape, str] = {"filled": "●", "cross": "×", "open": "○", "question": "?"}
Happening = Literal["call", "turn", "home", "half home", "end"]
marked("call", "turn", "home", "half home", "end")     # as people read them
# Edges that no window gives.
CALL_EDGE, END_EDGE = tr("call"), tr("end of the match")


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch ``[begin_s, end_s)``; None: its end is not known."""

    begin_s: float
    end_s: float | None


class Instant(msgspec.Struct, frozen=True, kw_only=True):
    """Something that happened at a time."""

    what: Happening
    at_s: float


class Dot(msgspec.Struct, frozen=True, kw_only=True):
    """A round of the series: when what counts happened, None where nobody knows, and how it came out."""

    at_s: float | None
    shape: Shape


class RoundPicture(msgspec.Struct, frozen=True, kw_only=True):
    """One round: its verdict (``shape``, ``word``, ``number``, a ``reason`` or nothing), and what happened.

    ``dealt`` says what the lot did to it, ``title`` which round it was, ``tally`` how the rounds so far came out,
    ``limit_s`` is a limit behind the edge. ``edge`` says what lies at 0 s, empty where a round has no time that counts:
    then there is no bar. ``windows`` are when touching cost points, ``pushes`` our own contacts. ``series`` holds the
    rounds so far, this one last.
    """

    shape: Shape
    word: str
    title: str = ""
    number: str = ""
    reason: str = ""
    dealt: str = ""
    edge: str = ""
    windows: tuple[Span, ...] = ()
    pushes: tuple[Span, ...] = ()
    instants: tuple[Instant, ...] = ()
    limit_s: float | None = None
    tally: str = ""
    series: tuple[Dot, ...] = ()

    def span_s(self) -> tuple[float, float]:
        """Return from when to when its bar reaches, in seconds: all that happened near the edge, and each push in a
        window, with room."""
        times_s = [0.0, *(one.at_s for one in self.instants), *([] if self.limit_s is None else [self.limit_s])]
        times_s += [dot.at_s for dot in self.series if dot.at_s is not None]
        times_s += [at_s for push in self.pushes for at_s in _ends_s(push)]
        near_s = [at_s for at_s in times_s if abs(at_s) <= FARTHEST_S]
        near_s += [at_s for push in self.pushes if self._costs(push) for at_s in _ends_s(push)]
        return min(near_s) - ROOM_S, max(near_s) + ROOM_S

    def _costs(self, push: Span) -> bool:
        """Return whether a push began in a window: one that began before it is told by the window's edge."""
        ends_s = ((one.begin_s, push.begin_s + 1 if one.end_s is None else one.end_s) for one in self.windows)
        return any(begin_s <= push.begin_s < end_s for begin_s, end_s in ends_s)


def _ends_s(span: Span) -> tuple[float, ...]:
    return (span.begin_s,) if span.end_s is None else (span.begin_s, span.end_s)


FARTHEST_S = 12.0                      # further from the edge nothing is drawn: it would make the rest too small
ROOM_S = 1.0


def bar_text(picture: RoundPicture, columns: int) -> tuple[str, ...]:
    """Return the bar in characters for a terminal, with its legend; nothing where there is no bar.

    ``=`` is a push, ``:`` a window in which touching costs, ``|`` the edge, letters are instants.
    """
    if not picture.edge:
        return ()
    begin_s, end_s = picture.span_s()
    per_s = (columns - 1) / (end_s - begin_s)

    def column(at_s: float) -> int:
        return min(columns - 1, max(0, round((at_s - begin_s) * per_s)))

    cells = ["."] * columns
    for mark, spans in ((":", picture.windows), ("=", picture.pushes)):
        for span in spans:
            if span.begin_s < end_s and (span.end_s is None or span.end_s > begin_s):
                to_s = end_s if span.end_s is None else span.end_s
                for at in range(column(span.begin_s), column(to_s) + 1):
                    cells[at] = mark
                if span.end_s is None:
                    cells[column(to_s)] = ">"
    cells[column(0.0)] = "|"
    legend = [f"| {picture.edge}"] + ([tr("= push")] if picture.pushes else [])
    for instant in picture.instants:
        if begin_s <= instant.at_s <= end_s:
            what = tr(instant.what)
            cells[column(instant.at_s)] = what[0].upper()
            legend.append(f"{what[0].upper()} {what}")
    return ("".join(cells), "  ".join(legend))
