"""Every claim of a season's review and of advice, in worlds where the truth is known: a row each, with its figure.

    python -m tests.benchmarks.season_table [--seasons N] [--from SEED] [--only PART]

A row says the world, what was found, and what is asked; it ends in "<" where that is missed, in "?" where so few
seasons cannot tell. Season n has the seed n, so that parts of a long run (`--from`) can be added up. Worlds: (a) as
assumed, (b) evenings differ, (c) other distributions, (d) learning and fatigue, (e) scribes and lost marks, (f) pushes
never ended, (g) crews swapped and rounds repeated, (h) a clock that is late, (i) an earlier call used up, (j) nothing
differs, (k) a lead changed, (l) matches slower, (m) one evening, no contact, only contact. Whole seasons take about a
third of a second each on a quiet laptop: `--seasons 100` for all parts some fifteen minutes. What is asked of pure
statistics alone stands in `season_coverage.py`, of advice in `advice_teams.py`, of speed in `run_rows.py`.
"""

import argparse
from collections.abc import Iterator

import numpy as np
from msgspec.structs import replace

from tests.benchmarks import advice_teams, season_coverage
from tests.support.analysis.advice_seasons import ASKED_WORLDS, advised
from tests.support.analysis.season_claims import (
    at_least,
    at_most,
    biases,
    coverage,
    pages,
)
from tests.support.analysis.season_trends import odd_evenings
from tests.support.analysis.season_trends import trends as trends_of
from tests.support.analysis.season_worlds import PLAIN, WORLDS, Matches, World
from tocsin.analysis.decisions.choice import Records, refusal_of
from tocsin.analysis.decisions.worth import worth_of

NULL = WORLDS["j nothing differs"]._replace(crews=PLAIN.crews)
TRUE_S = 0.3


def limits(seeds) -> Iterator[str]:
    """95 % limits hold in 92 to 99 % (8 evenings; a b c d f), nine in ten in 90 % (a, b .05, c)."""
    for name in WORLDS:
        if name[0] not in "abcdf":
            continue
        found = coverage(WORLDS[name]._replace(evenings=8), seeds)
        for figure in ("contact", "break_off", "on_at_lead"):
            one = found[figure]
            yield _row(name, f"{figure} held in {one.percent:5.1f} of {one.told}, width {one.width:.2f}",
                       "92 to 99", one.held, one.told, least=92, most=99)  # fmt: skip
        nine = found["nine in ten"]
        asked = 90 if name[0] in "ac" or name.endswith(".05") else None
        yield _row(name, f"nine in ten held in {nine.percent:5.1f} of {nine.told}", f"{asked or '-'}", nine.held,
                   nine.told, least=asked)  # fmt: skip
        plain = found["Wilson"]
        yield _row(name, f"beside it Wilson's of all rounds held in {plain.percent:5.1f}", "-", plain.held, plain.told)


def null(seeds) -> Iterator[str]:
    """A season in which nothing differs: 16 evenings, "better" falsely; "no difference" falsely where 0.3 s is true."""
    for name, world in (
        ("j nothing differs", NULL), ("j two crews", WORLDS["j nothing differs"]), ("g swapped, repeated",
        WORLDS["g swapped, repeated"]), ("d learning, fatigue", WORLDS["d learning, fatigue"]),
    ):  # fmt: skip
        seasons = seeds if world is NULL else seeds[: max(1, len(seeds) // 4)]
        found = [pages(world, seed, last=True) for seed in seasons]
        for what, count in (
            ("the question of the month", sum(one.named for one in found)),
            ("anything at all", sum(one.named or one.beside for one in found)),
        ):
            text = f'"better" of {what} in {count} of {len(found)} (at most {at_most(count, len(found)):.1f})'
            yield _row(name, text, "at most 6 by its upper limit", count, len(found), most=6)
        held = sum(one.held for one in found)
        text = f"limits held on all pages in {100 * held / len(found):5.1f}"
        yield _row(name, text, "95", held, len(found), least=95)
    found = [pages(NULL._replace(calling_s=TRUE_S), seed, last=True) for seed in seeds]
    none = sum(one.none for one in found)
    yield _row("j but 0.3 s", f'"no difference" in {none} of {len(found)} (at most {at_most(none, len(found)):.1f})',
               "at most 6 by its upper limit", none, len(found), most=6)  # fmt: skip
    better = sum(one.named for one in found)
    yield _row("j but 0.3 s", f'"better", rightly, in {100 * better / len(found):.1f}', "-", better, len(found))


def interval(seeds) -> Iterator[str]:
    """Limits at any time hold on all pages in 95 % where 0.3 s are true (a c d g), a page after each evening."""
    for name in WORLDS:
        if name[0] in "acdg":
            found = [pages(WORLDS[name]._replace(calling_s=TRUE_S), seed) for seed in seeds]
            held = sum(one.held for one in found)
            # What went wrong is played again, and its block left out: that takes a part of a true difference away.
            asked = None if name[0] == "g" else 95
            yield _row(name, f"held in {100 * held / len(found):5.1f} of {len(found)}", f"{asked or '-'}", held,
                       len(found), least=asked)  # fmt: skip


def power(seeds) -> Iterator[str]:
    """How many pairs it takes: within 15 % of what is promised (a)."""
    yield from season_coverage.power(10 * len(seeds))
    for true_s in (0.5, 1.0):
        world = World(calling_s=true_s)
        found = [pages(world, seed).pairs for seed in seeds]
        known = [one for one in found if one is not None]
        text = f"{true_s} s by whole pages: in {len(known)} of {len(found)} seasons"
        yield _row("a plain", f"{text}, after {np.median(known):.0f} pairs in the middle" if known else text, "-", 1, 1)


def bias(seeds) -> Iterator[str]:
    """Marks lost or never ended: the middle is off by less than 0.1 s, or both extremes are told (e f)."""
    for name in WORLDS:
        if name[0] in "ef":
            off_s, share, flagged = biases(WORLDS[name]._replace(evenings=8), seeds)
            good = abs(off_s) < 0.1 or flagged > 0.5
            yield (
                f"{name:>24} | middle off by {off_s:+.3f} s, sure contacts by {share:+.3f}, extremes told in "
                f"{100 * flagged:.0f} % | asked: 0.1 s{'' if good else ' <'}"
            )


def advice(seeds) -> Iterator[str]:
    """Advice from rows of whole seasons: harmful in at most 5 % (3 from 72 pushes on), worlds with their truth."""
    for name, world in ASKED_WORLDS.items():
        for evenings in (3, 8):
            for worth in (0.0, 1.1):
                one = advised(world, evenings, worth, seeds)
                most = 3 if evenings == 8 else 5
                codes = ", ".join(f"{code} {count}" for code, count in sorted(one.refused.items()))
                text = (
                    f"{evenings} evenings, worth {worth} | speaks {one.spoken}, harmful {one.harmful} of {one.teams}, "
                    f"holds {one.held} | {codes}"
                )
                yield _row(name, text, f"harmful at most {most}", one.harmful, one.teams, most=most)


def chances(seeds) -> Iterator[str]:
    """The chance of contact that is told against what came: slope .8 to 1.2 (a b c)."""
    for name, slope, teams in advice_teams.calibration(len(seeds)):
        good = 0.8 <= slope <= 1.2
        yield f"{name:>24} | slope {slope:.2f} over {teams} teams | asked: 0.8 to 1.2{'' if good else ' <'}"


def odd(seeds) -> Iterator[str]:
    """Odd rounds are marked as often as the page itself says, within a fifth, where nothing is odd."""
    yield from season_coverage.odd(len(seeds))


def trends(seeds) -> Iterator[str]:
    """Tiredness, batteries, learning, matches: limits of the last page hold in 92 % (d j l); and of all pages?"""
    matches = tuple(Matches(evening, 2) for evening in range(3, 16, 2))
    learning = WORLDS["d learning, fatigue"]._replace(uneven=True)
    for name, world, true in (
        ("j nothing differs", World(uneven=True, matches=matches), {}),
        ("d learning, fatigue", learning, {"by_round": 0.02, "learning": 10}),
        ("d weak batteries", World(uneven=True, battery_s=0.05), {"by_battery": 0.05}),
        ("l matches slower", WORLDS["l matches slower"]._replace(matches=matches), {"break_off": 0.6}),
    ):
        for figure, told in trends_of(world, seeds, true, each=not true).items():
            # Of other figures the truth is not 0 where drivers learn, or matches differ.
            if true and figure not in true:
                continue
            held = f"held in {told.percent:.1f} of {told.told}"
            text = f"{figure}: true {true.get(figure, 0.0)}, told {told.mean:.3f}, {held}"
            if not true:
                text += f"; of all pages some one left 0 out in {100 * told.any / len(seeds):.0f} % of seasons"
            yield _row(name, text, "92", told.held, told.told, least=92)
    came, said, evenings = odd_evenings(PLAIN, seeds)
    text = f"odd rounds on {100 * came:.1f} % of {evenings} evenings, pages say {100 * said:.1f}"
    yield f"{'a plain':>24} | {text} | asked: within a fifth{'' if abs(said / came - 1) <= 0.2 else ' ?'}"


def teams(seeds) -> Iterator[str]:
    """Advice to teams whose best lead is known: it speaks, it harms, its 80 % interval holds (a b c e f h)."""
    for name, world in advice_teams.WORLDS.items():
        for pushes in (24, 72):
            for worth in (0.0, 0.6, 1.1):
                yield advice_teams.row(name, world, pushes, worth, len(seeds))[0]


def refusals(_) -> Iterator[str]:
    """Refusals by records alone (the others are reached by teams above): frozen on day 7, not on day 8 (m)."""
    plain = Records(pushes=24, evenings=3)
    for changed, asked in (
        ({}, None), ({"days_to_event": 7}, "frozen"), ({"days_to_event": 8}, None), ({"pushes": 23}, "too few"),
        ({"evenings": 2}, "too few"), ({"old": 0.51}, "too few"), ({"uncounted": 0.34}, "bad records"),
        ({"clock_spread_s": 0.36}, "bad records"), ({"unknown": 0.21}, "bad records"),
        ({"evenings_since_change": 1}, "not settled"), ({"evenings_since_change": 2}, None),
    ):  # fmt: skip
        code = refusal_of(replace(plain, **changed))
        yield f"{changed or 'enough of all'!s:>24} | {code} | asked: {asked}{'' if code == asked else ' <'}"


def worth(seeds) -> Iterator[str]:
    """What more rounds are worth, against truth drawn first and rounds on top of it: within a fifth (a)."""
    for mean, spread, rounds, more in ((0.4, 0.5, 40, 24), (0.1, 0.5, 40, 24), (-0.2, 0.6, 20, 48), (0.0, 0.3, 60, 96)):
        rng = np.random.default_rng(more + rounds)
        noise = spread * rounds**0.5
        true = rng.normal(mean, spread, 4000 * len(seeds))
        after = (rounds * mean + more * rng.normal(true, noise / more**0.5)) / (rounds + more)
        came = np.where(after > 0, true, 0).mean() - max(mean, 0)
        said = worth_of(mean, spread, rounds, more).worth
        good = abs(said / came - 1) <= 0.2
        text = f"gain {mean} ± {spread} by {rounds} rounds, {more} more | said {said:.4f}, came {came:.4f}"
        yield f"{'a plain':>24} | {text} | asked: within a fifth{'' if good else ' <'}"


PARTS = {"null": null, "limits": limits, "interval": interval, "power": power, "odd": odd, "bias": bias,
         "trends": trends, "teams": teams, "advice": advice, "chances": chances, "refusals": refusals,
         "worth": worth}  # fmt: skip


def _row(world, text, asked, count, of, *, least=None, most=None):
    """Return a row; it is missed if even what so few seasons leave open lies beyond what is asked."""
    mark = ""
    if least is not None and 100 * count < least * of:
        mark = " <" if at_most(count, of) < least else " ?"
    elif most is not None and (at_most(count, of) if "upper" in asked else 100 * count / of) > most:
        mark = " <" if (at_least(count, of) > most or "upper" in asked) else " ?"
    return f"{world:>24} | {text} | asked: {asked}{mark}"


def main():
    """Print the rows, each as it comes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seasons", type=int, default=100, help="seasons of each world (100)")
    parser.add_argument("--from", type=int, default=0, dest="first", help="the first season (0)")
    parser.add_argument("--only", choices=PARTS, help="one part of the table")
    arguments = parser.parse_args()
    seeds = range(arguments.first, arguments.first + arguments.seasons)
    for name, part in PARTS.items():
        if arguments.only in (None, name):
            print(f"-- {name}: {(part.__doc__ or '').strip()}", flush=True)
            for row in part(seeds):
                print(row, flush=True)


if __name__ == "__main__":
    main()
