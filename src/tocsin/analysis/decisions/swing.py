"""Compute when a sure choice beats the one with more points: ahead or behind in a close match. Pure.

With a projected lead m and a normal spread s of what is still to come, a choice that brings x points with the chance
p_x wins with the sum of p_x Phi((m + x) / s): a lead that moves at random from here on (H. Stern, Journal of the
American Statistical Association 89:1128, 1994).
"""

from collections.abc import Sequence
from statistics import NormalDist

Choice = Sequence[tuple[float, float]]             # points, and the chance of each; the rest brings 0 points

SPREAD = 12.0                          # points: taken where no scores are known, and said so
_NORMAL = NormalDist()
_FAR = 8                               # spreads beyond which any match is won or lost


def win_chance(choice: Choice, ahead: float, spread: float = SPREAD) -> float:
    """Return the chance to win with a choice, projected to be ``ahead`` by so many points without it, below 0 behind.

    Raises ValueError for a spread that is not above 0, or chances that are none.
    """
    rest = 1 - sum(chance for _, chance in choice)
    if not spread > 0:
        raise ValueError("a spread is above 0")
    if rest < -1e-9 or any(chance < 0 for _, chance in choice):
        raise ValueError("chances lie between 0 and 1, and so does their sum")
    return rest * _NORMAL.cdf(ahead / spread) + sum(
        chance * _NORMAL.cdf((ahead + points) / spread) for points, chance in choice
    )


def points_of(choice: Choice) -> float:
    """Return the points that a choice brings on average."""
    return sum(points * chance for points, chance in choice)


def swings(bold: Choice, sure: Choice, spread: float = SPREAD) -> tuple[float, ...]:
    """Return the leads in points, rising, at which both choices win equally often: there the better one changes."""
    # Loaded here: it takes a while, and a match has no use for it.
    from scipy.optimize import brentq

    def better(ahead: float) -> float:
        return win_chance(bold, ahead, spread) - win_chance(sure, ahead, spread)

    reach = _FAR * spread + max(abs(points) for points, _ in (*bold, *sure, (0.0, 0.0)))
    steps = 400
    places = [reach * (2 * step / steps - 1) for step in range(steps + 1)]
    values = [better(place) for place in places]
    return tuple(
        float(brentq(better, places[step], places[step + 1], xtol=1e-9))
        for step in range(steps)
        # Far out both are the same to the last bits.
        if values[step] * values[step + 1] < 0 and max(abs(values[step]), abs(values[step + 1])) > 1e-9
    )
