"""Teams whose evenings and seasons fill pages of reviews: plain ones, and each that strains a page."""

from functools import cache
from itertools import pairwise

from msgspec.structs import replace

from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import PLAIN, TWO_CREWS, WORLDS, World
from tests.support.export.drawn_areas import Area, meeting, text_areas
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.season import season_review
from tocsin.export.drawing.fitting import CAP, ELLIPSIS
from tocsin.export.drawing.page_style import LEAST_CAPITAL_MM
from tocsin.export.drawing.printing import figure
from tocsin.export.drawing.shapes import Parts

LONG = "Break off against a robot that pushes back with all that it has, at the far end of the field (second try)"
NAMES = {"d1": "Wilhelmina-Konstantina of the Outer Harbour", "d2": "Bo", "o1": "Maximilian the Eleventh", "o2": "Ŀí"}
_BUSY = World(
    crews=TWO_CREWS, repeated=0.3, dropped=0.05, never_ended=0.15, lost=0.1, correlation=0.1, fatigue_s=0.05,
    setups_s=(0.0, 0.4, 0.9), uneven=True,
)


def _renamed(rows):
    return tuple(replace(row, drill=LONG, plan=f"Plan {LONG}", setup=f"{row.setup} {LONG}") for row in rows)


def _nothing_known(rows):
    return tuple(
        replace(
            row, break_off_at_least_s=None, break_off_at_most_s=None, break_off_margin_s=None, turn_s=None,
            turn_at_least_s=None, turn_at_most_s=None, clean=None, contacts=None, home="", home_margin_s=None,
            watched=None, push_at_call=None,
        ) for row in rows
    )  # fmt: skip


def _half_lost(rows):
    return tuple(
        replace(row, counted=False, uncounted=("the clock was set while it ran",)) if place % 2 else row
        for place, row in enumerate(rows)
    )


TEAMS = {
    **{name: lambda name=name: season_rows(WORLDS[name]._replace(evenings=4), 1) for name in WORLDS},
    # So many matches with a push on at the call that they are compared.
    "l matches slower": lambda: season_rows(WORLDS["l matches slower"]._replace(evenings=4, pushes=0.9), 1),
    "busy": lambda: season_rows(_BUSY._replace(evenings=5), 2),
    "busy with long names": lambda: _renamed(season_rows(_BUSY._replace(evenings=5), 3)),
    "turns": lambda: season_rows(PLAIN._replace(evenings=3, drills=("turn",)), 1),
    "words": lambda: season_rows(PLAIN._replace(evenings=2, drills=("words",)), 1),
    "a drill after the other": lambda: season_rows(PLAIN._replace(evenings=4, drills=("break_off", "turn")), 1),
    "nothing known": lambda: _nothing_known(season_rows(PLAIN._replace(evenings=2), 1)),
    "half lost": lambda: _half_lost(season_rows(PLAIN._replace(evenings=2), 1)),
    "three rounds": lambda: season_rows(PLAIN._replace(evenings=1), 1)[:3],
    "one round": lambda: season_rows(PLAIN._replace(evenings=1), 1)[2:3],
    "three evenings": lambda: season_rows(PLAIN._replace(evenings=3), 4),
    "five evenings": lambda: season_rows(PLAIN._replace(evenings=5), 4),
    "twenty evenings": lambda: season_rows(_BUSY._replace(evenings=20, lead_changes=((6, 4.5), (13, 3.5))), 5),
}  # fmt: skip


@cache
def team(name):
    """Return the rows of a team's season."""
    return TEAMS[name]()


@cache
def review_of_season(name):
    """Return the review of a team's season."""
    return season_review(team(name))


@cache
def evening(name, place=-1):
    """Return the rows of one evening of a team."""
    rows = team(name)
    days = sorted({row.evening for row in rows})
    return tuple(row for row in rows if row.evening == days[place])


@cache
def review_of_evening(name, place=-1):
    """Return the review of one evening of a team, without its season."""
    return evening_review(evening(name, place))


def assert_tidy(page, *, cut=False):
    """Hold that no text of a page meets another one, a mark or a line, none leaves it, is too small or, unless it may
    be ``cut``, ends before its end."""
    letters = replace(page, parts=Parts(labels=page.parts.labels))         # alone they are drawn quickly
    texts = text_areas(figure(letters), page.height_mm)
    sheet = Area("page", 0, 0, page.width_mm, page.height_mm)
    assert [text for text in texts if not sheet.holds(text)] == []
    assert meeting(texts, texts) == []
    assert meeting(texts, _shapes(page)) == []
    small = [label for label in page.parts.labels if label.em_mm * CAP < LEAST_CAPITAL_MM]
    assert small == []
    assert cut or [label.string for label in page.parts.labels if label.string.endswith(ELLIPSIS)] == []
    outside = [
        (x, y) for stroke in page.parts.strokes for x, y in stroke.points
        if not (0 <= x <= page.width_mm and 0 <= y <= page.height_mm)
    ]  # fmt: skip
    outside += [
        (x, y) for area in page.parts.areas for x, y in area.points
        if not (0 <= x <= page.width_mm and 0 <= y <= page.height_mm)
    ]  # fmt: skip
    assert outside == []


def _shapes(page):
    """Return all that is drawn in black: what no text may meet; pale lines may lie behind one."""
    found = []
    for stroke in page.parts.strokes:
        if stroke.kind == "row":
            continue
        half = stroke.line_mm / 2
        for ends in pairwise(stroke.points):
            xs, ys = zip(*ends, strict=True)
            found.append(Area(stroke.kind, min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half))
    for area in page.parts.areas:
        xs, ys = zip(*area.points, strict=True)
        found.append(Area("area", min(xs), min(ys), max(xs), max(ys)))
    found += [
        Area(box.kind, box.x_mm, box.y_mm, box.x_mm + box.width_mm, box.y_mm + box.height_mm)
        for box in page.parts.boxes if box.kind not in ("shade", "note")
    ]  # fmt: skip
    return found
