"""Choose which words get a row on the window, how large, in which colour. Pure.

Heights are shares of the window's height, or of its width if it is upright. Letters are white, yellow, orange or sky
blue on black; no meaning depends on the colour.
"""

import re
from collections.abc import Iterable, Iterator, Sequence

from tocsin.channels.screen.layout import CAP, TextRow
from tocsin.model.display.view_model import ViewModel
from tocsin.model.pattern import Rgb
from tocsin.model.safety import BLACK, OKABE_ITO, contrast
from tocsin.readable import readable_line
from tocsin.translation import tr

WHITE, YELLOW = OKABE_ITO["white"], OKABE_ITO["yellow"]
ORANGE, SKY_BLUE = OKABE_ITO["orange"], OKABE_ITO["sky_blue"]
LEAST_CONTRAST = 7.0
GREY = (170, 170, 170)                 # what the drivers need not read
# Of a scribe's keys, the largest first: drivers look at the same window, and theirs must not become smaller by it.
SCRIBE_SHARES = (0.1, 0.085, 0.07, 0.055, 0.045)
WORD_SHARE = 0.25                      # of the height, the letters of a cue's word
_MOST = 300                            # characters of a row: a wall of letters tells nobody anything
_UNBROKEN = "\N{NO-BREAK SPACE}"
_CLICK = tr("Click this window to use its keys")
# What stands for rounds of a drill, as far as pygame's own font has it.
_SHAPES = str.maketrans({"●": "•", "○": "o"})
# No line of a result begins with the unit of the number before it.
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[s%](?!\w))")


def joined(texts: Iterable[str]) -> str:
    """Return texts as one text that breaks only between them."""
    return f"{3 * _UNBROKEN}·   ".join(text.replace(" ", _UNBROKEN) for text in texts)


def joined_apart(texts: Iterable[str]) -> str:
    """Return texts as one that does not break, with room between them and nothing else."""
    return (4 * _UNBROKEN).join(text.replace(" ", _UNBROKEN) for text in texts)


def readable(colour: Rgb) -> Rgb:
    """Return the colour, or white if it would be hard to read on black."""
    return colour if contrast(colour, BLACK) >= LEAST_CONTRAST else WHITE


def view_rows(view: ViewModel, *, focused: bool) -> list[TextRow]:
    """Return the rows while no cue shows."""
    rows = _quiet_rows(view) if view.phase in ("standby", "scrapped", "over") else _match_rows(view)
    return _shown((*rows, *_bottom_rows(view, focused)))


def scribe_row(view: ViewModel, line: float) -> TextRow | None:
    """Return the row of a scribe's keys, or None outside a match. Words in capitals are the cues': these are none."""
    if not view.scribe or view.phase not in ("waiting", "running", "held"):
        return None
    keys = joined_apart(f"{entry.key} {entry.does.capitalize()}" for entry in view.scribe)
    return TextRow("scribe", keys, line, GREY, "bottom")


def with_scribe(rows: Sequence[TextRow], row: TextRow) -> list[TextRow]:
    """Return the rows with a scribe's above those at the foot of the window."""
    place = next((n for n, other in enumerate(rows) if other.place == "bottom"), len(rows))
    return [*rows[:place], *_shown([row]), *rows[place:]]


def foot_rows(view: ViewModel, *, focused: bool) -> tuple[list[TextRow], list[TextRow]]:
    """Return the rows below the picture of a result: what to do now and what must not be missed, and what people read
    who have time for it."""
    tally = view.picture.tally.translate(_SHAPES) if view.picture else ""
    rows = [
        TextRow("tally", tally, 0.042, WHITE, most=2),
        TextRow("outside", view.outside, 0.05, WHITE, most=2),
        TextRow("prompt", view.prompt, 0.05, YELLOW, most=2),
        *_alarm_rows(view, 0.07),
        _key_row(view, focused, 0.032)._replace(place="bottom"),
    ]
    said = [TextRow("notice", _notice(view), 0.05, YELLOW, most=3), TextRow("video", view.video, 0.036, WHITE, most=3)]
    return _shown(rows), _shown(said)


def cue_rows(view: ViewModel | None, word: str, letters: Rgb) -> list[TextRow]:
    """Return the rows while a cue shows: its word, the digits, and the notices that must not be missed."""
    rows = [TextRow("word", word.upper(), WORD_SHARE / CAP, readable(letters), most=2)]
    if view is not None:
        rows.append(TextRow("digits", view.digits, 0.22, WHITE))
        rows += _alarm_rows(view, 0.14)
        rows.append(TextRow("context", joined(view.windows) or view.title, 0.06, WHITE, most=2))
    return _shown(rows)


def beneath_rows(view: ViewModel, *, keys: bool, focused: bool) -> list[TextRow]:
    """Return the small rows below a cue's word: the notice, and ``keys`` if there is time to read them, a scribe's
    first."""
    rows = [TextRow("notice", _notice(view), 0.045, YELLOW, most=2)]
    if view.typed:
        rows.insert(0, TextRow("typed", joined((_typed(view), view.prompt)), 0.06, YELLOW, most=2))
    if keys:
        scribe = scribe_row(view, 0.06)
        rows += [scribe._replace(place="middle")] if scribe else []
        rows.append(_key_row(view, focused, 0.032))
    return _shown(rows)


def _shown(rows: Iterable[TextRow]) -> list[TextRow]:
    """Return the rows that say something, as pygame can draw them: neither NUL nor a lone surrogate stops it."""
    return [row._replace(text=readable_line(row.text, _MOST)) for row in rows if row.text]


def _match_rows(view: ViewModel) -> Iterator[TextRow]:
    yield TextRow("heading", joined((view.heading, *view.facts)), 0.042, WHITE, "top", 2)
    held = view.phase == "held"
    yield TextRow("title", view.title, 0.14 if held else 0.11, YELLOW if held else WHITE, most=2)
    yield TextRow("digits", view.digits, 0.46 if view.alarms else 0.57, WHITE if view.moving else SKY_BLUE)
    yield TextRow("typed", _typed(view), 0.2, YELLOW)
    for number, line in enumerate(view.sign):
        yield TextRow(f"sign {number}", line, 0.2 if number else 0.36, WHITE, most=2)
    yield TextRow("prompt", view.prompt, 0.11, YELLOW, most=2)
    yield TextRow("windows", joined(view.windows), 0.085, ORANGE, most=2)
    for number, ahead in enumerate(view.ahead[:1] if view.alarms else view.ahead):
        yield TextRow(f"ahead {number}", ahead.line, 0.085 - 0.03 * number, SKY_BLUE, most=2)
    yield from _alarm_rows(view, 0.16)
    yield TextRow("notice", _notice(view), 0.05, YELLOW, most=2)


def _quiet_rows(view: ViewModel) -> Iterator[TextRow]:
    """Yield the rows of standby and of the result, which are read from near by."""
    lines = view.card or view.result
    yield TextRow("heading", view.heading, 0.042 if lines else 0.055, WHITE, "top", 2)
    if view.card:
        yield TextRow("title", joined((view.title, view.digits)), 0.06, SKY_BLUE)
    else:
        yield TextRow("title", view.title, 0.06 if lines else 0.075, WHITE)
        yield TextRow("digits", "" if lines else view.digits, 0.27, SKY_BLUE)
    for number, line in enumerate(view.sign):
        yield TextRow(f"sign {number}", line, 0.25, WHITE, most=1 + 2 * number)
    for number, line in enumerate(lines):
        what = "card" if view.card else "result"
        text = _BEFORE_UNIT.sub(_UNBROKEN, line.translate(_SHAPES))
        yield TextRow(f"{what} {number}", text, 0.06 if number else 0.095, WHITE, most=3)
    yield TextRow("outside", view.outside, 0.06, WHITE, most=2)
    yield TextRow("video", view.video, 0.036, WHITE, most=3)
    yield TextRow("prompt", view.prompt, 0.11, YELLOW, most=4 if lines else 2)
    yield TextRow("clear", view.clear, 0.085, ORANGE, most=2)
    yield TextRow("facts", joined(view.facts), 0.038 if lines else 0.045, WHITE, most=3)
    yield from _alarm_rows(view, 0.16)
    yield TextRow("notice", _notice(view), 0.05, YELLOW, most=2)
    yield from (
        TextRow(f"earlier {number}", text, 0.042, WHITE, most=2)
        for number, text in enumerate(view.earlier)
    )
    if view.boards:
        yield TextRow("boards", joined(view.boards.lines), 0.038, WHITE, most=4)
    if view.phase == "over" or view.card:
        return                             # there they stand in one line
    for fact in view.devices:
        if fact.state not in ("lost", "failed"):
            text = f"{tr(fact.what)}: {tr(fact.state)}" + (f" – {fact.text}" if fact.text else "")
            colour = WHITE if fact.state in ("ready", "off") else YELLOW
            yield TextRow(f"device {fact.what}", text, 0.042, colour, most=2)


def _alarm_rows(view: ViewModel, line: float) -> Iterator[TextRow]:
    for number, alarm in enumerate(view.alarms):
        yield TextRow(f"alarm {number}", f"! {alarm.what} !", line, ORANGE, outlined=True)
        yield TextRow(f"fix {number}", alarm.fix, 0.45 * line, ORANGE, most=2)


def _typed(view: ViewModel) -> str:
    return tr("Display  {typed}", typed=view.typed) if view.typed else ""


def _notice(view: ViewModel) -> str:
    """Return the notice unless an alarm says it already."""
    said = any(alarm.what.lower() in view.notice.lower() for alarm in view.alarms)
    return "" if said else view.notice


def _bottom_rows(view: ViewModel, focused: bool) -> Iterator[TextRow]:
    if (view.card or view.phase not in ("standby", "scrapped")) and not view.alarms:
        present = [f"{fact.subject} {fact.condition}" for fact in view.devices if fact.state != "off"]
        yield TextRow("devices", joined(present), 0.036, WHITE, "bottom", 2)
    row = _key_row(view, focused, 0.038)
    yield row._replace(place="bottom")


def _key_row(view: ViewModel, focused: bool, line: float) -> TextRow:
    keys = joined(f"{entry.key}: {entry.does}" for entry in view.keys)
    return TextRow("keys", keys if focused else _CLICK, line, WHITE if focused else YELLOW, most=3)
