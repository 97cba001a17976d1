"""Lay the windows of a game as spans on the clock; they may overlap, recur and refer to each other."""

from collections.abc import Mapping

from tocsin.model import diagnostics as code
from tocsin.model.compiler.pairs import MomentList, PlacedMoment, pair, place
from tocsin.model.diagnostics import Diagnostics
from tocsin.model.game import Window
from tocsin.model.timeline.ground import Ground
from tocsin.model.timeline.locator import Locator, Places
from tocsin.model.timeline.point import Edge, WindowSpan

# Each reference from window to window is a level of recursion; no game comes near.
MOST_WINDOWS = 50
# Of one window. Who asks what holds now asks for all of them, several times a second.
MOST_SPANS = 20


class WindowBook:
    """Resolves windows edge by edge, so that an end may refer to the begin of its own window."""

    def __init__(self, windows: tuple[Window, ...], ground: Ground, found: Diagnostics) -> None:
        self._ground = ground
        self._found = found
        self._windows: dict[str, tuple[int, Window]] = {}
        if len(windows) > MOST_WINDOWS:
            found.add(code.TOO_MANY, "game", ("window",),
                      name="window", count=str(len(windows)), most=str(MOST_WINDOWS))  # fmt: skip
        for index, window in enumerate(windows[:MOST_WINDOWS]):
            self._windows.setdefault(window.id, (index, window))
        self._edges: dict[tuple[str, Edge], list[PlacedMoment]] = {}
        self._open: list[tuple[str, Edge]] = []
        self._locator = self.locator({})

    def locator(self, leads: Mapping[str, int]) -> Locator:
        """Return the locator of moments on this ground, among these windows, with a plan's leads."""
        return Locator(self._ground, leads, self._windows, self.edge_of)

    def edge_of(self, window: str, edge: Edge) -> Places:
        """Return the points at which a window's spans begin or end; None for one that cannot be resolved."""
        return [placed.point for placed in self._edge(window, edge)] or [None]

    def spans(self) -> tuple[WindowSpan, ...]:
        """Return all spans in the game's order."""
        spans: list[WindowSpan] = []
        for window_id, (index, window) in self._windows.items():
            pairs = pair(
                self._edge(window_id, "begin"), self._edge(window_id, "end"),
                self._written(index, window, "begin"), self._written(index, window, "end"), self._ground, self._found,
            )  # fmt: skip
            spans += [
                WindowSpan(id=window_id, n=n, title=window.title, begin=begin.point, end=end.point)
                for n, (begin, end) in enumerate(pairs, start=1)
                if begin.point is not None and end.point is not None
            ]
        return tuple(spans)

    def _edge(self, window_id: str, edge: Edge) -> list[PlacedMoment]:
        key = (window_id, edge)
        if key in self._edges:
            return self._edges[key]
        index, window = self._windows[window_id]
        if key in self._open:
            self._report_cycle(key)
            return []
        self._open.append(key)
        written = self._written(index, window, edge)
        self._edges[key] = place(written, self._locator, self._ground.last_end(), self._ground, self._found)
        self._open.pop()
        return self._edges[key]

    def _written(self, index: int, window: Window, edge: Edge) -> MomentList:
        moments = window.begins if edge == "begin" else window.ends
        return MomentList(file="game", path=("window", index, edge), moments=moments, most=MOST_SPANS)

    def _report_cycle(self, key: tuple[str, Edge]) -> None:
        closing_id, closing_edge = self._open[-1]
        round_trip = [*self._open[self._open.index(key) :], key]
        way = " -> ".join(f"{window_id}.{edge}" for window_id, edge in round_trip)
        path = ("window", self._windows[closing_id][0], closing_edge)
        self._found.add(code.WINDOW_CYCLE, "game", path, name=closing_id, way=way)
