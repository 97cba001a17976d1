"""The board as a file: how heavy it is, what it may do, which words its buttons have."""

import gzip
import re

import pytest

from tests.support.texts import SOURCE, texts
from tocsin.export.board.page import SCRIPT_PARTS, board_page
from tocsin.export.page import SCRIPT_PARTS as PAGE_PARTS

TEMPLATES = SOURCE / "export" / "templates"


def test_it_weighs_no_more_than_its_budget():
    """120 kB, 35 kB compressed (the design of the board)."""
    html = board_page().html.encode()
    assert len(html) <= 120_000
    assert len(gzip.compress(html, mtime=0)) <= 35_000


def test_it_is_made_of_all_its_parts_and_shares_the_exported_pages_clock():
    own = {path.name for path in TEMPLATES.glob("board_*.js")}
    assert own == {name for name in SCRIPT_PARTS if name.startswith("board_")}
    shared = {"page_clock.js", "page_schedule.js", "page_view_model.js", "page_field.js", "page_view.js"}
    assert shared <= set(SCRIPT_PARTS) & set(PAGE_PARTS)
    assert all((TEMPLATES / name).exists() for name in SCRIPT_PARTS)


def test_its_policy_lets_its_own_style_and_script_in_and_asks_its_service_only():
    html, policy = board_page()
    assert "default-src 'none'" in policy
    assert "connect-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert len(re.findall(r"'sha256-[\w+/=]+'", policy)) == 2
    assert not re.search(r"\sstyle=|\son\w+=", html.partition("<script>")[0])


def test_its_script_sets_words_as_text_only():
    script = board_page().html.partition("<script>")[2]
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\b|new Function", script)


@pytest.mark.parametrize("word", ["stop", "clear", "go", "ready"])
def test_no_button_says_what_only_people_at_the_field_may(word):
    """A finger would trust it: who is at the robot's stop, and who looks at the field, says these."""
    buttons = re.findall(r"<button[^>]*>([^<]*)", (TEMPLATES / "board.html").read_text("utf-8"))
    said = [text for _, text in texts(TEMPLATES / "board_buttons.js")]
    told = [str(text) for text in (*buttons, *said) if str(text) != "Field clear?"]      # asked of people, not told
    found = [text for text in told if re.search(rf"\b{word}\b", text, re.IGNORECASE)]
    assert found == []
