"""The code in a terminal: read back by a reader that is not ours, from the colours that the terminal is told."""

import io

import msgspec
import numpy as np
import pytest
from rich.color import Color
from rich.console import Console

from tests.support.channels.codes import ADDRESS, FIRST, GIVES, MISSING, SECOND, WATCHES, ZBAR, scanned
from tocsin.config.load import load
from tocsin.model.display.status import DeviceFact, KeyHelp, Status
from tocsin.model.display.view_model import ViewModelMaker
from tocsin.runner.terminal.code import code_cells, code_text
from tocsin.runner.terminal.screen import fitted, news

TIMELINE = load(None, ["full"], "nothing").plans[0].timeline
KEYS = (
    KeyHelp(key="page down", does="start", action="start"),
    KeyHelp(key="h", does="let a phone mark or steer", action="phones"),
)
STANDBY = Status(phase="standby", keys=KEYS, devices=(DeviceFact(what="light", state="absent", text="plug it in"),))
CELL = (8, 16)                         # pixels of a character
# A theme whose own colours are the other way round, and one that has grey for both.
THEMES = {"dark": ((230, 230, 230), (10, 10, 10)), "light": ((0, 0, 0), (255, 255, 255)), "grey": ((130,) * 3,) * 2}
INKED = {" ": (0, 0), "▀": (1, 0)}     # the halves of a cell, upper and lower


def view(boards, **facts):
    return ViewModelMaker(TIMELINE).at(msgspec.structs.replace(STANDBY, boards=boards, **facts), 0)


def console(columns=100, lines=40, **facts):
    how = {"force_terminal": True, "color_system": "truecolor", **facts}
    return Console(file=io.StringIO(), width=columns, height=lines, **how)


def rendered(shown, terminal, theme="dark"):
    """Return the pixels of a terminal; letters are what a scanner may take for anything: a grey cell."""
    cells = terminal.render_lines(fitted(shown, "", terminal), pad=True)
    picture = np.zeros((len(cells) * CELL[1], terminal.width * CELL[0], 3), np.uint8)
    for row, line in enumerate(cells):
        column = 0
        for segment in line:
            ink, ground = (np.array(of, float) for of in THEMES[theme])
            if segment.style and segment.style.color and segment.style.bgcolor:
                ink, ground = (_rgb(of) for of in (segment.style.color, segment.style.bgcolor))
            for letter in segment.text:
                for half, inked in enumerate(INKED.get(letter, (0.5, 0.5))):
                    top, left = row * CELL[1] + half * CELL[1] // 2, column * CELL[0]
                    picture[top : top + CELL[1] // 2, left : left + CELL[0]] = inked * ink + (1 - inked) * ground
                column += 1
    return picture


def _rgb(colour: Color):
    return np.array(colour.get_truecolor(), float)


def text_of(shown, terminal):
    return "\n".join("".join(part.text for part in line) for line in terminal.render_lines(fitted(shown, "", terminal)))


def plain(shown, terminal):
    """Return the words, with the frame, blanks and line breaks between them as single blanks."""
    return " ".join(text_of(shown, terminal).replace("│", " ").split())


@pytest.mark.devices
@pytest.mark.skipif(ZBAR is None, reason="zbarimg is not installed")
@pytest.mark.parametrize("theme", sorted(THEMES))
@pytest.mark.parametrize("size", [(80, 24), (80, 30), (120, 40), (180, 50)])
@pytest.mark.parametrize(("boards", "text"), [(FIRST, WATCHES), (SECOND, GIVES)])
def test_it_is_read_in_any_theme(boards, text, size, theme):
    assert scanned(rendered(view(boards), console(*size), theme)) == [text]


def test_it_is_41_characters_wide_and_21_lines_high():
    lines = code_cells(FIRST.code)
    assert (len(lines), {len(line) for line in lines}) == (21, {41})
    assert [len(line) for line in code_text(FIRST.code).plain.splitlines()] == 21 * [41]


def test_where_there_is_room_it_is_colour_alone_since_many_fonts_leave_gaps_between_blocks():
    shown = text_of(view(FIRST), console(180, 50))
    assert not {"▀", "▄", "█"} & set(shown)
    assert len(shown.splitlines()) == 43, "41 modules and the frame"
    assert "▀" in text_of(view(FIRST), console(180, 43))
    assert "▀" in text_of(view(FIRST), console(117, 50))


@pytest.mark.parametrize("boards", [FIRST, MISSING, SECOND])
def test_what_standby_needs_stays_beside_it(boards):
    said = plain(view(boards), console(100, 40))
    for words in ("Standby", "Press page down: 5 s count-in", "light: absent", "h: let a phone mark or steer", ADDRESS):
        assert words in said, words


def test_a_terminal_too_small_for_it_says_so_and_loses_nothing_else():
    terminal = console(70, 24)
    said = plain(view(FIRST), terminal)
    assert "▀" not in said
    for words in ("Make this terminal larger", ADDRESS, "Press page down: 5 s count-in", "light: absent"):
        assert words in said


@pytest.mark.parametrize("facts", [{"color_system": None}, {"no_color": True}])
def test_without_colours_there_is_none_since_a_dark_theme_would_turn_it_round(facts):
    said = plain(view(FIRST), console(**facts))
    assert "▀" not in said
    assert "tocsin board --address watch" in said


def test_where_lines_are_written_the_address_is_told_once_and_no_countdown():
    first = list(news(None, view(FIRST)))
    assert any(ADDRESS in line for line in first)
    assert not [line for line in news(view(FIRST), view(FIRST)) if ADDRESS in line]
    assert [line.strip() for line in news(view(FIRST), view(MISSING)) if "No phone has come yet" in line]
    assert not list(news(view(SECOND), view(SECOND)))
