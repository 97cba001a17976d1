"""The rule by which a match is judged, which no file states: it follows from what the game charges and pays for.

A match is clean if our robot touched nobody while that costs points, and was home by the end. A game that charges no
contact, or pays nothing for coming home, judges less, and says so.
"""

from typing import NamedTuple

from tocsin.analysis.rounds.stakes import HALF, HOME
from tocsin.model.drill import Clean
from tocsin.model.game import Game, Stake
from tocsin.model.mark import CONTACT
from tocsin.translation import tr

SILENT = tr("this game has no points for contacts or for home")


class MatchRule(NamedTuple):
    """A match's rule: ``half_home`` whether half home is home enough, ``unjudged`` what is not judged and why, as
    sentences for people."""

    rule: Clean
    half_home: bool
    unjudged: tuple[str, ...]


def match_rule(game: Game) -> MatchRule:
    """Return the rule of a game's matches.

    Contacts are to be kept out of the windows in which the game charges our own for them. Home is due by the end of the
    match, if the game pays for it; half home is enough where that is paid for too, since a plan may choose the sure
    half.
    """
    charged = [stake for stake in game.stakes if stake.label == CONTACT and stake.to == "opponents" and _is_ours(stake)]
    paid = {stake.label for stake in game.stakes if stake.to == "us" and _is_ours(stake)}
    keep_off = tuple(dict.fromkeys(stake.during for stake in charged if stake.during))
    home = bool(paid & {HOME, HALF})
    unjudged = []
    if not charged:
        unjudged.append(tr("Contacts are not judged: in this game they cost nothing"))
    elif not keep_off:
        unjudged.append(tr("Contacts are not judged: in this game they cost points at any time"))
    if not home:
        unjudged.append(tr("Home is not judged: this game pays nothing for it"))
    rule = Clean(keep_off=keep_off, home_ns=0 if home else None)
    return MatchRule(rule, HALF in paid, tuple(f"{one}." for one in unjudged))


def _is_ours(stake: Stake) -> bool:
    return "us" in stake.by
