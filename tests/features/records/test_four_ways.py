"""One match gives one result, whoever recorded it: the keys of a run, a video, a robot's log, an exported page."""

import pytest

from tests.support.people.four_ways import END_S, HOME_S, Press, Watched, as_page, as_robot, as_run, as_video, page_data
from tocsin.units import NS_PER_S as S

HUNDREDTH = 0.005


@pytest.fixture
def results(tmp_path, monkeypatch, capsys):
    """Return the results of a match by the four ways."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))

    def judged(watched):
        folders = {}
        for name in ("run", "video", "robot", "page"):
            (tmp_path / name).mkdir()
            folders[name] = tmp_path / name
        return {
            "run": as_run(folders["run"], watched),
            "video": as_video(folders["video"], watched),
            "robot": as_robot(folders["robot"], watched),
            "page": as_page(folders["page"], page_data(watched)),
        }

    return judged


def press(label, begin_s, end_s=None):
    return Press(label, round(begin_s * S), None if end_s is None else round(end_s * S))


def watched(*presses, called_s=HOME_S + 0.004):
    return Watched(presses, round(called_s * S))


def test_contacts_margins_home_and_points_are_one(results):
    found = results(
        watched(
            press("contact", 109.51, 116.62), press("turned", 116.03), press("contact", 121.2, 123.45),
            press("home", 128.37),
        )
    )  # fmt: skip
    wanted = {
        "contacts": 1, "contact_s": 2.25, "break_off_margin_s": 1.38, "turn_s": 2.026, "home": "home",
        "home_margin_s": END_S - 128.37, "way_s": 12.34, "clean": False,
    }  # fmt: skip
    for name, one in found.items():
        told = one.figures
        assert {key: told[key] for key in wanted} == pytest.approx(wanted, abs=HUNDREDTH), name
        assert told == pytest.approx(found["run"].figures, abs=HUNDREDTH), name
        assert one.unknown == found["run"].unknown, name
    assert found["run"].figures["cost_points"] > 0
    assert found["run"].figures["gain_points"] > 0


@pytest.mark.parametrize(
    "happened",
    [
        watched(press("contact", 109.5, 116.6)),
        watched(press("turned", 116.0), press("home", 128.0), press("home", 128.9)),
    ],
    ids=["nobody noted turn or home", "half home by two taps"],
)
def test_what_is_not_known_is_one_too(results, happened):
    found = results(happened)
    for name, one in found.items():
        assert one.figures == pytest.approx(found["run"].figures, abs=HUNDREDTH), name
        assert one.unknown == found["run"].unknown, name


def test_nobody_marked_this_by_whatever_way(results):
    found = results(watched())
    assert {name: (one.figures["clean"], one.unknown["watched"]) for name, one in found.items()} == dict.fromkeys(
        found, (None, False)
    )
    assert {one.unknown["why"] for one in found.values()} == {found["run"].unknown["why"]}


def test_a_push_whose_key_is_down_at_the_end_is_open_on_both_sides_of_the_keys(tmp_path):
    happened = watched(Press("contact", round(109.5 * S), open=True), press("home", 128.0))
    found = {name: tmp_path / name for name in ("run", "page")}
    for folder in found.values():
        folder.mkdir()
    run, page = as_run(found["run"], happened), as_page(found["page"], page_data(happened))
    assert page.unknown == run.unknown
    assert run.unknown["open"] == [("contact", "")]
    assert page.figures == pytest.approx(run.figures, abs=HUNDREDTH)


def test_what_a_key_cannot_tell_a_video_may(results):
    """A touch 0.5 s before the window: a scribe notes it to within 0.8 s, a video to within 0.2 s."""
    found = results(watched(press("contact", 117.0, 117.5), press("home", 128.0)))
    unclear = {name: one.unknown["unclear"] for name, one in found.items()}
    assert unclear["run"] == unclear["page"] == [("contact", "unclear")]
    assert unclear["video"] == unclear["robot"] == []
    for name, one in found.items():
        assert one.figures["break_off_margin_s"] == pytest.approx(0.5, abs=HUNDREDTH), name
        assert one.figures["home_margin_s"] == pytest.approx(8.0, abs=HUNDREDTH), name
