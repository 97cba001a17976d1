"""How long a notice stands: its time, until the next one, or with the phase that it is about."""

from hypothesis import given
from hypothesis import strategies as st

from tocsin.runner.notices import ANSWER, BRIEFLY_NS, LASTS_NS, MOST_EARLIER, Notices

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
    notices.put("cancel the match before you leave", NOW_NS, phase="running")
    assert notices.at(NOW_NS, "running") == "cancel the match before you leave"
    assert notices.at(NOW_NS, "scrapped") == ""


def test_in_standby_those_before_the_newest_stand_too():
    """A plan was loaded anew, then a worker started again: both have to be known before the match."""
    notices = Notices()
    notices.put("reloaded: Full (home 1 s later)", NOW_NS, replace_key="reloaded")
    notices.put("sound: worker started again (1)", NOW_NS + 1, replace_key="sound")
    assert notices.at(NOW_NS + 1, "standby") == "sound: worker started again (1)"
    assert notices.earlier(NOW_NS + 1, "standby") == ("reloaded: Full (home 1 s later)",)
    assert notices.earlier(NOW_NS + LASTS_NS, "standby") == ()
    assert notices.earlier(NOW_NS + 1, "running") == ()


def test_a_brief_one_uncovers_what_was_known_before():
    notices = Notices()
    notices.put("loaded anew", NOW_NS)
    notices.put("contact undone", NOW_NS, BRIEFLY_NS, replace_key=ANSWER)
    after_ns = NOW_NS + BRIEFLY_NS
    assert (notices.at(after_ns, "standby"), notices.earlier(after_ns, "standby")) == ("", ("loaded anew",))


def test_the_next_on_a_topic_takes_its_place():
    notices = Notices()
    notices.put("sound: worker started again (1)", NOW_NS, replace_key="sound")
    notices.put("loaded anew", NOW_NS)
    notices.put("sound: worker started again (2)", NOW_NS, replace_key="sound")
    notices.put("sound: worker started again (2)", NOW_NS, replace_key="sound")
    assert notices.at(NOW_NS, "standby") == "sound: worker started again (2)"
    assert notices.earlier(NOW_NS, "standby") == ("loaded anew",)


def test_what_a_key_came_to_goes_with_the_next_key():
    notices = Notices()
    notices.put("fix it, then answer yes", NOW_NS, phase="standby", replace_key=ANSWER)
    notices.drop(ANSWER)
    assert (notices.at(NOW_NS, "standby"), notices.earlier(NOW_NS, "standby")) == ("", ())


@given(st.lists(st.tuples(st.sampled_from("abcdef"), st.integers(1, 9)), max_size=12), st.integers(0, 20))
def test_what_shows_holds_and_is_told_once(put, later):
    """However many come: no more than are read, each of them once, and none beyond its time."""
    notices = Notices()
    for at, (replace_key, lasts) in enumerate(put):
        notices.put(f"{replace_key} {at + lasts}", at, lasts, replace_key=replace_key)
    now = len(put) + later
    shown = [text for text in (notices.at(now, "standby"), *notices.earlier(now, "standby")) if text]
    replace_keys = [text.split()[0] for text in shown]
    assert len(set(replace_keys)) == len(replace_keys) <= 1 + MOST_EARLIER
    assert all(int(text.split()[1]) > now for text in shown)
