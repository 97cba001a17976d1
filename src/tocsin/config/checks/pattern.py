"""Check patterns beyond the range of each value."""

from tocsin.config.schema.pattern import LONGEST_NS, LightTable, PatternTables, RumbleTable, ScreenTable, SoundTable
from tocsin.config.toml.document import Document
from tocsin.model.diagnostics import Diagnostic, Path
from tocsin.model.pattern import lasts_ns
from tocsin.translation import tr
from tocsin.units import format_clock

# How many colours a form takes, at least and at most.
_LIGHT_COLOURS = {"plain": (1, 1), "bands": (2, 2)}
_SCREEN_COLOURS = {"stripes": (2, 2), "apart": (1, 2), "none": (0, 2)}
_COUNTED = {
    (1, 1): tr("one colour"),
    (2, 2): tr("two colours"),
    (1, 2): tr("one or two colours"),
    (0, 2): tr("up to two colours"),
}


def check_patterns(document: Document, tables: PatternTables, file: str) -> None:
    """Report patterns that last too long, are too weak to notice, or whose colours do not fit their form."""
    for name, rumble in tables.rumble.items():
        _check_length(document, rumble, file, ("pattern", "rumble", name))
        if not any(step.strong or step.weak for step in rumble.steps):
            _report(document, file, "pattern_silent", ("pattern", "rumble", name, "steps"))
    for name, sound in tables.sound.items():
        _check_sound(document, sound, file, ("pattern", "sound", name))
    for name, light in tables.light.items():
        bounds = _LIGHT_COLOURS.get(light.form, (1, 2))
        _check_colours(document, light, light.form, bounds, file, ("pattern", "light", name))
    for name, screen in tables.screen.items():
        bounds = _SCREEN_COLOURS.get(screen.field, (1, 1))
        _check_colours(document, screen, screen.field, bounds, file, ("pattern", "screen", name))


def _check_sound(document: Document, sound: SoundTable, file: str, path: Path) -> None:
    _check_length(document, sound, file, path)
    if not any(step.hz and step.level for step in sound.steps):
        _report(document, file, "pattern_silent", (*path, "steps"))
    for number, step in enumerate(sound.steps):
        if step.to_hz and not step.hz:
            _report(document, file, "glide_from_silence", (*path, "steps", number, "to_hz"), text=f"{step.to_hz:g}")


def _check_length(document: Document, table: RumbleTable | SoundTable, file: str, path: Path) -> None:
    total_ns = lasts_ns(table.build())
    if total_ns > LONGEST_NS:
        key = "times" if table.times > 1 else "steps"
        facts = {"text": format_clock(total_ns), "high": format_clock(LONGEST_NS)}
        _report(document, file, "pattern_too_long", (*path, key), **facts)


def _check_colours(
    document: Document, table: LightTable | ScreenTable, form: str, bounds: tuple[int, int], file: str, path: Path
) -> None:
    count = len(table.colours)
    if not bounds[0] <= count <= bounds[1]:
        fix = tr("Add a second colour.") if count < bounds[0] else tr("Take the others away.")
        facts = {"form": form, "wanted": _COUNTED[bounds], "count": str(count), "fix": fix}
        _report(document, file, "pattern_colours", (*path, "colours"), **facts)


def _report(document: Document, file: str, code: str, path: Path, **facts: str) -> None:
    document.report(Diagnostic(code=code, file=file, path=path, facts=facts))
