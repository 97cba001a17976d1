"""What counts as noticed: two right answers in a row, which no habit gives."""

from collections.abc import Callable
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from tocsin.channels.light.channel import colours_at
from tocsin.features.devices.tryout.forms import FORMS, Form, programme
from tocsin.features.devices.tryout.people import LeftError
from tocsin.features.devices.tryout.verdict import MOST_FIRINGS, DeviceOutcome, Question, find_out
from tocsin.model.plan import CHANNELS

NOTHING = "4"
channels = st.sampled_from(CHANNELS)
seeds = st.integers(0, 1 << 32)


class Person:
    """Somebody who answers by a rule: from the number of the form that was fired last to a key."""

    def __init__(self, rule: Callable[[str], str]) -> None:
        self.rule = rule
        self.fired: list[Form] = []
        self.said: list[str] = []

    def say(self, line: str) -> None:
        self.said.append(line)

    def ask(self, question, keys, turn=bool):
        key = self.rule(str(1 + [form.title for form in self.forms].index(self.fired[-1].title)))
        if key == "q":
            raise LeftError
        assert key in keys
        return None if turn() else key

    def judge(self, channel, seed, *, gone=bool) -> DeviceOutcome:
        self.forms = FORMS[channel]
        question = Question("What?", self.forms, lambda form: self.fired.append(form) or "", gone)
        return find_out(question, self, Random(seed))


@given(channels, seeds)
def test_who_names_two_in_a_row_has_noticed_it(channel, seed):
    person = Person(lambda right: right)
    assert person.judge(channel, seed).verdict == "confirmed"
    assert len({form.title for form in person.fired}) == 2


@given(channels, seeds, st.sampled_from("1234"))
def test_a_habit_is_never_confirmed(channel, seed, habit):
    person = Person(lambda right: habit)
    found = person.judge(channel, seed)
    assert found.verdict == "not_confirmed"
    assert len(person.fired) == (2 if habit == NOTHING else MOST_FIRINGS)


@given(channels, seeds, st.lists(st.sampled_from(["right", "wrong", NOTHING, "r"]), max_size=12))
def test_whatever_is_answered_it_is_confirmed_by_two_right_ones_in_a_row_alone(channel, seed, rules):
    given_rules = iter(rules)

    def rule(right: str) -> str:
        match next(given_rules, "right"):
            case "right":
                return right
            case "wrong":
                return "1" if right != "1" else "2"
            case key:
                return key

    found = Person(rule).judge(channel, seed)
    row = [answer.named == answer.fired for answer in found.answers]
    assert (found.verdict == "confirmed") == (row[-2:] == [True, True])
    assert [True, True] not in [row[k : k + 2] for k in range(len(row) - 2)], "it ends with the second one"


@given(channels, seeds)
def test_a_form_that_is_asked_for_again_is_the_same_one(channel, seed):
    keys = iter("rr")
    person = Person(lambda right: next(keys, right))
    assert person.judge(channel, seed).verdict == "confirmed"
    first, second, third, _ = person.fired
    assert first == second == third


def test_a_device_that_goes_away_is_lost_and_one_that_is_left_out_is_that():
    assert Person(lambda right: right).judge("light", 1, gone=lambda: True).verdict == "lost"
    assert Person(lambda right: "s").judge("light", 1).verdict == "left_out"


def test_forms_of_the_strip_are_told_apart_by_every_order_of_colours():
    # Two of three primary colours settle any order of three bytes: six orders, no two alike on them.
    pixels = {form.title: colours_at(form.pattern, 1, 0, 1.0)[0] for form in FORMS["light"]}
    for shown in ({"red", "green"}, {"green", "blue"}, {"red", "blue"}):
        orders = {tuple(order[pixels[title].index(max(pixels[title]))] for title in sorted(shown)) for order in ORDERS}
        assert len(orders) == 6


ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR")


def test_every_form_is_one_firing_of_a_sound_plan_and_says_no_word_that_could_be_taken_for_a_permission():
    for channel, forms in FORMS.items():
        for form in forms:
            timeline, _ = programme(channel, form, ["coach"])
            assert [firing.channel for firing in timeline.firings] == [channel]
            assert form.word.lower() not in ("stop", "go", "clear", "ready", "set", "safe")
