"""The rule of a match follows from its game: what is charged is to be kept off, what is paid for is due."""

from msgspec.structs import replace

from tests.support.analysis.rehearsal_games import FOUNDRY
from tocsin.analysis.rounds.match_rule import match_rule
from tocsin.config.load import load
from tocsin.model.drill import Clean
from tocsin.model.game import Stake

NO_CONTACTS = "Contacts are not judged: in this game they cost nothing."
NO_HOME = "Home is not judged: this game pays nothing for it."


def game(*stakes, **rest):
    return replace(FOUNDRY, stakes=stakes, **rest)


def contact(**rest):
    return Stake(**{"id": "contact", "title": "Touch", "points": 15, "to": "opponents", "during": "late", **rest})


def home(counts="home", **rest):
    return Stake(**{"id": "back", "title": "Back", "points": 18, "to": "us", "counts": counts, **rest})


def test_contacts_are_kept_out_of_each_window_that_charges_them_once_and_home_is_due_at_the_end():
    spilled, early = contact(id="spilled", counts="contact"), contact(id="b", counts="contact", during="early")
    found = match_rule(game(contact(), spilled, early, home()))
    assert found.rule == Clean(keep_off=("late", "early"), home_ns=0)
    assert (found.half_home, found.unjudged) == (False, ())


def test_half_home_is_enough_where_it_is_paid_for():
    assert match_rule(game(contact(), home(), home("home_half", id="half"))).half_home
    assert match_rule(game(contact(), home("home_half"))).rule.home_ns == 0


def test_what_a_game_does_not_charge_or_pay_for_is_not_judged_and_said():
    assert match_rule(game(contact())).unjudged == (NO_HOME,)
    assert match_rule(game(home())).unjudged == (NO_CONTACTS,)
    found = match_rule(game())
    assert (found.rule, found.unjudged) == (Clean(), (NO_CONTACTS, NO_HOME))


def test_contacts_of_others_or_that_bring_us_points_or_that_cost_at_any_time_ask_for_no_window():
    assert match_rule(game(contact(by=("opponent",)), home())).unjudged == (NO_CONTACTS,)
    assert match_rule(game(contact(to="us"), home())).unjudged == (NO_CONTACTS,)
    always = match_rule(game(contact(during=""), home()))
    assert always.rule.keep_off == ()
    assert always.unjudged == ("Contacts are not judged: in this game they cost points at any time.",)


def test_the_bundled_games():
    bells = match_rule(load(None, ["full"], "nothing").game)
    assert bells == (Clean(keep_off=("no_contact",), home_ns=0), True, ())
    assert match_rule(load(None, ["words"], "nothing").game).rule == Clean()
