"""Write the plan as one C file: C99 and C++, no library, no allocation."""

from collections.abc import Iterable

from tocsin.errors import UsageError
from tocsin.export.robot.dialect import FUNCTIONS, Dialect
from tocsin.export.robot.flashing import refuse_flashing
from tocsin.export.robot.head import head
from tocsin.export.robot.light import Look
from tocsin.export.robot.rows import Cells, Rows, names_of, numbers, starts, swell
from tocsin.export.robot.table import RobotTable, table_of
from tocsin.export.robot.text import comment, fill, template
from tocsin.export.source import Source

LOGIC = "robot_logic.c.in"              # of a plan's code; the box has the same
_LOGGED = ("played", "resumed", "called", "TOCSIN1 period=", " ms=", " cue=", " n=", " role=", " outcome=")
_ESCAPED = {ord('"'): '\\"', ord("\\"): "\\\\", ord("?"): "\\?"}      # ? for the sake of trigraphs


def c_source(source: Source, prefix: str = "tocsin") -> str:
    """Return a header file of C that holds the plan's rumble, light and tones, and the functions that give them.

    ``prefix`` begins each name, so that two plans fit into one program. Raises UsageError if it cannot, MistakeError
    if the plan is too large, or its light would flash too often.
    """
    if not (prefix.isascii() and prefix.isidentifier() and prefix == prefix.lower() and prefix[0] != "_"):
        raise UsageError(f"'{prefix}' cannot begin names in C", hint="take small letters, such as tocsin")
    table = table_of(source)
    refuse_flashing(source, table)
    parts = {"SHARED": "robot_shared.c.in", "LOGIC": LOGIC, "NAMES": "robot_texts.c.in"}
    whole = template("robot.c.in")
    for name, file in parts.items():
        whole = whole.replace(f"@{name}@", template(file))
    code = whole.replace("tocsin_", f"{prefix}_").replace("TOCSIN_", f"{prefix.upper()}_")
    top = [f" * {line}".rstrip() for line in head(source, table, _dialect(prefix))]
    values = {**numbers(source, table), **_values(table, f"{prefix.upper()}_"), "TEXTS": _texts(table, f"{prefix}_")}
    return fill(code, {"HEADER": "\n".join(top), **values})


def text(value: str) -> str:
    r"""Return a string literal in UTF-8. Octal, since C's hexadecimal escapes have no end of their own.

    >>> print(text('a"\\ ??/ \u00e9'))
    "a\"\\ \?\?/ \303\251"
    """
    return '"' + "".join(_char(byte) for byte in value.encode("utf-8", "replace")) + '"'


def _char(byte: int) -> str:
    return chr(byte).translate(_ESCAPED) if 0x20 <= byte < 0x7F else f"\\{byte:03o}"


def _dialect(prefix: str) -> Dialect:
    big = prefix.upper()
    log = f"char line[160];  {prefix}_log(&cues, i, line, 160);  WRITE_LOG(line);"
    return Dialect(
        language="C (C99, or C++)",
        place=(
            f"Save this file as {prefix}_plan.h beside your program, and include it. On an AVR chip its tables stay in "
            "flash."
        ),
        prefix=f"{big}_",
        spelled={name: f"{prefix}_{name}" for name in FUNCTIONS},
        comment=comment,
        wiring=(
            (f"static {prefix}_plan cues;", "// all the memory that it ever takes"),
            (f"{prefix}_restart(&cues, {big}_DEFAULT_VARIANT);", "// as your program begins, and as each match does:"),
            ("", "// a practice round is one, too"),
            (f"{prefix}_poll(&cues, {{period}}, now - began);", "// then round and round"),
            (f"if (cues.status != {big}_OK) {{ SHOW_STATUS(cues.status); }}", "// where somebody sees it"),
            ("for (int i = 0; i < cues.count; i++) {", "// what has just come: write it down"),
            (f"    {log}", ""),
            ("}", ""),
        ),
        each_role=(f"{prefix}_level(&cues, {{role}}, now);  SHAKE_PAD({{role}}, cues.strong, cues.weak);", ""),
        by_hand=(
            ("if (BUTTON) {", "// if you like"),
            (f"    {prefix}_call(&cues, {{call}}, now);", ""),
            (f"    for (int i = 0; i < cues.count; i++) {{ {log} }}", ""),
            ("}", ""),
        ),
        light=(
            (f"{prefix}_light(&cues, now, 30);", "// after each poll, for a strip of 30 LEDs"),
            (f"for (int i = 0; i < 30; i++) {{ SET_LED(i, {prefix}_led(&cues, i)); }}", "// 0xRRGGBB"),
        ),
        tone=((f"SOUND({prefix}_tone(&cues, now));", "// after each poll; 0 is silence"),),
        one_clock=(
            (f"if (START) {{ {prefix}_begin(&cues, now); }}", "// once, as the button goes down"),
            (f"if (SYNC) {{ {prefix}_sync(&cues, now, 30); }}", "// if you like: as the display changes to 0:30"),
            (f"{prefix}_roll(&cues, now);", f"// round and round, in place of {prefix}_poll; all else as above"),
        ),
    )


def _values(table: RobotTable, prefix: str) -> dict[str, str]:
    names = names_of(table)
    rows = Rows(table, names, prefix, prefix)
    pulses = [pattern.pulses for pattern in table.patterns]
    patterns = [name for listed in (names.patterns, names.looks, names.tunes) for name in rows.constants(listed)]
    return {
        "PERIOD_NAMES": _enum(rows.constants(names.periods)),
        "ROLE_NAMES": _enum(rows.constants(names.roles)),
        "CUE_NAMES": _enum(rows.constants(names.cues)),
        "VARIANT_NAMES": _enum(rows.constants(names.variants)),
        "PATTERN_NAMES": _enum(patterns).removesuffix(","),
        "PERIOD_ROWS": _rows(map(_nested, rows.periods()), (comment(period.id) for period in table.periods)),
        "SEGMENT_ROWS": _rows(rows.segments(), ("" for _ in table.segments)),
        "FIRING_ROWS": _rows(rows.firings(), ("" for _ in table.firings)),
        "CUE_ROWS": _rows(rows.cues(), (comment(cue.id) for cue in table.cues)),
        "STEP_FROM": _list([", ".join(starts(len(pattern.steps) for pattern in table.patterns))]),
        "STEP_ROWS": ",\n".join(
            f"    /* {comment(pattern.name)} */\n{_rows(steps, ('' for _ in steps))}" for pattern, steps in rows.steps()
        ),
        "PULSE_FROM": _list([", ".join(starts(map(len, pulses)))]),
        "PULSE_ROWS": _list(", ".join(map(str, each)) for each in pulses if each),
        "SWELL": _list(swell()),
        # Neither C nor C++ has tables without a row.
        "LIGHT_ROWS": _rows(map(_look, rows.looks()), (comment(look.name) for look in table.looks)) or _DARK,
        "TONE_FROM": _list([", ".join(starts(len(tune.steps) for tune in table.tunes))]),
        "TONE_ROWS": ",\n".join(
            f"    /* {comment(tune.name)} */\n{_rows(steps, ('' for _ in steps))}" for tune, steps in rows.tunes()
        ) or "    {0, 0, 0, 0}",
    }  # fmt: skip


def _nested(cells: Cells) -> Cells:
    """Return the cells of a period with those of its first rows as one."""
    return (*cells[:-3], f"{{{', '.join(cells[-3:])}}}")


_DARK = "    {1, 1, 1, 0, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}}"


def _look(shown: tuple[Look, tuple[int, int, int, int]]) -> Cells:
    look, numbers = shown
    return (*map(str, numbers), *(f"{{{', '.join(map(str, rgb))}}}" for rgb in (look.first, look.second, (0, 0, 0))))


def _texts(table: RobotTable, prefix: str) -> str:
    """Return the plan's texts, each by itself, and the tables of them: so that they may stand in flash as they are."""
    big = prefix.upper()
    lists: dict[str, list[str]] = {
        "period_ids": [period.id for period in table.periods], "cue_ids": [cue.id for cue in table.cues],
        "words": [cue.word for cue in table.cues], "role_ids": [*table.roles], "log_words": [*_LOGGED],
    }  # fmt: skip
    lines = [f'static const char {prefix}no_text[] {big}STORED = "";']
    for name, texts in lists.items():
        own = [f"{prefix}{name}_{number}" for number in range(len(texts))]
        lines += [f"static const char {one}[] {big}STORED = {text(value)};"
                  for one, value in zip(own, texts, strict=True)]  # fmt: skip
        lines += [f"static const char *const {prefix}{name}[] {big}STORED = {{"]
        lines += [_list(own), "};"]
    return "\n".join([*lines, ""])


def _enum(constants: Iterable[tuple[str, str]]) -> str:
    return "\n".join(f"    {name} = {number}," for name, number in constants) or "    /* none */"


def _rows(rows: Iterable[Cells], notes: Iterable[str]) -> str:
    made = [(f"    {{{', '.join(cells)}}}", note) for cells, note in zip(rows, notes, strict=True)]
    last = len(made) - 1
    return "\n".join(
        row + ("," if place < last else "") + (f"  /* {note} */" if note else "")
        for place, (row, note) in enumerate(made)
    )


def _list(items: Iterable[str]) -> str:
    return ",\n".join(f"    {item}" for item in items)
