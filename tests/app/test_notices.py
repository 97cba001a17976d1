"""How long a notice stands: its time, until the next one, or with the phase that it is about."""

from tocsin.app.notices import BRIEFLY_NS, LASTS_NS, Notices

NOW_NS = 1_000


def test_notice_stands_for_its_time():
    notices = Notices()
    assert notices.at(NOW_NS, "standby") == ""
    notices.put("light: lost", NOW_NS)
    assert notices.at(NOW_NS + LASTS_NS - 1, "running") == "light: lost"
    assert notices.at(NOW_NS + LASTS_NS, "running") == ""


def test_next_notice_takes_its_place():
    notices = Notices()
    notices.put("cannot hold", NOW_NS, phase="running")
    notices.put("contact noted", NOW_NS, BRIEFLY_NS)
    assert notices.at(NOW_NS + BRIEFLY_NS - 1, "over") == "contact noted"
    assert notices.at(NOW_NS + BRIEFLY_NS, "over") == ""


def test_what_is_about_a_phase_goes_with_it():
    notices = Notices()
    notices.put("scrap the match before you leave", NOW_NS, phase="running")
    assert notices.at(NOW_NS, "running") == "scrap the match before you leave"
    assert notices.at(NOW_NS, "scrapped") == ""
