"""Draw an evening: a row of rounds for each drill and crew. Black on white, shapes and no colour.

It stands beside the page of the evening's review, which is of one drill and knows no crews: only here all drills of
the evening stand together, with each round's seconds. It says in its file whose names it may show, by key, so that it
goes away with a name that is forgotten.
"""

import logging
from collections.abc import Mapping
from io import BytesIO
from typing import Any

from tocsin.features.evening.result import CrewResult, EveningResult, each_once, evening_title, legend
from tocsin.model.display.round_picture import Shape
from tocsin.translation import tr

_DPI = 144
_WIDTH_IN, _ROW_IN, _EDGES_IN = 9.0, 0.6, 1.5
_SETTINGS: Any = {"text.usetex": False, "font.family": "DejaVu Sans"}
_MARKERS: dict[Shape, dict[str, Any]] = {
    "filled": {"marker": "o", "markerfacecolor": "black"},
    "cross": {"marker": "x", "markeredgewidth": 2},
    "open": {"marker": "o", "markerfacecolor": "white"},
    "question": {"marker": "$?$", "markerfacecolor": "black"},
}


def picture(result: EveningResult, names: Mapping[str, str]) -> bytes:
    """Return the picture as PNG, with people's ``names`` by key. Equal results give equal bytes."""
    # Loaded here: it takes most of a second, which nobody should wait for before the evening's end.
    import matplotlib
    from matplotlib.figure import Figure

    # Else a line about its cache of fonts comes between ours, the first time.
    logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)
    drills = each_once(result.drills)
    rows = [(f"{drill.title}, {crew.named(names)}", crew) for drill in drills for crew in drill.crews]
    shown = {key for _, crew in rows for key in crew.people.values() if key in names}
    with matplotlib.rc_context(_SETTINGS):
        height_in = _EDGES_IN + _ROW_IN * max(1, len(rows))
        figure = Figure(figsize=(_WIDTH_IN, height_in), layout="constrained")
        axes = figure.add_subplot()
        for place, (_, crew) in enumerate(rows):
            _draw(axes, len(rows) - 1 - place, crew)
        most = max((len(crew.shapes) for _, crew in rows), default=1)
        axes.set_xlim(0.5, max(12, most) + 0.5)
        axes.set_ylim(-0.6, max(1, len(rows)) - 0.4)
        axes.set_yticks(range(len(rows)), [title for title, _ in rows][::-1])
        axes.set_title(evening_title(result), loc="left")
        axes.set_xlabel(tr("rounds in order, seconds to spare: {legend}", legend=legend()))
        axes.tick_params(axis="y", length=0)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        if not rows:
            axes.text(1, 0, tr("No round was played."))
        file = BytesIO()
        figure.savefig(file, format="png", dpi=_DPI, metadata={"Software": None, "People": " ".join(sorted(shown))})
    return file.getvalue()


def _draw(axes: Any, y: int, crew: CrewResult) -> None:
    for number, shape in enumerate(crew.shapes, 1):
        axes.plot([number], [y], linestyle="none", markersize=9, color="black", **_MARKERS[shape])
        if number <= len(crew.seconds):
            axes.text(number, y + 0.22, crew.seconds[number - 1], ha="center", fontsize=7)
    told = (
        tr("{clean} of {counted} clean", clean=crew.clean, counted=crew.counted) if crew.counted
        else tr("none counted")
    )
    axes.text(1.01, y, told, va="center", transform=axes.get_yaxis_transform())
