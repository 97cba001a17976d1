"""Write the figures of a review for people: seconds to a tenth, shares as so many of 100."""

from tocsin.analysis.review.answer import Figure
from tocsin.translation import tr

#: What is said of a margin of 0.0 s: of home, and among limits.
HOME_ZERO = tr("as the match ended")
_ZERO = tr("0.0 s")


def seconds(value_s: float) -> str:
    """Return seconds to a tenth of one, without a sign.

    >>> seconds(-1.26), seconds(0.04)
    ('1.3 s', '0.0 s')
    """
    return f"{abs(value_s):.1f} s"


def tenth(value: float) -> float:
    """Return a number as it is printed, so that no sentence contradicts what stands in it; 0 has no sign."""
    return round(value, 1) + 0.0


def unclear_of(share: Figure) -> int:
    """Return of how many more rounds nobody can tell whether they belong to a share."""
    return 0 if share.at_most is None else round(share.at_most * share.rounds) - (share.count or 0)


def early(margin_s: float, zero: str = tr("as the window began")) -> str:
    """Return a margin: so long early, or late; ``zero`` is said of 0.0 s, which is no success."""
    shown = tenth(margin_s)
    if not shown:
        return zero
    return tr("{seconds} early", seconds=seconds(shown)) if shown > 0 else tr("{seconds} late", seconds=seconds(shown))


def limits_of_100(figure: Figure) -> str:
    """Return the limits of a share: ``11 to 60 of 100``."""
    low, high = (round(100 * (0 if limit is None else limit)) for limit in (figure.low, figure.high))
    return tr("{low} to {high} of 100", low=low, high=high)


def limits_early(figure: Figure) -> str:
    """Return the limits of a margin, from the latest to the earliest."""
    if figure.low is None or figure.high is None:
        known = figure.high if figure.low is None else figure.low
        return tr("nobody knows how late") if known is None else (
            tr("{margin} at most, nobody knows how late", margin=early(known, _ZERO)) if figure.low is None
            else tr("{margin} at least", margin=early(known, _ZERO))
        )
    late_s, early_s = tenth(figure.low), tenth(figure.high)
    if late_s > 0:
        return tr("{from_s:.1f} to {to_s:.1f} s early", from_s=late_s, to_s=early_s)
    if early_s < 0:
        return tr("{from_s:.1f} to {to_s:.1f} s late", from_s=-early_s, to_s=-late_s)
    return tr("{late} to {early}", late=early(late_s, _ZERO), early=early(early_s, _ZERO))


def limits_s(figure: Figure) -> str:
    """Return the limits of a time in seconds."""
    if figure.low is None or figure.high is None:
        return tr("nobody knows how long") if figure.low is None else tr("{low} or longer", low=seconds(figure.low))
    return tr("{low:.1f} to {high}", low=tenth(figure.low), high=seconds(figure.high))


def tenths(value: float) -> str:
    """Return a number to a tenth, as it is printed in means."""
    return f"{tenth(value):.1f}"


def points(value: float) -> str:
    """Return points, to a tenth of one where they are no whole number.

    >>> points(40.0), points(1.26)
    ('40', '1.3')
    """
    return f"{tenth(value):.0f}" if tenth(value) == round(value) else f"{tenth(value):.1f}"


def amount(figure: Figure) -> str:
    """Return a mean of points with its limits, if it has some, and with what is unclear."""
    value, most = tenths(figure.value or 0.0), None if figure.at_most is None else tenths(figure.at_most)
    if figure.low is None or figure.high is None:
        return tr("{value} points", value=value) if most is None else (
            tr("{value} points, with what is unclear up to {most}", value=value, most=most)
        )
    limits = tr("{low} to {high}", low=tenths(figure.low), high=tenths(figure.high))
    return tr("{value} points ({limits})", value=value, limits=limits) if most is None else (
        tr("{value} points, with what is unclear up to {most} ({limits})", value=value, most=most, limits=limits)
    )


def gained_less_given(net: Figure) -> str:
    """Return what a round gains less what it costs: what is unclear may have been either."""
    if net.at_most is None:
        return tr("Gained less given: {amount}.", amount=amount(net))
    words: dict[str, object] = {"least": tenths(net.value or 0.0), "most": tenths(net.at_most)}
    if net.low is None or net.high is None:
        return tr("Gained less given: {least} points if all that is unclear went badly, {most} if well.", **words)
    return tr(
        "Gained less given: {least} points if all that is unclear went badly, {most} if well ({low} to {high}).",
        low=tenths(net.low), high=tenths(net.high), **words,
    )  # fmt: skip


def limits_sooner(limits: tuple[float | None, float | None]) -> str:
    """Return limits in seconds of how much sooner something is; below 0 it is later."""
    low, high = limits
    if low is None or high is None:
        return tr("by how much is not known")
    low_s, high_s = tenth(low), tenth(high)
    if low_s >= 0:
        return tr("{from_s:.1f} to {to_s:.1f} s", from_s=low_s, to_s=high_s)
    if high_s <= 0:
        return tr("{from_s:.1f} to {to_s:.1f} s later", from_s=-high_s + 0.0, to_s=-low_s)
    return tr("{later:.1f} s later to {sooner:.1f} s sooner", later=-low_s, sooner=high_s)


def percent(value: float) -> str:
    """Return by how many whole percent something is sooner, below 0 later."""
    shown = round(value)
    if not shown:
        return tr("neither sooner nor later")
    return tr("{percent} % sooner", percent=shown) if shown > 0 else tr("{percent} % later", percent=-shown)


def limits_percent(figure: Figure) -> str:
    """Return the limits of a change in percent."""
    if figure.low is None or figure.high is None:
        return tr("by how much is not known")
    low, high = round(figure.low), round(figure.high)
    if low >= 0:
        return tr("{low} to {high} %", low=low, high=high)
    if high <= 0:
        return tr("{low} to {high} % later", low=-high, high=-low)
    return tr("{later} % later to {sooner} % sooner", later=-low, sooner=high)


def limits_more(figure: Figure) -> str:
    """Return the limits of a difference of two shares: so many of 100 more, or fewer."""
    if figure.low is None or figure.high is None:
        return tr("by how much is not known")
    low, high = round(100 * figure.low), round(100 * figure.high)
    if low >= 0:
        return tr("{low} to {high} of 100 more", low=low, high=high)
    if high <= 0:
        return tr("{low} to {high} of 100 fewer", low=-high, high=-low)
    return tr("{fewer} of 100 fewer to {more} of 100 more", fewer=-low, more=high)
