"""Draw a person's answers: every answer, the median with its interval, late answers, missed signals.

Drawn with matplotlib's own Figure, without a window and without ``pyplot``. It is black on white and uses no colour for
meaning, so it reads the same in print and for any eyes. It holds no name.
"""

import random
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tocsin.analysis.reactions.scores import WINDOW_MS, Score
from tocsin.analysis.reactions.words import title
from tocsin.config.writing import demand_writable
from tocsin.errors import UsageError
from tocsin.features.reactions.result import ReactResult
from tocsin.translation import tr

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SUFFIXES = (".svg", ".png")
CAPTION = tr(
    "Each dot is an answer; the bar is the middle one, the line shows how sure that is (95 %).\n"
    "On the bench, by somebody who waits for it: the field is different.",
)
_DPI = 144
_WIDTH_IN, _ROW_IN, _EDGES_IN, _FOOT_IN = 9.0, 0.62, 1.9, 0.5
_SPREAD = 0.22                         # of a row, up and down, so that dots do not hide each other
_DOTS, _BACK = "0.45", "0.8"           # greys
_SETTINGS: Any = {
    "svg.fonttype": "path",
    "svg.hashsalt": "tocsin",
    "text.usetex": False,
    "font.family": "DejaVu Sans",
}


def demand_drawable(path: Path) -> None:
    """Refuse a picture that could not be written, before anybody takes the test. Raises UsageError."""
    if path.suffix.lower() not in SUFFIXES:
        likely = path.with_suffix(SUFFIXES[0])
        raise UsageError(
            tr("a picture ends in {suffixes}", suffixes=" or ".join(SUFFIXES)),
            hint=tr("did you mean {likely}?", likely=likely),
        )
    if path.is_dir():
        raise UsageError(
            tr("{path} is a folder", path=path), hint=tr("name a file in it, e.g. {path}", path=path / "reaction.svg"),
        )
    if not path.parent.is_dir():
        raise UsageError(
            tr("there is no folder {parent}", parent=path.parent), hint=tr("make it first, or choose another one"),
        )
    demand_writable(path)


def picture(result: ReactResult, suffix: str) -> bytes:
    """Return the picture as SVG or PNG, by the file's suffix. Equal results give equal bytes."""
    # Loaded here: it takes most of a second, which nobody should wait for who asked for no picture.
    import matplotlib
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    scores = result.scores.scores if result.scores else ()
    height_in = _EDGES_IN + _ROW_IN * max(1, len(scores))
    foot = _FOOT_IN / height_in
    with matplotlib.rc_context(_SETTINGS):
        layout = ConstrainedLayoutEngine(rect=(0, foot, 1, 1 - foot))
        figure = Figure(figsize=(_WIDTH_IN, height_in), layout=layout)
        axes = figure.add_subplot()
        for row, score in enumerate(scores):
            _draw_row(axes, len(scores) - 1 - row, score, _answers_ms(result, score))
        _draw_frame(
            axes,
            scores,
            _reach_ms(result),
            tr("Reaction test, {role}, plan {plan}", role=result.role, plan=result.plan),
        )
        figure.text(0.01, 0.01, CAPTION, fontsize=8, verticalalignment="bottom")
        file = BytesIO()
        kind = suffix.lower().removeprefix(".")
        figure.savefig(file, format=kind, dpi=_DPI, metadata={"Date": None} if kind == "svg" else {"Software": None})
    return file.getvalue()


def _answers_ms(result: ReactResult, score: Score) -> list[float]:
    return [one.ms for one in result.reactions if one.condition == score.condition and one.ms is not None]


def _reach_ms(result: ReactResult) -> float:
    """Return how far to the right the axis goes: a little beyond the slowest answer, and where lapses begin."""
    slowest_ms = max((one.ms for one in result.reactions if one.ms is not None), default=0.0)
    return min(WINDOW_MS, max(700.0, 100 * (slowest_ms // 100 + 1)))


def _draw_row(axes: "Axes", y: int, score: Score, answers_ms: list[float]) -> None:
    rng = random.Random(y)
    axes.plot(
        answers_ms, [y + _SPREAD * (2 * rng.random() - 1) for _ in answers_ms],
        linestyle="none", marker="o", markersize=4, markerfacecolor="white", markeredgecolor=_DOTS, zorder=4,
    )  # fmt: skip
    if score.median_ms is not None:
        low_ms, high_ms = score.median_interval.low_ms, score.median_interval.high_ms
        if low_ms is not None and high_ms is not None:
            axes.plot([low_ms, high_ms], [y, y], color="black", linewidth=2, solid_capstyle="butt", zorder=3)
        axes.plot([score.median_ms] * 2, [y - 0.34, y + 0.34], color="black", linewidth=3, zorder=2)
        axes.text(score.median_ms, y + 0.36, f"{score.median_ms:.0f}", fontsize=9, ha="center", va="bottom")
    axes.text(1.02, y, _beside(score), fontsize=9, va="center", transform=axes.get_yaxis_transform())


def _draw_frame(axes: "Axes", scores: tuple[Score, ...], reach_ms: float, heading: str) -> None:
    axes.set_title(heading, fontsize=11, loc="left")
    axes.set_xlim(0, reach_ms)
    axes.set_ylim(-0.6, max(1, len(scores)) - 0.3)
    axes.set_xlabel(tr("answer, in ms after the signal"))
    axes.set_yticks(range(len(scores)), [title(score.condition).removesuffix(" together") for score in scores][::-1])
    axes.tick_params(axis="y", length=0)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    if scores:
        lapse_ms = scores[0].lapse_ms
        axes.axvline(lapse_ms, color=_BACK, linestyle=(0, (4, 3)), zorder=1)
        axes.text(lapse_ms, len(scores) - 0.32, tr(" from {lapse:.0f} on: lapse", lapse=lapse_ms), fontsize=8, va="top")
    else:
        axes.text(reach_ms / 2, 0.1, tr("No block was played to its end."), ha="center")


def _beside(score: Score) -> str:
    """Return what has no place among the dots."""
    parts = [tr("{signals} signals", signals=score.signals)]
    if score.missed:
        parts.append(tr("{missed} missed", missed=score.missed))
    if score.false_starts:
        parts.append(tr("{false_starts} too early", false_starts=score.false_starts))
    if not score.delay_known:
        parts.append(tr("device included"))
    return "\n".join([", ".join(parts[:2]), ", ".join(parts[2:])]).strip()
