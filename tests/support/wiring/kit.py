"""Parts and wires of wiring drawings, for people who never read a circuit. Lengths in mm; one page is A5, lying.

A wire's kind shows by its line, never by a colour: plus is thick, minus dashed, data thin with arrows, what a
transistor switches dotted, a cable double.
Every part has its name beside it. Capitals are 2.6 mm tall and taller (as on all pages of ``export``).
"""

import math

from tocsin.export.drawing.fitting import CAP
from tocsin.export.drawing.letters import DEJAVU
from tocsin.export.drawing.printing import drawn
from tocsin.export.drawing.shapes import Area, OutlinedBox, Page, Parts, Pen, Stroke

WIDTH_MM, HEIGHT_MM = 210.0, 148.0     # ISO 216, A5
EM_MM = 2.6 / CAP + 0.004
TITLE_MM = 5.2
LINE_MM = EM_MM * 1.3                   # from line to line
PART_LINE_MM = 0.5
BLACK, WHITE = (0, 0, 0), (255, 255, 255)
# By kind of wire: how thick, and lengths of line and gap.
WIRES = {"plus": (1.3, ()), "minus": (0.9, (3.0, 1.5)), "data": (0.4, ()), "switched": (0.9, (0.9, 0.9))}
CABLE_MM = 1.6                         # between the two lines of a cable
RESISTOR_MM = (8.0, 3.4)              # along the wire and across it


class Sheet:
    """A drawing that grows part by part."""

    def __init__(self, title):
        self.pen = Pen(DEJAVU)
        self.labels, self.boxes, self.strokes, self.areas = [], [], [], []
        # What is joined to what: terminals as (part, name, place), wires as (kind, points), places of joints and of
        # the middles of what lies in a wire.
        self.terminals, self.wires, self.joints, self.between = [], [], [], []
        self.text(title, 8.0, 12.0, em_mm=TITLE_MM, bold=True)

    def text(self, string, x_mm, y_mm, *, at="left", em_mm=EM_MM, bold=False):
        """Write lines, parted by newlines; the first baseline is at ``y_mm``. ``x_mm`` is their left end, their
        ``middle`` or their right end."""
        for row, line in enumerate(string.split("\n")):
            share = {"left": 0.0, "middle": 0.5, "right": 1.0}[at]
            left_mm = x_mm - share * self.pen.width(line, em_mm, bold)
            self.labels.append(self.pen.label(line, left_mm, y_mm + row * LINE_MM, em_mm, "detail", bold=bold))

    def part(self, x_mm, y_mm, width_mm, height_mm, name="", *, name_at=0.5):
        """Draw a thing as a box with its name, ``name_at`` of the way down, in its middle."""
        self._box(x_mm, y_mm, width_mm, height_mm)
        if name:
            rows = name.count("\n") + 1
            first_mm = y_mm + name_at * height_mm - (rows - 1) * LINE_MM / 2 + CAP * EM_MM / 2
            self.text(name, x_mm + width_mm / 2, first_mm, at="middle", bold=True)

    def terminal(self, part, name, x_mm, y_mm, side, *, named=True):
        """Mark where a wire joins a part, on its ``side``, with its name inside of the part if it is ``named``."""
        self._ring(x_mm, y_mm, 0.9)
        self.terminals.append((part, name, (x_mm, y_mm)))
        if not named:
            return
        middle_mm = y_mm + CAP * EM_MM / 2
        match side:
            case "right":
                self.text(name, x_mm - 1.8, middle_mm, at="right")
            case "left":
                self.text(name, x_mm + 1.8, middle_mm)
            case "bottom":
                self.text(name, x_mm, y_mm - 1.9, at="middle")
            case "top":
                self.text(name, x_mm, y_mm + 1.9 + CAP * EM_MM, at="middle")

    def wire(self, kind, *points):
        """Draw a wire of that kind through points."""
        line_mm, dots = WIRES[kind]
        self.wires.append((kind, points))
        self.strokes.append(Stroke(points=points, kind="edge", line_mm=line_mm, dots=dots))

    def arrow(self, x_mm, y_mm, towards="right"):
        """Draw the head of an arrow with its point there."""
        back_mm, half_mm = 3.0, 1.2
        dx, dy = {"right": (1, 0), "left": (-1, 0), "up": (0, -1), "down": (0, 1)}[towards]
        base_x, base_y = x_mm - dx * back_mm, y_mm - dy * back_mm
        self.areas.append(Area(
            points=((x_mm, y_mm), (base_x - dy * half_mm, base_y + dx * half_mm),
                    (base_x + dy * half_mm, base_y - dx * half_mm)),
            colour=BLACK,
        ))  # fmt: skip

    def cable(self, *points):
        """Draw a ready-made cable through points, level or upright between them, its plugs at both ends."""
        self.strokes += [
            Stroke(points=points, kind="edge", line_mm=CABLE_MM, grey=0.0),
            Stroke(points=points, kind="edge", line_mm=CABLE_MM - 0.7, grey=1.0),
        ]
        for (x_mm, y_mm), (next_x, _) in ((points[0], points[1]), (points[-1], points[-2])):
            level = x_mm != next_x
            width_mm, height_mm = (5.0, 3.6) if level else (3.6, 5.0)
            self._box(x_mm - width_mm / 2, y_mm - height_mm / 2, width_mm, height_mm, fill=0.75)

    def dot(self, x_mm, y_mm):
        """Draw where wires are joined; wires that cross without a dot are not."""
        self.joints.append((x_mm, y_mm))
        self.areas.append(Area(points=_circle(x_mm, y_mm, 1.2), colour=BLACK))

    def resistor(self, x_mm, y_mm, *, upright=False):
        """Draw a resistor in a wire, its middle there (IEC 60617: a box)."""
        self._across(x_mm, y_mm, upright)

    def fuse(self, x_mm, y_mm, *, upright=False, resets=False):
        """Draw a fuse in a wire, its middle there (IEC 60617: a box with the wire through it); one that resets itself
        has a slanting line too."""
        self._across(x_mm, y_mm, upright)
        long_mm, _ = RESISTOR_MM
        dx, dy = (0.0, long_mm / 2) if upright else (long_mm / 2, 0.0)
        self._over((x_mm - dx, y_mm - dy), (x_mm + dx, y_mm + dy))
        if resets:
            self._over((x_mm - 4.2, y_mm + 3.2), (x_mm - 2.2, y_mm + 3.2), (x_mm + 2.4, y_mm - 3.2))

    def switch(self, x_mm, y_mm):
        """Draw an open switch in a level wire, its middle there (IEC 60617)."""
        self.between.append((x_mm, y_mm))
        self._box(x_mm - 5.0, y_mm - 3.2, 10.0, 4.4, line_mm=0.0, fill=1.0)
        self._over((x_mm - 5.0, y_mm), (x_mm + 4.4, y_mm - 2.8))
        for side in (-1, 1):
            self._ring(x_mm + side * 5.0, y_mm, 0.9)

    def diode(self, x_mm, y_mm):
        """Draw a diode in an upright wire, its middle there, as it looks: the ring above."""
        self._across(x_mm, y_mm, upright=True)
        self._box(x_mm - RESISTOR_MM[1] / 2, y_mm - 2.9, RESISTOR_MM[1], 1.3, fill=0.0)

    def capacitor(self, x_mm, y_mm):
        """Draw a capacitor in an upright wire, its middle there, plus above (IEC 60617: the plus plate is open)."""
        self.between.append((x_mm, y_mm))
        self._box(x_mm - 4.0, y_mm - 1.0, 8.0, 2.0, line_mm=0.0, fill=1.0)
        self._box(x_mm - 4.0, y_mm - 2.2, 8.0, 1.4, line_mm=0.4, fill=1.0)
        self._box(x_mm - 4.0, y_mm + 0.8, 8.0, 1.4, line_mm=0.0, fill=0.0)

    def strip(self, x_mm, y_mm, width_mm, *, right=True):
        """Draw a strip that begins at the left; return the heights of its 5V, DIN and GND."""
        high_mm = 36.0
        self._box(x_mm, y_mm, width_mm, high_mm)
        heights = y_mm + 5.0, y_mm + 18.0, y_mm + 31.0
        for name, height in zip(("5V", "DIN", "GND"), heights, strict=True):
            self.terminal("strip", name, x_mm, height, "left")
            if right and name != "DIN":
                self.terminal("strip's end", name, x_mm + width_mm, height, "right")
        first_mm = x_mm + 13.0
        last_mm = x_mm + width_mm - (5.0 if not right else 8.0)
        count = int((last_mm - first_mm + 2.2) // 7.0)
        for place in range(count):
            left_mm = first_mm + place * 7.0
            self._box(left_mm, heights[1] - 2.4, 4.8, 4.8, line_mm=0.4, fill=1.0)
            self._ring(left_mm + 2.4, heights[1], 1.5)
        end_mm = first_mm + count * 7.0 - 2.2
        self._over((first_mm, y_mm + 12.0), (end_mm - 2.0, y_mm + 12.0))
        self.arrow(end_mm, y_mm + 12.0)
        self.text("Strip", (first_mm + end_mm) / 2, y_mm + 26.5, at="middle", bold=True)
        return heights

    def strip_data(self, level, y_mm, *foot):
        """Draw a data wire from a board to a strip with what lies in it, and the resistor that holds it low, from there
        down through points to minus."""
        begin, end = level
        x_mm, _ = foot[0]
        self.wire("data", (begin, y_mm), (end, y_mm))
        self.arrow(end - 1, y_mm)
        self.resistor(x_mm - 9, y_mm)
        self.text("330 ohm", x_mm - 9, y_mm - 3.4, at="middle")
        middle_mm = y_mm + 6.5
        self.dot(x_mm, y_mm)
        self.wire("data", (x_mm, y_mm), (x_mm, middle_mm))
        self.wire("minus", (x_mm, middle_mm), *foot)
        self.resistor(x_mm, middle_mm, upright=True)
        self.text("10 kohm", x_mm - 3.5, middle_mm + 1.3, at="right")

    def key(self, y_mm, *kinds, **named):
        """Explain lines and signs in a row, those that are ``named`` so; nothing in it counts as joined."""
        kept = list(self.wires), list(self.joints)
        x_mm = 8.0
        names = {
            "plus": "plus (5 V)", "minus": "minus (GND)", "data": "data", "switched": "switched", "cable": "USB cable",
            "dot": "joined", **named,
        }  # fmt: skip
        for kind in kinds:
            level_mm = y_mm - CAP * EM_MM / 2
            if kind == "cable":
                self.cable((x_mm + 2.5, level_mm), (x_mm + 13.5, level_mm))
            elif kind == "dot":
                self.wire("data", (x_mm, level_mm), (x_mm + 16.0, level_mm))
                self.dot(x_mm + 8.0, level_mm)
            else:
                self.wire(kind, (x_mm, level_mm), (x_mm + 16.0, level_mm))
                if kind == "data":
                    self.arrow(x_mm + 16.0, level_mm)
            self.text(names[kind], x_mm + 18.0, y_mm)
            x_mm += 18.0 + self.pen.width(names[kind], EM_MM) + 5.0
        self.wires, self.joints = kept

    def page(self):
        """Return the drawing."""
        parts = Parts(
            labels=tuple(self.labels), boxes=tuple(self.boxes), strokes=tuple(self.strokes), areas=tuple(self.areas)
        )  # fmt: skip
        return Page(width_mm=WIDTH_MM, height_mm=HEIGHT_MM, parts=parts)

    def _box(self, x_mm, y_mm, width_mm, height_mm, *, line_mm=PART_LINE_MM, fill=1.0):
        self.boxes.append(OutlinedBox(
            x_mm=x_mm, y_mm=y_mm, width_mm=width_mm, height_mm=height_mm, kind="plate", fill=fill, line_mm=line_mm
        ))  # fmt: skip

    def _ring(self, x_mm, y_mm, radius_mm):
        self.areas.append(Area(points=_circle(x_mm, y_mm, radius_mm), colour=WHITE, line_mm=0.4))

    def _across(self, x_mm, y_mm, upright):
        self.between.append((x_mm, y_mm))
        long_mm, wide_mm = RESISTOR_MM
        width_mm, height_mm = (wide_mm, long_mm) if upright else (long_mm, wide_mm)
        self._box(x_mm - width_mm / 2, y_mm - height_mm / 2, width_mm, height_mm)

    def _over(self, *points):
        self.strokes.append(Stroke(points=points, kind="tail", line_mm=0.4))


def _circle(x_mm, y_mm, radius_mm):
    angles = (n * math.tau / 24 for n in range(24))
    return tuple((round(x_mm + radius_mm * math.cos(a), 3), round(y_mm + radius_mm * math.sin(a), 3)) for a in angles)


def svg(sheet, title):
    """Return a drawing as a file, letters as outlines, without a date."""
    return drawn(sheet.page(), "svg", "picture", title, "tests.support.wiring")
