"""Write the plan as one Java class: Java 11, no library, no objects made in the loop."""

import re
from collections.abc import Iterable

from tocsin.errors import UsageError
from tocsin.export.robot.dialect import Dialect
from tocsin.export.robot.flashing import refuse_flashing
from tocsin.export.robot.head import head
from tocsin.export.robot.rows import Cells, Rows, names_of, numbers, swell
from tocsin.export.robot.table import RobotTable, table_of
from tocsin.export.robot.text import ascii_comment, fill, template, utf16_escapes
from tocsin.export.source import Source
from tocsin.model.pattern import Rgb

ROWS_A_METHOD = 500                    # Java refuses methods of more than 64 KB
_TAKEN = ("Math", "String", "System")            # the code itself uses Java's
_ESCAPED = {ord('"'): '\\"', ord("\\"): "\\\\"}


def java_source(source: Source, class_name: str) -> str:
    """Return a Java class that holds the plan's rumble, light and tones, and the methods that give them. Raises
    UsageError if ``class_name`` is no plain name of a class, MistakeError if the plan is too large, or its light would
    flash too often."""
    # A capital letter keeps clear of all of Java's own words.
    if not re.fullmatch(r"[A-Z][A-Za-z0-9_]*", class_name) or class_name in _TAKEN:
        raise UsageError(
            f"'{class_name}' cannot be the name of a class in Java",
            hint="begin with a capital letter, then letters and digits, such as TocsinPlan",
        )
    table = table_of(source)
    refuse_flashing(source, table)
    top = [f" * {line}".rstrip() for line in head(source, table, _dialect(class_name))]
    values = {**numbers(source, table), **_values(table), "CLASS": class_name}
    return fill(template("robot.java.in"), {"HEADER": "\n".join(top), **values})


def text(value: str) -> str:
    r"""Return a string literal of ASCII letters.

    >>> print(text('a"\\ \u00e9'))
    "a\"\\ \u00e9"
    """
    return '"' + "".join(_char(char) for char in value) + '"'


def _char(char: str) -> str:
    if " " <= char <= "~":
        return char.translate(_ESCAPED)
    # Java resolves Unicode escapes before it reads strings, so a line end must not be one.
    return f"\\{ord(char):03o}" if ord(char) < 0x80 else utf16_escapes(char)


def _dialect(class_name: str) -> Dialect:
    return Dialect(
        language="Java (11 or later)",
        place=f"Save this file as {class_name}.java beside your program.",
        prefix=f"{class_name}.",
        spelled={"clock_lost": "clockLost"},
        comment=ascii_comment,
        wiring=(
            (f"final {class_name} cues = new {class_name}();", "// as your program begins"),
            (f"cues.restart({class_name}.DEFAULT_VARIANT);", "// as each match begins: a practice round is one, too"),
            ("int now = (int) (System.nanoTime() / 1000000);", "// then round and round; began is an int, too"),
            ("cues.poll({period}, now - began);", ""),
            (f"if (cues.status() != {class_name}.OK) {{ SHOW_STATUS(cues.status()); }}", "// where somebody sees it"),
            ("for (int i = 0; i < cues.count(); i++) {", "// what has just come: write it down"),
            ("    WRITE_LOG(cues.logLine(i));", ""),
            ("}", ""),
        ),
        each_role=("cues.level({role}, now);  SHAKE_PAD({role}, cues.strong(), cues.weak());", ""),
        by_hand=(
            ("if (BUTTON) {", "// if you like"),
            ("    cues.call({call}, now);", ""),
            ("    for (int i = 0; i < cues.count(); i++) { WRITE_LOG(cues.logLine(i)); }", ""),
            ("}", ""),
        ),
        light=(
            ("cues.light(now, 30);", "// after each poll, for a strip of 30 LEDs"),
            ("for (int i = 0; i < 30; i++) { SET_LED(i, cues.led(i)); }", "// 0xRRGGBB"),
        ),
        tone=(("SOUND(cues.tone(now));", "// after each poll; 0 is silence"),),
        one_clock=(
            ("if (START) { cues.begin(now); }", "// once, as the button goes down"),
            ("if (SYNC) { cues.sync(now, 30); }", "// if you like: as the display changes to 0:30"),
            ("cues.roll(now);", "// round and round, in place of poll; all else as above"),
        ),
    )


def _values(table: RobotTable) -> dict[str, str]:
    names = names_of(table)
    rows = Rows(table, names, "", "")
    return {
        "PERIOD_NAMES": _public(rows.constants(names.periods)),
        "ROLE_NAMES": _public(rows.constants(names.roles)),
        "CUE_NAMES": _public(rows.constants(names.cues)),
        "VARIANT_NAMES": _public(rows.constants(names.variants)),
        "PATTERN_NAMES": _private(
            [name for listed in (names.patterns, names.looks, names.tunes) for name in rows.constants(listed)]
        ),
        "PERIOD_ROWS": _rows(rows.periods(), (period.id for period in table.periods)),
        "SEGMENT_ROWS": _rows(rows.segments(), ("" for _ in table.segments)),
        "FIRING_ROWS": _calls(list(rows.firings())),
        "CUE_ROWS": _rows(rows.cues(), (cue.id for cue in table.cues)),
        "PERIOD_IDS": _list(text(period.id) for period in table.periods),
        "CUE_IDS": _list(text(cue.id) for cue in table.cues),
        "WORDS": _list(text(cue.word) for cue in table.cues),
        "ROLE_IDS": _list(text(role) for role in table.roles),
        "STEP_ROWS": _steps("steps", "STEPS", [(pattern.name, steps) for pattern, steps in rows.steps()]),
        "PULSE_ROWS": _rows(rows.pulses(), (pattern.name for pattern in table.patterns)),
        "LIGHT_ROWS": _rows(
            ((*map(str, numbers), _colour(look.first), _colour(look.second)) for look, numbers in rows.looks()),
            (look.name for look in table.looks),
        ),
        "SWELL": _list(swell()),
        "TONE_ROWS": _steps("tones", "TUNES", [(tune.name, steps) for tune, steps in rows.tunes()]),
    }


def _public(constants: Iterable[tuple[str, str]]) -> str:
    made = [f"    public static final int {name} = {number};" for name, number in constants]
    return "\n".join(made) or "    // none"


def _private(constants: Iterable[tuple[str, str]]) -> str:
    return "\n".join(f"    private static final int {name} = {number};" for name, number in constants)


def _rows(rows: Iterable[Cells], notes: Iterable[str]) -> str:
    made = [f"        {{{', '.join(cells)}}}," + (f"  // {ascii_comment(note)}" if note else "")
            for cells, note in zip(rows, notes, strict=True)]  # fmt: skip
    return "\n".join(made)


def _list(items: Iterable[str]) -> str:
    return "\n".join(f"        {item}," for item in items)


def _calls(rows: list[Cells]) -> str:
    """Return methods that write the rows one by one, and what calls them."""
    parts = [rows[at : at + ROWS_A_METHOD] for at in range(0, len(rows), ROWS_A_METHOD)]
    lines = ["    // due, last, until, cue, n, role, priority, variant, pattern"]
    for place, part in enumerate(parts):
        lines += [f"    private static void rows{place}() {{", *(f"        row({', '.join(cells)});" for cells in part)]
        lines += ["    }", ""]
    return "\n".join([*lines, "    static {", *(f"        rows{place}();" for place in range(len(parts))), "    }"])


def _colour(colour: Rgb) -> str:
    red, green, blue = colour
    return f"0x{red:02X}{green:02X}{blue:02X}"


def _steps(method: str, name: str, made: list[tuple[str, list[Cells]]]) -> str:
    """Return a method for each pattern's steps, and the array of all."""
    lines: list[str] = []
    for place, (pattern, steps) in enumerate(made):
        lines += [f"    private static int[][] {method}{place}() {{          // {ascii_comment(pattern)}"]
        lines += ["        return new int[][] {", *(f"            {{{', '.join(cells)}}}," for cells in steps)]
        lines += ["        };", "    }", ""]
    called = ", ".join(f"{method}{place}()" for place in range(len(made)))
    return "\n".join([*lines, f"    private static final int[][][] {name} = {{{called}}};"])
