"""The wiring drawings of ``hardware_notes``: as their script draws them, readable, and joined as they must be.

What must be joined to what was written down by hand from vendors' guides and USB 2.0 (7.2.4.1: no large capacitor on a
port), not taken from the drawings.
"""

import itertools
import re

import matplotlib
import pytest

from tests.support import PROJECT
from tests.support.wiring.kit import HEIGHT_MM, WIDTH_MM, svg
from tests.support.wiring.pictures import PICTURES
from tocsin.export.drawing.fitting import CAP

LEAST_CAPITAL_MM = 2.6
CLEAR_MM = 0.3
EDGE_MM = 4.0                          # what printers leave white (common practice, no source)
NOTES = PROJECT / "hardware_notes"
each = pytest.mark.parametrize("name", PICTURES)


@pytest.fixture(scope="module")
def sheets():
    return {name: draw() for name, (_, draw) in PICTURES.items()}


@each
def test_the_file_is_what_the_script_draws(name, sheets):
    tested = (PROJECT / "tests" / "tested_versions.txt").read_text(encoding="utf-8").splitlines()
    if f"matplotlib=={matplotlib.__version__}" not in tested:
        pytest.skip("another matplotlib than the one that drew them")
    title, _ = PICTURES[name]
    drawn = svg(sheets[name], title)
    assert (NOTES / name).read_bytes() == drawn, f"draw it anew: python -m tests.support.wiring.pictures {NOTES.name}"


@each
def test_a_note_shows_it_with_words_for_who_does_not_see_it(name):
    notes = "\n".join(path.read_text(encoding="utf-8") for path in NOTES.glob("*.md"))
    (words,) = re.findall(rf"!\[([^\]]+)\]\({re.escape(name)}\)", notes)
    assert len(words.split()) > 8


@each
def test_it_is_grey_and_large_enough_on_a5(name, sheets):
    page = sheets[name].page()
    assert sorted((page.width_mm, page.height_mm)) == [148.0, 210.0]           # ISO 216
    text = (NOTES / name).read_text(encoding="utf-8")
    colours = set(re.findall(r"#([0-9a-f]{6})\b", text))
    assert colours
    assert all(colour[:2] == colour[2:4] == colour[4:] for colour in colours)
    assert all(label.em_mm * CAP >= LEAST_CAPITAL_MM for label in page.parts.labels)


def rectangle(label):
    return (label.x_mm, label.y_mm - label.above_mm, label.x_mm + label.width_mm, label.y_mm + label.below_mm)


def meet(a, b, by_mm=CLEAR_MM):
    return min(a[2], b[2]) - max(a[0], b[0]) > -by_mm and min(a[3], b[3]) - max(a[1], b[1]) > -by_mm


def edges(box):
    """Return the four sides of a box, each as a thin rectangle."""
    x, y, right, low = box.x_mm, box.y_mm, box.x_mm + box.width_mm, box.y_mm + box.height_mm
    return [(x, y, right, y), (x, low, right, low), (x, y, x, low), (right, y, right, low)]


def lines(stroke):
    half = stroke.line_mm / 2
    for (x0, y0), (x1, y1) in itertools.pairwise(stroke.points):
        yield (min(x0, x1) - half, min(y0, y1) - half, max(x0, x1) + half, max(y0, y1) + half)


@each
def test_no_letters_meet_anything(name, sheets):
    """Neither other letters, nor a wire, a sign, the side of a box, or the edge of the page."""
    parts = sheets[name].page().parts
    labels = [(label.string, rectangle(label)) for label in parts.labels]
    drawn = [side for box in parts.boxes for side in edges(box)]
    drawn += [side for stroke in parts.strokes for side in lines(stroke)]
    for area in parts.areas:
        xs, ys = zip(*area.points, strict=True)
        drawn.append((min(xs), min(ys), max(xs), max(ys)))
    page = (EDGE_MM, EDGE_MM, WIDTH_MM - EDGE_MM, HEIGHT_MM - EDGE_MM)
    wrong = [f"{a!r} and {b!r}" for (a, at), (b, bt) in itertools.combinations(labels, 2) if meet(at, bt)]
    wrong += [f"{a!r} and {side}" for a, at in labels for side in drawn if meet(at, side)]
    wrong += [f"{a!r} off the page" for a, at in labels if at[:2] < page[:2] or at[0] < page[0] or at[1] < page[1]
              or at[2] > page[2] or at[3] > page[3]]
    assert wrong == []


def on(point, begin, end):
    (x, y), (x0, y0), (x1, y1) = point, begin, end
    return min(x0, x1) <= x <= max(x0, x1) and min(y0, y1) <= y <= max(y0, y1) and (x0 == x1 or y0 == y1)


def pieces(sheet):
    """Yield each wire as pieces between what lies in it: its kind, and its segments."""
    for kind, points in sheet.wires:
        piece = []
        for begin, end in itertools.pairwise(points):
            cuts = [at for at in sheet.between if on(at, begin, end)]
            for stop in sorted(cuts, key=lambda at, begin=begin: abs(at[0] - begin[0]) + abs(at[1] - begin[1])):
                if stop != begin:
                    piece.append((begin, stop))
                    yield kind, piece
                piece, begin = [], stop
            if begin != end:
                piece.append((begin, end))
        if piece:
            yield kind, piece


def nets(sheet):
    """Return what is joined by copper alone, not through a resistor or a fuse: sets of terminals, each with the kinds
    of its wires."""
    found = [({kind}, piece) for kind, piece in pieces(sheet)]
    for joint in [*sheet.joints, *(at for _, _, at in sheet.terminals)]:
        joined = [one for one in found if any(on(joint, *segment) for segment in one[1])]
        if len(joined) > 1:
            found = [one for one in found if one not in joined]
            found.append((set().union(*(kinds for kinds, _ in joined)), [s for _, piece in joined for s in piece]))
    return [
        ({f"{part} {name}".strip() for part, name, at in sheet.terminals if any(on(at, *s) for s in piece)}, kinds)
        for kinds, piece in found
    ]  # fmt: skip


@each
def test_every_wire_is_of_one_kind_and_ends_at_something(name, sheets):
    sheet = sheets[name]
    if not sheet.terminals:
        return                         # blocks and cables only
    ends = {point for _, points in sheet.wires for point in (points[0], points[-1])}
    assert ends <= {at for _, _, at in sheet.terminals} | set(sheet.joints) | set(sheet.between)
    assert [kinds for _, kinds in nets(sheet) if len(kinds) > 1] == []


JOINED = {
    "wiring_usb.svg": [
        {"board 5V", "strip 5V"}, {"board GND", "strip GND"}, {"board data pin"}, {"strip DIN"},
    ],
    # The supply's plus reaches the strip only through the fuse, the board's ground the supply only through its own; the
    # board's 5V is joined to nothing.
    "wiring_supply.svg": [
        {"supply plus"}, {"strip 5V", "strip's end 5V"}, {"supply minus", "strip GND", "strip's end GND"},
        {"board GND"}, {"board data pin"}, {"strip DIN"},
    ],
    "wiring_motor.svg": [
        {"source plus"}, {"motor plus"}, {"motor minus", "transistor collector"},
        {"source minus", "board GND", "transistor emitter"}, {"board pin"}, {"transistor base"},
    ],
    # Plus reaches board and plug through fuse and switch only; both resistors lie on the board's side of the plug.
    "wiring_box_power.svg": [
        {"holder plus"}, {"board 5V", "plug 5V"}, {"strip's end 5V"}, {"strip's end GND"},
        {"holder minus", "board GND", "plug GND"}, {"board D8"}, {"plug DIN"},
        *({f"plug's strip side {name}", f"strip {name}"} for name in ("5V", "DIN", "GND")),
    ],
    # No fuse of its own: the box's is before the switch.
    "wiring_box_motor.svg": [
        {"source plus", "motor plus"}, {"motor minus", "transistor collector"},
        {"source minus", "board GND", "transistor emitter"}, {"board D6 or D5"}, {"transistor base"},
    ],
    # Pins as src/firmware/box_inputs.h and box_outputs.h have them (PD2 is D2, PB1 D9, PC0 A0, PC1 A1 on such boards).
    "wiring_box_buttons.svg": [
        {"board D2", "Start one side"}, {"board D4", "Resync one side"}, {"board D7", "Call one side"},
        {"board D9", "Role one side"}, {"board A1", "Jumper: practice one side"}, {"board D6", "Strong motor signal"},
        {"board D5", "Weak motor signal"}, {"board A0"}, {"board D3"}, {"Lamp signal"}, {"Buzzer signal"},
        {"board GND", "Lamp minus", "Buzzer minus",
         *(f"{name} other side" for name in ("Start", "Resync", "Call", "Role", "Jumper: practice"))},
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", JOINED)
def test_it_joins_what_must_be_joined_and_nothing_else(name, sheets):
    drawn = [terminals for terminals, _ in nets(sheets[name]) if terminals]
    assert sorted(map(sorted, drawn)) == sorted(map(sorted, JOINED[name]))

