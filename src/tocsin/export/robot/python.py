"""Write the plan as one Python module: Python 3.8, no import, nothing that grows in the loop."""

from collections.abc import Iterable

from tocsin.export.robot.dialect import Dialect
from tocsin.export.robot.flashing import refuse_flashing
from tocsin.export.robot.head import head
from tocsin.export.robot.rows import Cells, Rows, names_of, numbers, swell
from tocsin.export.robot.table import RobotTable, table_of
from tocsin.export.robot.text import comment, fill, template
from tocsin.export.source import Source


def python_source(source: Source) -> str:
    """Return a Python module that holds the plan's rumble, light and tones, and the functions that give them. Raises
    MistakeError if the plan is too large, or its light would flash too often."""
    table = table_of(source)
    refuse_flashing(source, table)
    top = [f"# {line}".rstrip() for line in head(source, table, _DIALECT)]
    values = {**numbers(source, table), **_values(table)}
    return fill(template("robot.py.in"), {"HEADER": "\n".join(top), **values})


_DIALECT = Dialect(
    language="Python (3.8 or later)",
    place="Save this file as tocsin_plan.py beside your program.",
    prefix="tocsin_plan.",
    spelled={},
    comment=comment,
    wiring=(
        ("import tocsin_plan", ""),
        ("cues = tocsin_plan.TocsinPlan()", "# as your program begins"),
        ("cues.restart()", "# as each match begins: a practice round is one, too"),
        ("cues.poll({period}, now - began)", "# then round and round"),
        ("if cues.status != tocsin_plan.OK: SHOW_STATUS(cues.status)", "# where somebody sees it"),
        ("for i in range(cues.count):", "# what has just come: write it down"),
        ("    WRITE_LOG(cues.log_line(i))", ""),
    ),
    each_role=("strong, weak = cues.level({role}, now);  SHAKE_PAD({role}, strong, weak)", ""),
    by_hand=(
        ("if BUTTON:", "# if you like"),
        ("    cues.call({call}, now)", ""),
        ("    for i in range(cues.count): WRITE_LOG(cues.log_line(i))", ""),
    ),
    light=(
        ("cues.light(now, 30)", "# after each poll, for a strip of 30 LEDs"),
        ("for i in range(30): SET_LED(i, cues.led(i))", "# red, green, blue: 0 to 255 each"),
    ),
    tone=(("SOUND(cues.tone(now))", "# after each poll; 0 is silence"),),
    one_clock=(
        ("if START: cues.begin(now)", "# once, as the button goes down"),
        ("if SYNC: cues.sync(now, 30)", "# if you like: as the display changes to 0:30"),
        ("cues.roll(now)", "# round and round, in place of poll; all else as above"),
    ),
)


def _values(table: RobotTable) -> dict[str, str]:
    names = names_of(table)
    rows = Rows(table, names, "", "_")
    patterns = [name for listed in (names.patterns, names.looks, names.tunes) for name in rows.constants(listed)]
    return {
        "PERIOD_NAMES": _names(rows.constants(names.periods)),
        "ROLE_NAMES": _names(rows.constants(names.roles)),
        "CUE_NAMES": _names(rows.constants(names.cues)),
        "VARIANT_NAMES": _names(rows.constants(names.variants)),
        "PATTERN_NAMES": "\n".join(f"_{name} = {number}" for name, number in patterns),
        "PERIOD_ROWS": _rows(rows.periods(), (period.id for period in table.periods)),
        "SEGMENT_ROWS": _rows(rows.segments(), ("" for _ in table.segments)),
        "FIRING_ROWS": _rows(rows.firings(), ("" for _ in table.firings)),
        "CUE_ROWS": _rows(rows.cues(), (cue.id for cue in table.cues)),
        "PERIOD_IDS": _list(ascii(period.id) for period in table.periods),
        "CUE_IDS": _list(ascii(cue.id) for cue in table.cues),
        "WORDS": _list(repr(cue.word) for cue in table.cues),
        "ROLE_IDS": _list(ascii(role) for role in table.roles),
        "STEP_ROWS": "\n".join(
            f"    (  # {comment(pattern.name)}\n" + "".join(f"        {_tuple(cells)},\n" for cells in steps) + "    ),"
            for pattern, steps in rows.steps()
        ),
        "PULSE_ROWS": _rows(rows.pulses(), (pattern.name for pattern in table.patterns)),
        "LIGHT_ROWS": _rows(
            ((*map(str, numbers), str(look.first), str(look.second)) for look, numbers in rows.looks()),
            (look.name for look in table.looks),
        ),
        "SWELL": _list(swell()),
        "TONE_ROWS": "\n".join(
            f"    (  # {comment(tune.name)}\n" + "".join(f"        {_tuple(cells)},\n" for cells in steps) + "    ),"
            for tune, steps in rows.tunes()
        ),
    }


def _names(constants: Iterable[tuple[str, str]]) -> str:
    return "\n".join(f"{name} = {number}" for name, number in constants) or "# none"


def _tuple(cells: Cells) -> str:
    return f"({cells[0]},)" if len(cells) == 1 else f"({', '.join(cells)})"


def _rows(rows: Iterable[Cells], notes: Iterable[str]) -> str:
    made = [f"    {_tuple(cells)}," + (f"  # {comment(note)}" if note else "")
            for cells, note in zip(rows, notes, strict=True)]  # fmt: skip
    return "\n".join(made)


def _list(items: Iterable[str]) -> str:
    return "\n".join(f"    {item}," for item in items)
