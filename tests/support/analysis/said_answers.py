"""Answers made by hand, with few figures, to hold sentences and headlines to."""

from tocsin.analysis.review.answer import Answer, Comparison, Figure, Review

FINE_TEXT = "Nothing new, and that is fine."


def compared(factor, first, second, value, low, high, *, verdict="better", less=None, outcome="break_off"):
    """Return the answer to what the lot compared: seconds of the second value less those of the first, with limits."""
    of = f"{factor}: {first} / {second}: {outcome}"
    return Answer(
        question="better",
        figures=(Figure(name="difference", of=of, unit="s", value=value, low=low, high=high, rounds=60),),
        comparisons=(Comparison(of=of, factor=factor, first=first, second=second, outcome=outcome, verdict=verdict,
                                less=less or (second if value < 0 else first), needed=20, pairs=30, named=True),),
    )  # fmt: skip


def slope(name, value, low, high, unit="s/round", question="tired", **facts):
    """Return an answer with one trend, with its limits."""
    figure = Figure(name=name, unit=unit, value=value, low=low, high=high, rounds=80, evenings=8)
    return Answer(question=question, figures=(figure,), **facts)


def trust(**counts):
    """Return what twenty rounds' records are like."""
    base = {"counted": 20, "lost": 0, "unmarked": 0, "unclear": 0, "repeated": 0, "signals_failed": 0} | counts
    figures = [
        Figure(name=name, unit="share" if name == "lost" else "rounds", value=n / 20, count=n, rounds=20)
        for name, n in base.items()
    ]
    return Answer(question="trust", figures=tuple(figures))


def review(*answers, trusted=True, evenings=3, scope="season"):
    """Return a review of these answers."""
    names = tuple(f"2031-02-0{day}" for day in range(1, evenings + 1))
    return Review(scope=scope, evenings=names, answers=answers, trusted=trusted)


def contacts(count, unclear=0):
    """Return contacts in so many of 20 rounds, of more of which only a video can tell."""
    low = 0.2 if count > 5 else 0.02
    return Answer(question="contact", figures=(
        Figure(name="contact", unit="share", value=count / 20, low=low, high=0.8, count=count, rounds=20,
               at_most=(count + unclear) / 20 if unclear else None),
    ))  # fmt: skip


def pushes(margin_low, on=0.35):
    """Return how early pushes ended, the low limit given in seconds, and the share still on as the window began."""
    return Answer(question="break_off", figures=(
        Figure(name="margin", unit="s", value=1.0, low=margin_low, high=2.0, rounds=20),
        Figure(name="on_at_lead", unit="share", value=on, low=on / 2, high=on + 0.2, rounds=20),
        Figure(name="surely_on", unit="share", value=0.05, low=0.0, high=0.2, rounds=20),
    ))  # fmt: skip


def homes(full, none):
    """Return in how many of 20 rounds robots were home, and not."""
    return Answer(question="home", figures=tuple(
        Figure(name=name, unit="share", value=count / 20, low=0.0, high=1.0, count=count, rounds=20)
        for name, count in (("home_full", full), ("home_half", 20 - full - none), ("home_none", none))
    ))  # fmt: skip


def beside(name, unit, match, practice, value, low, high):
    """Return figures of matches and practice, and their difference."""
    sides = [
        Figure(name=name, of=of, unit=unit, value=one[0] / one[1] if unit == "share" else one[0], rounds=one[1],
               count=one[0] if unit == "share" else None)
        for of, one in (("match", match), ("practice", practice))
    ]  # fmt: skip
    return (*sides, Figure(name=name, of="difference", unit=unit, value=value, low=low, high=high, rounds=69))
