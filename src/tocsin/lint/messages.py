"""Word findings for people: what is wrong, why it matters and by which limit, how to fix it."""

from tocsin.lint.finding import LEVELS, Finding
from tocsin.lint.limits import Limit
from tocsin.lint.rules import KINDS
from tocsin.translation import tr

_USUAL: dict[str, str] = {
    "area": tr("a quarter of its area"),
    "asked": "1800",
    "baud": "115200",
    "changes": "10",
    "colour": "red",
    "count": "4",
    "cue": "home",
    "cues": "'no_touch'",
    "device": "strip",
    "does": "heard",
    "else": tr("give 'home' the higher priority"),
    "flashes": "5",
    "frames": "8.2",
    "gap": tr("300ms after"),
    "how": tr("only 1s before it begins"),
    "hz": "200",
    "id": "no_contact",
    "lasts": "100ms",
    "late": "86 ms",
    "lead": "break_off",
    "least": "4s",
    "leds": "300",
    "left": "15s",
    "max_ma": "400",
    "missing": tr("a pad for the coach"),
    "most": "450",
    "never": "felt",
    "other": "swap",
    "pattern": "alarm",
    "plan": "Quiet",
    "ratio": "3.2",
    "rival": tr("'swap' (priority 9 against 5)"),
    "role": "operator",
    "share": "2.2%",
    "shown": "300ms",
    "strength": "0.5",
    "takes": "600 ms",
    "way": "low",
    "when": tr("at 114s of the match"),
    "where": tr("the driver's pad"),
    "whole": "800ms",
    "whom": tr(" to the driver"),
    "whose": tr("The driver's"),
    "window": tr("No-touch time"),
    "wire": "90 ms",
    "word": "Home",
}  # fmt: skip
_OF_CODE: dict[str, dict[str, str]] = {
    "lead_short": {"lasts": "2s", "least": "3.3s"},
    "lead_below_runs": {"lasts": "4s", "least": "5.2s", "rounds": "24 rounds"},
    "lead_few_rounds": {"lasts": "4s", "least": "3.6s", "rounds": "9 rounds", "more": "13"},
    "unused_lead": {"lead": "early"},
    "hazard_stripes": {"device": "screen", "pattern": "warn"},
    "return_late": {"least": "20s"},
    "call_late": {"cue": "no_touch"},
    "reserved_word": {"cue": "begin", "word": "go"},
    "reserved_name": {"cue": "go_home", "word": "go"},
    "long_phrase": {"word": tr("Drive home now")},
    "words_crowd": {"word": "Swap", "other": "Home"},
    "many_cues": {"count": "7", "cue": "swap"},
    "short_gap": {"gap": "80ms"},
    "long_effect": {"lasts": "6s"},
    "much_vibration": {"lasts": "12s"},
    "many_forms": {"cue": "swap"},
    "hands_away": {"where": tr("the autonomous period"), "when": tr("at 12s of the match")},
    "press_too_early": {"where": tr("the autonomous period"), "when": tr("at 12s of the match"), "word": "Press"},
    "ticking_pad": {"cue": "last_five"},
    "never_shows": {"where": tr("the strip"), "never": "seen"},
    "hardly_shows": {"where": tr("the strip"), "whole": "3s"},
    "lamp_colour": {"colour": "green"},
    "speech_over_tone": {"word": tr("Drive home now")},
    "more_than_usb": {"max_ma": "1500", "most": "1550", "dark": "60"},
    "never_lit": {"max_ma": "50", "dark": "60", "leds": "60"},
    "never_counts": {"fewer": "4"},
    "goal_beyond": {"count": "8", "rounds": "6 rounds", "most": "6"},
    "device_not_installed": {
        "device": "dmxx", "how": tr('Write: device = "dmx" (installed are: {names}).', names="dmx (tocsin-dmx 1.0)"),
    },
    "own_limit_idle": {"rounds": "4 rounds", "count": "5", "least": "8"},
}  # fmt: skip


def example_facts(code: str) -> dict[str, str]:
    """Return example facts by name for all sentences of a code."""
    return {**_USUAL, **_OF_CODE.get(code, {})}


_LEVELS = {
    "error": tr("An error: `tocsin check` ends with exit code 20."),
    "warning": tr("A warning: it works, but somebody may be misled or left out by it."),
    "advice": tr("Advice: think about it; maybe you want it like that."),
}


def message(finding: Finding) -> str:
    """Return the sentence of a finding."""
    return KINDS[finding.code].says.format_map(finding.facts)


def why(finding: Finding) -> str:
    """Return why a finding matters."""
    return KINDS[finding.code].why


def source(finding: Finding) -> str:
    """Return the limits of a finding, each with its source."""
    return sourced(KINDS[finding.code].limits)


def fix(finding: Finding) -> str:
    """Return how to fix a finding."""
    return KINDS[finding.code].fix.format_map(finding.facts)


def sourced(limits: tuple[Limit, ...]) -> str:
    """Return limits as one text; a source that neighbours share stands once."""
    parts: list[str] = []
    for place, limit in enumerate(limits):
        follows = place + 1 < len(limits) and limits[place + 1].source == limit.source
        text = tr(limit.text, value=limit.value)
        parts.append(text if follows else f"{text} ({tr(limit.source)})")
    return "; ".join(parts)


def explained_facts(code: str) -> dict[str, object]:
    """Return the meaning of a code with example values, for programs. Raises KeyError for an unknown code."""
    kind, facts = KINDS[code], example_facts(code)
    return {
        "levels": [level for level in LEVELS if level in kind.levels], "message": kind.says.format_map(facts),
        "why": kind.why, "limit": sourced(kind.limits), "mend": kind.fix.format_map(facts),
    }  # fmt: skip


def explained(code: str) -> list[str]:
    """Return the same in paragraphs for people. Raises KeyError for an unknown code."""
    kind, told = KINDS[code], explained_facts(code)
    levels = [level for level in LEVELS if level in kind.levels]
    return [
        f"{code}: {tr(' or ').join(map(tr, levels))}",
        *(_LEVELS[level] for level in levels),
        tr("It says, for example: {told}", told=told["message"]),
        tr("Why: {told}", told=told["why"]),
        tr("Limit: {told}.", told=told["limit"]),
        tr("Fix: {told}", told=told["mend"]),
    ]
