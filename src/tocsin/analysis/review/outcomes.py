"""Answer in how many rounds our robot touched somebody while that costs points."""

from tocsin.analysis.review.answer import Answer, Figure
from tocsin.analysis.review.rounds import Rounds, evening_of, lacking
from tocsin.analysis.seasons.season_share import season_share
from tocsin.analysis.shares import wilson

FEWEST_EVENINGS = 3                    # of a season's share


def contact_answer(rounds: Rounds, *, season: bool = False) -> Answer:
    """Return the share of rounds with a contact. Where only a video can tell of some, the limits reach from none of
    them having had one to all of them."""
    known = [row for row in rounds.count if row.contacts is not None]
    counts: dict[str, tuple[int, int, int]] = {}
    for row in known:
        sure, unclear = bool(row.contacts), not row.contacts and bool(row.contacts_unclear)
        x, u, n = counts.get(evening_of(row), (0, 0, 0))
        counts[evening_of(row)] = (x + sure, u + unclear, n + 1)
    fewest = FEWEST_EVENINGS if season else 1
    if rounds.count and not known:
        return Answer(question="contact")              # what was played charges no contact
    if len(counts) < fewest:
        return Answer(
            question="contact",
            lacking=(lacking("contact", "contact", "evenings", have=len(counts), need=fewest, evenings=len(counts)),)
            if season else (lacking("contact", "contact", "rounds", have=0, need=1, evenings=0),),
        )  # fmt: skip
    x, u, n = (sum(column) for column in zip(*counts.values(), strict=True))
    if season:
        low = season_share([(one, all_) for one, _, all_ in counts.values()]).low
        high = season_share([(one + open_, all_) for one, open_, all_ in counts.values()]).high
    else:
        low, high = wilson(x, n).low, wilson(x + u, n).high
    figure = Figure(
        name="contact", unit="share", value=x / n, at_most=(x + u) / n if u else None, low=low, high=high, count=x,
        rounds=n, evenings=len(counts),
    )  # fmt: skip
    return Answer(question="contact", figures=(figure,))
