"""Judge whether a round was clean by a drill's rule, part by part, with the reasons in plain words.

The edges of the game (of a window, the end of the match) decide only if the noted time is further from them than its
error: else only a video can tell. The drill's own limits (home 3 s before the end, turned within 2 s) are compared with
the time as noted: they are set for marks, which people make late. So is the limit that a crew sets itself
(``own_limit.py``); until there is one, its part is not judged.

An event that nobody noted is not judged, except contacts: the scribe watches for them, so no mark means no contact.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from tocsin.analysis.rounds.overlaps import Meeting, WindowTime, stretches
from tocsin.analysis.rounds.stakes import HALF, NOT_HOME
from tocsin.model.drill import Clean
from tocsin.translation import tr, trn
from tocsin.units import NS_PER_S

Part = Literal["contact", "home", "turned", "never"]       # of a rule
NO_RULE = tr("the drill does not say what is clean")


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """The facts that a rule is judged by, times in nanoseconds.

    ``met`` says how each own contact lies to all windows of the rule together, ``kept_off`` when those were open,
    ``title`` is their name, ``never_began`` names the ones that did not begin. ``home`` is our robot's state at the end
    ("" if nobody noted it), ``home_margin_ns`` how long before the end of the match it began, ``home_error_ns`` the
    error of that; with ``half_counts`` half home is enough. ``turn_ns`` is the time from the call home, if there was
    one (``called``), until our robot turned. Both times are None if unknown. ``noted`` holds the labels of our valid
    marks.
    """

    met: Sequence[Meeting]
    kept_off: Sequence[WindowTime]
    title: str
    never_began: str
    ended_ns: int
    home: str
    half_counts: bool
    home_margin_ns: int | None
    home_error_ns: int
    called: bool
    turn_ns: int | None
    noted: Sequence[str] = ()


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """Whether a rule, or one part of it, was kept (None: unknown), and why not, as parts of sentences.

    ``part`` is the first part of the rule that decided so, None if all were kept."""

    clean: bool | None
    why: tuple[str, ...] = ()
    part: Part | None = None


KEPT = Verdict(clean=True)


def verdict(rule: Clean, facts: Facts, *, watched: bool, silent: str = NO_RULE) -> Verdict:
    """Return the verdict on a round: one broken part breaks the rule; an unknown part leaves it open.

    Unless somebody ``watched``, a contact that is not noted may still have happened. ``silent`` is said where the rule
    asks for nothing.
    """
    parts = _parts(rule, facts)
    for outcome in (False, None):
        found = [one for one in parts if one.clean is outcome]
        if found and (watched or outcome is False):
            return Verdict(clean=outcome, why=tuple(why for one in found for why in one.why), part=found[0].part)
    if not parts:
        return _open(tr("this round sets your limit") if rule.turned_own else silent)
    return KEPT if watched else _open(tr("nobody marked this"))


def _parts(rule: Clean, facts: Facts) -> list[Verdict]:
    found: dict[Part, Verdict] = {}
    if rule.keep_off:
        found["contact"] = _keep_off(facts)
    if rule.home_ns is not None:
        found["home"] = _home(rule.home_ns, facts)
    if rule.turned_ns is not None:
        found["turned"] = _turned(rule.turned_ns, facts)
    if rule.never:
        found["never"] = _never(rule.never, facts)
    return [msgspec.structs.replace(one, part=part) for part, one in found.items()]


def _keep_off(facts: Facts) -> Verdict:
    inside = [found for found in facts.met if found.where == "inside"]
    if inside:
        return _broken(contacts_text(inside, facts.kept_off, facts.title))
    unclear = sum(found.where == "unclear" for found in facts.met)
    if any(found.where == "unclear" and found.mark.pointlike for found in facts.met):
        return _open(tr("nobody noted when a contact ended: see the video"))
    if unclear:
        return _open(trn(
            "a contact at an edge of {title}: see the video",
            "{count} contacts at an edge of {title}: see the video", unclear, title=facts.title,
        ))
    if facts.never_began:
        return _open(tr("{never_began} never began", never_began=facts.never_began))
    if max(time.end_ns for time in facts.kept_off) > facts.ended_ns:
        return _open(tr("the round ended before {title} did", title=facts.title))
    return KEPT


def _home(limit_ns: int, facts: Facts) -> Verdict:
    if not facts.home:
        return _open(tr("nobody noted whether the robot came home"))
    if facts.home == NOT_HOME:
        return _broken(tr("the robot did not come home"))
    if facts.home == HALF and not facts.half_counts:
        return _broken(tr("the robot came home only half"))
    if facts.home_margin_ns is None:
        return _open(tr("nobody knows when the match ended"))
    if not limit_ns and abs(facts.home_margin_ns) <= facts.home_error_ns:
        return _open(tr("home too close to the end: see the video"))
    if facts.home_margin_ns >= limit_ns:
        return KEPT
    asked = tr("{limit} before the end", limit=seconds(limit_ns)) if limit_ns else tr("the end")
    return _broken(tr("home {limit} later than {asked}", limit=seconds(limit_ns - facts.home_margin_ns), asked=asked))


def _turned(limit_ns: int, facts: Facts) -> Verdict:
    if not facts.called:
        return _open(tr("the call home did not come"))
    if facts.turn_ns is None:
        return _open(tr("nobody noted when the robot turned"))
    if facts.turn_ns <= limit_ns:
        return KEPT
    if seconds(facts.turn_ns) == seconds(limit_ns):
        return _broken(tr("turned up to 0.1 s too late (limit {limit})", limit=seconds(limit_ns)))
    return _broken(tr(
        "turned {turn} after the call, not within {limit}", turn=seconds(facts.turn_ns), limit=seconds(limit_ns),
    ))


def _never(labels: Sequence[str], facts: Facts) -> Verdict:
    """Return whether nobody noted what must not be: like contacts, the scribe watches for it, so none noted is none."""
    found = []
    for label in labels:
        if count := facts.noted.count(label):
            found.append(trn("{label} {count} time", "{label} {count} times", count, label=label.replace("_", " ")))
    return _broken(", ".join(found)) if found else KEPT


def _broken(why: str) -> Verdict:
    return Verdict(clean=False, why=(why,))


def _open(why: str) -> Verdict:
    return Verdict(clean=None, why=(why,))


def seconds(ns: int) -> str:
    """Return the size of a time in nanoseconds as text in seconds, without its sign.

    >>> seconds(1_234_000_000), seconds(-300_000_000), seconds(20_000_000)
    ('1.2 s', '0.3 s', 'less than 0.1 s')
    """
    if 0 < abs(ns) < NS_PER_S // 20:
        return tr("less than 0.1 s")
    return f"{abs(ns) / NS_PER_S:.1f} s"


def contacts_text(inside: Sequence[Meeting], times: Iterable[WindowTime], title: str) -> str:
    """Return how contacts met the windows that were open at ``times``, as part of a sentence."""
    held_ns = sum(found.overlap_ns for found in inside)
    if len(inside) > 1:
        in_all = tr(", {held} in all", held=seconds(held_ns)) if held_ns else ""
        return tr("{count} contacts in {title}{in_all}", count=len(inside), title=title, in_all=in_all)
    if not held_ns:
        return tr("a touch in {title}", title=title)
    began_ns = inside[0].mark.begin_ns
    if any(window.begin_ns <= began_ns < window.end_ns for window in stretches(times)):
        return tr("a push of {held} in {title}", held=seconds(held_ns), title=title)
    return tr("you pushed {held} into {title}", held=seconds(held_ns), title=title)
