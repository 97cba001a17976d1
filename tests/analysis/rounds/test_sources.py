"""Who noted a time, and how much later a key noted the end of a push than a video."""

import pytest

from tests.support.analysis.rehearsal_games import ns, push, undo
from tocsin.analysis.rounds.sources import noted_by, scribe_lags_ns, time_noted_by
from tocsin.units import NS_PER_MS as MS


def keyed(begin_s, end_s, **more):
    return push(begin_s, end_s, source="key 7", **more)


def seen(begin_s, end_s, **more):
    return push(begin_s, end_s, source="video", error_ns=200 * MS, **more)


def test_a_mark_is_noted_by_key_later_or_video():
    sources = ("key 7", "pad RB", "page key 7", "", "later", "video", "observed")
    assert [noted_by(push(1, 2, source=one)) for one in sources] == ["key"] * 4 + ["later", "video", "video"]
    assert noted_by(push(1, 2, source="board 2, key 7")) == "key"
    assert noted_by(push(1, 2, source="later, observed")) == "later"
    marks = [keyed(1, 2), seen(3, 4, by="opponent")]
    assert [time_noted_by(marks, ns(at_s)) for at_s in (1, 2, 3, 5)] == ["key", "key", "", ""]


@pytest.mark.parametrize(
    ("marks", "lags_ms"),
    [
        ([keyed(110.5, 117.2), seen(110, 116.5)], [700]),
        ([keyed(110.5, 116.4), seen(110, 116.5)], [-100]),                         # a video is off by 0.2 s too
        ([keyed(100.5, 103.4), keyed(110.5, 117.2), seen(110, 116.5), seen(100, 103)], [400, 700]),
        ([keyed(110.5, 117.2), seen(110, 116.5), seen(118, 119)], [700]),          # one that the scribe missed
        ([keyed(110.5, 112.2), keyed(113, 117), seen(110, 116.5)], []),            # two for one: nobody knows which
        ([keyed(110.5, 117.2), seen(110, 113), seen(114, 116.5)], []),
        ([keyed(110.5, 117.2), seen(110, 116.5, by="opponent")], []),
        ([keyed(110.5, 117.2, by="partner"), seen(110, 116.5, by="partner")], [700]),
        ([keyed(100.5, 103.4), seen(110, 116.5)], []),
        ([keyed(110.5, 117.2), push(110, 116.5, source="later")], []),
        ([keyed(110.5, 117.2), seen(110, 116.5), undo(0)], []),
        # Two scribes at once: the latest end counts, as in a result.
        ([keyed(110.5, 117.2), push(110.3, 117.4, source="board 1"), seen(110, 116.5)], [900]),
        ([], []),
    ],
)
def test_a_lag_is_the_end_of_a_push_by_key_minus_that_by_video(marks, lags_ms):
    assert [round(lag / MS) for lag in scribe_lags_ns(marks)] == lags_ms
