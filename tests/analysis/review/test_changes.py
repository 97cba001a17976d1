"""What was changed in a season: leads, the plan, what the lot deals; and the contacts before and after."""

import pytest

from tests.support.analysis.review_pages import team
from tests.support.analysis.review_rows import a_push, a_row
from tocsin.analysis.review.changes import changed_evenings, lead_changes
from tocsin.analysis.review.rounds import rounds_of
from tocsin.analysis.review.words.changes import change_words

DAYS = [f"2031-01-{day:02}" for day in (7, 9, 14, 16, 21, 23)]


def season(*evenings, rounds=4):
    """Return the rounds of evenings, of each of which is said what is not usual; a value may be a list, by rounds."""
    rows = []
    for day, facts in zip(DAYS, evenings, strict=False):
        for number in range(1, facts.get("rounds", rounds) + 1):
            own = {key: value[(number - 1) % len(value)] if isinstance(value, list) else value
                   for key, value in facts.items() if key != "rounds"}  # fmt: skip
            rows.append(a_row(number, evening=day, **own))
    return rounds_of(rows)


def said(rounds):
    return [(one.evening, [change_words(change) for change in one.changes]) for one in changed_evenings(rounds)]


CALLING = {"coach": ["calling", "silent"], "dealt_of": {"coach": 2}}


def setups(*names):
    return {"setup": list(names), "dealt_of": {"setup": len(names)}}


@pytest.mark.parametrize(("evenings", "sentences"), [
    ([{}, {"leads_s": {"break_off": 4.5}}], ["The lead went from 4 to 4.5 s."]),
    ([{"leads_s": {"break_off": 4.0, "home": 20.0}}, {"leads_s": {"break_off": 4.0, "home": 18.5}}],
     ["The lead home went from 20 to 18.5 s."]),
    ([{}, {"plan": "Quiet"}], ["The plan was Quiet, before that Full."]),
    ([{}, CALLING], ["From here on the lot dealt coach calling; coach silent."]),
    ([CALLING, {}], ["The lot no longer dealt coach calling; coach silent."]),
    ([setups("edge", "middle"), setups("edge", "far", "middle")],
     ["The lot dealt edge; far; middle, before that edge; middle."]),
    ([setups("edge", "middle"), setups("far", "middle")], ["The lot dealt far; middle, before that edge; middle."]),
    ([{}, {"shift_s": [1.0, 0.0, -1.0], "dealt_of": {"shift_s": 3},
           "leads_s": [{"break_off": 5.0}, {"break_off": 4.0}, {"break_off": 3.0}]}],
     ["From here on the lot dealt called 1 s later; called as planned; called 1 s earlier."]),
    ([{}, {"late_start_s": [0.0, 1.0], "dealt_of": {"late_start_s": 2}}],
     ["From here on the lot dealt begun on time; begun 1 s late."]),
    ([{}, {"draw_out": ["none", "sound"], "dealt_of": {"draw_out": 2}}],
     ["From here on the lot dealt all signals; without sound."]),
    # Plans by lot, each with a lead of its own: neither plan nor lead was changed.
    ([{"plan": ["Full", "Quiet"], "plan_dealt": ["full", "quiet"], "dealt_of": {"plan_dealt": 2}, "rounds": n,
       "leads_s": [{"break_off": 4.0}, {"break_off": 3.0}]} for n in (4, 3)], []),
    ([{}, {}, {"leads_s": {"break_off": 4.5}, **CALLING}],
     ["The lead went from 4 to 4.5 s.", "From here on the lot dealt coach calling; coach silent."]),
])  # fmt: skip
def test_each_change_is_told_by_what_was_changed(evenings, sentences):
    found = said(season(*evenings))
    assert found == ([(DAYS[len(evenings) - 1], sentences)] if sentences else [])


def test_an_evening_that_ended_before_all_values_came_is_no_change():
    deals = setups("edge", "far", "middle")
    assert said(season(deals, {**deals, "rounds": 1}, deals)) == []
    assert said(season({**deals, "rounds": 1}, {**deals, "rounds": 2}, deals)) == []
    other = setups("edge", "far", "wall")
    assert said(season(deals, other, {**other, "rounds": 2})) == [
        (DAYS[1], ["The lot dealt edge; far; wall, before that edge; far; middle."])
    ]  # fmt: skip


def test_an_evening_with_a_shifted_call_alone_changed_no_lead():
    shifted = {"shift_s": 1.0, "dealt_of": {"shift_s": 2}, "leads_s": {"break_off": 5.0, "home": 21.0}}
    planned = {"shift_s": 0.0, "dealt_of": {"shift_s": 2}, "leads_s": {"break_off": 4.0, "home": 20.0}}
    assert said(season(planned, {**shifted, "rounds": 1}, planned)) == []


def test_contacts_before_and_after_are_those_between_two_changes():
    rows = [a_push(number, 3.0, evening=day, contacts=int(number <= touched), leads_s={"break_off": lead})
            for day, touched, lead in zip(DAYS, (3, 3, 3, 1, 1, 1), (3.0,) * 3 + (4.0,) * 3, strict=True)
            for number in range(1, 5)]  # fmt: skip
    (one,) = changed_evenings(rounds_of(rows))
    before, after = (answer.figure("contact") for answer in (one.before, one.after))
    assert (one.evening, before.count, before.rounds, after.count, after.rounds) == (DAYS[3], 9, 12, 3, 12)
    few = changed_evenings(rounds_of(rows[4:]))[0].before
    assert few.figures == ()
    assert [lack.figure for lack in few.lacking] == ["contact"]


def test_leads_of_a_whole_season_are_told_in_their_order():
    changes = lead_changes(rounds_of(team("twenty evenings")))
    assert [(one.before, one.after) for one in changes] == [((4.0,), (4.5,)), ((4.5,), (3.5,))]
