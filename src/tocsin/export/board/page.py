"""Make the board: one HTML file without data that shows, on a phone, the clock of the laptop which serves it.

Its script shares the exported page's clock, schedule, words and field. It loads nothing from elsewhere: its
Content-Security-Policy allows its own style and script, by their SHA-256, and the service that it came from.
"""

from html import escape
from typing import NamedTuple

from rcssmin import cssmin
from rjsmin import jsmin

from tocsin.export.page_parts import filled, policy, script_of, style_of, translation_of
from tocsin.translation import LANGUAGE, tr

# In the order in which they use each other.
SCRIPT_PARTS = (
    "page_texts.js", "page_clock.js", "page_now.js", "page_schedule.js", "page_view_model.js", "page_tones.js",
    "page_vibrator.js", "page_awake.js", "page_field.js", "page_view.js", "page_channels.js", "page_press.js",
    "board_line.js", "board_clock.js", "board_mirror.js", "board_rights.js", "board_wishes.js", "board_buttons.js",
    "board_words.js", "board_said.js", "board_phone.js", "board_round.js", "board_result.js", "board_main.js",
)  # fmt: skip
_RULES = (
    "default-src 'none'", "connect-src 'self'", "img-src data:", "base-uri 'none'", "form-action 'none'",
)  # fmt: skip
# What only a header can say.
_HEADER_RULES = ("frame-ancestors 'none'",)
_ABOUT = tr("The match clock of the laptop that serves this page. Made by Tocsin.")


class BoardPage(NamedTuple):
    """The page as HTML, and the Content-Security-Policy to be sent with it."""

    html: str
    policy: str


def board_page() -> BoardPage:
    """Return the page and its policy. They are the same for all runs, and hold nothing of any."""
    style, script = cssmin(style_of("board.css")), jsmin(script_of(SCRIPT_PARTS))
    rules = policy(_RULES, style, script)
    filling = {
        "comment": escape(_ABOUT),
        "policy": rules,
        "page_language": escape(LANGUAGE),
        "style": style,
        "script": script,
        "translation": translation_of(script),
    }
    return BoardPage(filled("board.html", filling), "; ".join((*_HEADER_RULES, rules)))
