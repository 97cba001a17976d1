"""Write the plan as one HTML file that works from disk: a match clock with all cues, for devices without installation.

The page is assembled from the readable parts in ``templates/``. It loads nothing and sends nothing: its
Content-Security-Policy allows its own style and script, by their SHA-256, and no connection.
"""

import re
from collections.abc import Iterable
from html import escape

from tocsin.export.json_document import document
from tocsin.export.occurrences import CueOccurrence, calls
from tocsin.export.page_parts import filled, json_in_page, policy, script_of, style_of, translation_of
from tocsin.export.source import CAUTIONS, Source
from tocsin.export.table import seconds
from tocsin.model.plan import ROLES
from tocsin.translation import LANGUAGE, tr

# In the order in which they use each other.
SCRIPT_PARTS = (
    "page_texts.js", "page_clock.js", "page_now.js", "page_schedule.js", "page_match.js", "page_view_model.js",
    "page_tones.js", "page_vibrator.js", "page_motors.js", "page_pads.js", "page_awake.js", "page_record.js",
    "page_field.js", "page_view.js", "page_rows.js", "page_channels.js", "page_press.js", "page_controls.js",
    "page_standby.js", "page_wish.js", "page_main.js",
)  # fmt: skip
_RULES = ("default-src 'none'", "connect-src 'none'", "base-uri 'none'", "form-action 'none'")

_ABOUT = tr(
    "A match clock for a drive team's laptop or tablet: it counts as the official display does and calls the moments "
    "of the plan by words, colour, tones and pads that shake, each time at the same instant. It needs no network and "
    "no installation.",
)
_DANGERS = (
    tr(
        "Light that flashes can harm people with photosensitive epilepsy, though this page flashes at most twice a "
        "second: ask everybody first.",
    ),
    tr("No louder than needed, and no ear at the loudspeaker. At events the sound is off."),
    tr("Where laptops or wireless are not allowed at the field, leave this in the pit."),
)
_HELP = (
    tr(
        "Open the file in a browser of 2020 or later and keep the page in front: in the background browsers slow it "
        "down.",
    ),
    tr("Turn the volume up, press any button of each pad, and press “Try all”: does the right hand feel it?"),
    tr(
        "Press Start together with whoever starts the clock. A press too early or late is fixed by Clock on and Clock "
        "back.",
    ),
    tr(
        "In the match a scribe presses Contact, Turned and Home, and holds the button while it lasts. Hold stops the "
        "clock until Go on. More shows the other buttons for ten seconds. Call gives a cue by hand if the plan has one "
        "for that. Cancel, pressed twice within two seconds, goes back here.",
    ),
    tr(
        "At the end save the record. Tocsin makes a run of it, judged like any other: tocsin log --page FILE. It has "
        "one JSON object a line: marks with begin and end, signals with their delay. The plan's and the game's files "
        "are in it too: give it only to people who may read it.",
    ),
    tr(
        "For rehearsals add to the address: ?rate=20 (twenty times as fast), ?from=100 (from that match second), "
        "?start=now (without a press).",
    ),
    tr(
        "With a keyboard: page down or s starts, t tries all, 7 contact, 8 turned, 9 home (hold the key), p holds, x "
        "twice cancels, k more, left and right move the clock, h calls home, v other order, m sound off.",
    ),
)  # fmt: skip


def page_html(source: Source, *, quiet: bool = False) -> str:
    """Return the whole page as HTML text, newlines as ``\\n``. Equal sources give equal text.

    ``quiet`` if its sound is off until somebody turns it on, as it is where the plan has no sound.
    """
    style, script = style_of("page.css"), script_of(SCRIPT_PARTS)
    title = f"{source.game.name} – {source.plan.name}"
    filling = {
        "comment": _comment(source),
        "policy": policy(_RULES, style, script),
        "title": escape(title),
        "page_language": escape(LANGUAGE),
        "language": escape(source.plan.language),
        "about": escape(_ABOUT),
        "style": style,
        "script": script,
        "plan": json_in_page(document(source)),
        "files": json_in_page(source.files),
        "sound_on": "" if quiet or not _has_sound(source) else " checked",
        "translation": translation_of(script),
        "variants": _variants(source),
        "variant_button": _variant_button(source),
        "cautions": _items((*CAUTIONS, *_DANGERS)),
        "roles": _roles(source),
        "calls": "\n".join(_row(source, call) for call in calls(source)),
        "call_buttons": _call_buttons(source),
        "help": f"<ol>\n{_items(_HELP)}\n</ol>",
        "origin": "\n".join(f'<p class="origin">{escape(line)}</p>' for line in source.origin_lines),
    }
    return filled("page.html", filling)


def _comment(source: Source) -> str:
    """Return the lines for whoever opens the file in an editor. Two hyphens would end the comment."""
    lines = (*source.origin_lines, "", _ABOUT, "", *_HELP, "", *CAUTIONS, *_DANGERS)
    return re.sub(r"[<>]|-(?=-)", " ", "\n".join(lines))


def _items(lines: Iterable[str]) -> str:
    return "\n".join(f"<li>{escape(line)}</li>" for line in lines)


def _variants(source: Source) -> str:
    if not source.game.variants:
        return ""
    default = source.timeline.default_variant
    choices = "\n".join(
        f'<label><input type="radio" name="variant" value="{escape(variant.id)}"'
        f"{' checked' if variant.id == default else ''}> {escape(variant.title)}</label>"
        for variant in source.game.variants
    )
    legend = escape(tr("Which order is played? In the match: Other order"))
    key = escape(tr("(key v)"))
    return f'<fieldset>\n<legend>{legend}<span class="keys"> {key}</span></legend>\n{choices}\n</fieldset>'


def _variant_button(source: Source) -> str:
    if not source.game.variants:
        return ""
    said = escape(tr("Other order"))
    return (
        '<button type="button" data-act="variant" data-rest data-in="waiting running held" aria-keyshortcuts="V">'
        f'{said} <kbd aria-hidden="true">v</kbd></button>'
    )


def _has_sound(source: Source) -> bool:
    return any(firing.channel == "sound" for firing in source.timeline.firings)


def _roles(source: Source) -> str:
    used = {firing.role for firing in source.timeline.firings if firing.channel == "rumble"}
    said = {role: tr("{role}’s cues only", role=tr(role)) for role in ROLES if role in used}
    return "\n".join(f'<option value="{role}">{escape(text)}</option>' for role, text in said.items())


def _call_buttons(source: Source) -> str:
    callable_cues = [cue for cue in source.plan.cues if cue.callable]
    return "\n".join(
        f'<button type="button" data-act="call.{escape(cue.id)}" data-rest data-in="running held"'
        + (' aria-keyshortcuts="H">' if cue.id == "home" else ">")
        + escape(tr("Call {word}", word=_word(source, cue.id)))
        + (' <kbd aria-hidden="true">h</kbd>' if cue.id == "home" else "")
        + "</button>"
        for cue in callable_cues
    )


def _word(source: Source, cue: str) -> str:
    return next(firing.word for firing in source.timeline.firings if firing.cue == cue)


def _row(source: Source, call: CueOccurrence) -> str:
    titles = {variant.id: variant.title for variant in source.game.variants}
    word = tr("{word} (if: {variant})", word=call.word, variant=titles[call.when]) if call.when else call.word
    cells = (
        call.shown or _by_hand(call),
        "" if call.match_ns is None else f"{seconds(call.match_ns)} s",
        word,
        ", ".join(map(tr, call.roles)),
        ", ".join(_senses(call)),
        call.why,
    )
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>"


def _senses(call: CueOccurrence) -> Iterable[str]:
    """Yield by what this page gives a cue: the strip's share is a frame on the screen where the plan has no other."""
    if "rumble" in call.patterns:
        yield tr("pads")
    if "screen" in call.patterns or "light" in call.patterns:
        yield tr("screen")
    if "sound" in call.patterns:
        yield tr("tone")


def _by_hand(call: CueOccurrence) -> str:
    return (
        tr("by hand") if call.anchor.startswith("call.")
        else tr("after a mark") if call.anchor.startswith("mark.")
        else ""
    )
