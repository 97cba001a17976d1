"""From the records of blocks to answers, figures and words: held against figures that are worked out by hand here."""

import io
import json
import random
import statistics

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.image import imread

from tocsin.analysis.reactions.order import CATCH, Trial, order_of
from tocsin.analysis.reactions.scores import judge
from tocsin.analysis.reactions.words import NO_FORECAST, UNKNOWN_KEY
from tocsin.features.reactions.block import placed
from tocsin.features.reactions.files import BlockFacts, PlayedBlock, facts_of, heard_in, session_of, steered_in
from tocsin.features.reactions.picture import picture
from tocsin.features.reactions.result import NO_LOAD, PLAINLY, ReactResult, block_lines, result_of, short_lines
from tocsin.journal import records
from tocsin.units import NS_PER_MS, NS_PER_S

LIGHT, RUMBLE, BOTH = ("light",), ("rumble",), ("rumble", "light")
ORIGIN_NS = 500 * NS_PER_S
LATENCY_NS = {"rumble": 80 * NS_PER_MS, "light": 4 * NS_PER_MS}
STEERED = records.Note(at_ns=0, what="steering", text="mean=0.1200 alone=0.4600 lasts_s=300.000")


def facts(conditions, *, block=1, waits_s=(3.0,), latency_ns=LATENCY_NS):
    trials = [
        Trial(no=no, block=block, practice=not block, condition=c, wait_ns=round(waits_s[no % len(waits_s)] * NS_PER_S))
        for no, c in enumerate(conditions)
    ]  # fmt: skip
    return BlockFacts(
        key="11112222", person="0a0b0c0d", role="driver", seed=1, full=False, block=block, blocks=2, plan="Bench",
        plan_sha256="", trials=placed(trials), latency_ns=latency_ns,
    )  # fmt: skip


class Played:
    """A block as its records, written by hand: signals in time, and what is pressed when."""

    def __init__(self, about, *, rate=1.0):
        self.facts = about
        self.rate = rate
        self.records = [
            records.OriginRecord(
                at_ns=ORIGIN_NS - NS_PER_S, anchor="match", origin_ns=ORIGIN_NS, rate=rate, cause="start"
            )
        ]

    def lands_ns(self, no):
        return ORIGIN_NS + round(self.facts.trials[no].at_ns / self.rate)

    def fire(self, no, *channels, late_ms=0.0, outcome="played"):
        for channel in channels or self.facts.trials[no].trial.condition:
            late_ns = round(late_ms * NS_PER_MS) if outcome == "played" else None
            self.records.append(
                records.FiringRecord(
                    at_ns=self.lands_ns(no), cue=f"signal_{no}", n=0, channel=channel, anchor="match",
                    due_ns=self.facts.trials[no].at_ns, late_ns=late_ns, outcome=outcome,
                )
            )  # fmt: skip
        return self

    def fire_all(self):
        for no, one in enumerate(self.facts.trials):
            if one.trial.condition != CATCH:
                self.fire(no)
        return self

    def press(self, no, ms, **about):
        """Press ``ms`` after the moment of a trial."""
        at_ns = self.lands_ns(no) + round(ms * NS_PER_MS)
        self.records.append(records.MarkRecord(at_ns=at_ns, label="answer", begin_ns=at_ns, **about))
        return self

    @property
    def block(self):
        return PlayedBlock(self.facts, tuple(self.records))

    def outcomes(self):
        delays = session_of([self.block]).delays
        found = [judge(answer, delays) for answer in heard_in(self.block).answers]
        return [(one.outcome, None if one.ms is None else round(one.ms, 3)) for one in found]

    @property
    def outside(self):
        return heard_in(self.block).outside


# Answers.


def test_an_answer_counts_from_where_the_signal_lands():
    """The device is told its delay earlier, and a signal that came late began late."""
    played = Played(facts([LIGHT, RUMBLE])).fire(0).press(0, 250).fire(1, late_ms=12).press(1, 250)
    assert played.outcomes() == [("answer", 250), ("answer", 238)]


def test_only_the_first_press_in_a_window_counts():
    played = Played(facts([LIGHT])).fire_all().press(0, 420).press(0, 300).press(0, 1400)
    assert (played.outcomes(), played.outside) == ([("answer", 300)], 0)


def test_presses_outside_all_windows_are_false_starts_and_take_no_answer_away():
    played = Played(facts([LIGHT, LIGHT])).fire_all()
    played.press(0, -900).press(0, -1).press(0, 300).press(0, 1500).press(1, -40).press(1, 280)
    assert (played.outcomes(), played.outside) == ([("answer", 300), ("answer", 280)], 4)


@pytest.mark.parametrize(
    ("ms", "outcome"), [(0, "false_start"), (99, "false_start"), (100, "answer"), (1499, "answer")]
)
def test_a_press_right_after_the_signal_is_no_answer_to_it(ms, outcome):
    assert [found for found, _ in Played(facts([LIGHT])).fire_all().press(0, ms).outcomes()] == [outcome]


def test_who_presses_where_nothing_comes_is_caught():
    played = Played(facts([LIGHT, CATCH, CATCH])).fire_all().press(1, 700)
    assert (played.outcomes(), played.outside) == ([("missed", None), ("false_start", None), ("held", None)], 0)


def test_a_pair_begins_with_the_first_of_its_signals():
    """The strip came 30 ms late, so the pad was first; both count as given."""
    played = Played(facts([BOTH])).fire(0, "rumble").fire(0, "light", late_ms=30).press(0, 260)
    assert played.outcomes() == [("answer", 260)]
    assert judge(heard_in(played.block).answers[0], session_of([played.block]).delays).apart_ms == 30


@pytest.mark.parametrize("outcome", ["skipped", "failed"])
def test_a_signal_that_was_not_given_counts_nowhere(outcome):
    alone = Played(facts([LIGHT])).fire(0, outcome=outcome)
    pair = Played(facts([BOTH])).fire(0, "rumble").fire(0, "light", outcome=outcome).press(0, 240)
    assert [alone.outcomes(), pair.outcomes()] == [[("void", None)], [("void", None)]]
    assert "1 signals that a device did not give" in "".join(block_lines(pair.block))


def test_an_unknown_delay_is_part_of_the_time():
    played = Played(facts([LIGHT], latency_ns={})).fire_all().press(0, 250)
    assert played.outcomes() == [("answer", 250)]
    assert not session_of([played.block]).delays.known(LIGHT)


def test_marks_of_another_kind_or_taken_back_are_no_answers():
    played = Played(facts([LIGHT])).fire_all().press(0, 200)
    played.records.append(records.MarkRecord(at_ns=0, label="contact", begin_ns=played.lands_ns(0) + 150 * NS_PER_MS))
    played.press(0, 300, takes_back=0)
    assert played.outcomes() == [("missed", None)]


def test_a_key_that_never_came_up_is_an_answer_all_the_same():
    assert Played(facts([LIGHT])).fire_all().press(0, 210, open=True).outcomes() == [("answer", 210)]


def test_where_match_time_runs_faster_a_window_ends_with_the_next_signal():
    """At a rate of 10 the signals are 0.45 s apart."""
    played = Played(facts([LIGHT, LIGHT]), rate=10.0).fire_all().press(0, 460).press(1, 300)
    assert played.outcomes() == [("missed", None), ("false_start", None)]


def test_a_laptop_that_slept_moves_what_comes_after():
    """Its origin lies two seconds later from then on."""
    played = Played(facts([LIGHT, LIGHT])).fire(0).press(0, 250)
    slept_ns = played.lands_ns(0) + NS_PER_S
    later = records.OriginRecord(at_ns=slept_ns, anchor="match", origin_ns=ORIGIN_NS + 2 * NS_PER_S, cause="sleep")
    played.records.append(later)
    played.fire(1).press(1, 2250)
    assert played.outcomes() == [("answer", 250), ("answer", 250)]


def test_a_block_that_never_began_is_told_apart():
    with pytest.raises(ValueError, match="never began"):
        heard_in(PlayedBlock(facts([LIGHT]), ()))


# What a header says.


def test_facts_stand_in_a_header_and_come_back():
    about = facts([LIGHT, CATCH, BOTH])
    kept = json.loads(json.dumps({"rate": 1.0, "reaction": msgspec.to_builtins(about)}))
    assert facts_of(records.Header(at_ns=0, wall="", boot="", options=kept)) == about


@pytest.mark.parametrize("options", [{}, {"reaction": 3}, {"reaction": {"key": "x"}}, {"drill": {"name": "a"}}])
def test_other_runs_are_no_blocks(options):
    assert facts_of(records.Header(at_ns=0, wall="", boot="", options=options)) is None


def test_figures_of_steering_are_read_as_they_are_written_now_and_as_they_were_in_text():
    now = records.Note(at_ns=0, what="steering", values={"mean": 0.12, "alone": 0.46, "lasts_s": 300.0})
    assert steered_in(PlayedBlock(facts([LIGHT]), (now,))) == steered_in(PlayedBlock(facts([LIGHT]), (STEERED,)))
    assert steered_in(PlayedBlock(facts([LIGHT]), (now,))).alone == 0.46


@pytest.mark.parametrize("text", ["", "mean=x alone=1 lasts_s=1", "alone=1"])
def test_a_note_that_says_nothing_is_no_steering(text):
    note = records.Note(at_ns=0, what="steering", text=text)
    assert steered_in(PlayedBlock(facts([LIGHT]), (note,))) is None


# The whole test.


def simulated(seed, *, full=False, steered=STEERED):
    """Return the blocks of a person, and (condition, time in ms or None) of every scored trial, worked out here."""
    rng = random.Random(seed)
    order = order_of((RUMBLE, LIGHT, BOTH), seed, full=full)
    blocks, truth, false_starts = [], [], 0
    for number in range(order.blocks() + 1):
        about = msgspec.structs.replace(facts([LIGHT], block=number), trials=placed(order.block(number)))
        played = Played(about)
        first = about.trials[0].trial.no
        for place, one in enumerate(about.trials):
            condition = one.trial.condition
            for channel in condition:
                lands_ns = ORIGIN_NS + one.at_ns
                played.records.append(
                    records.FiringRecord(
                        at_ns=lands_ns, cue=f"signal_{first + place}", n=0, channel=channel, anchor="match",
                        due_ns=one.at_ns, late_ns=50_000, outcome="played",
                    )
                )  # fmt: skip
            ms = rng.choice([None, 60.0, rng.gauss(300, 60), rng.gauss(300, 60), rng.gauss(300, 60)])
            if ms is not None:
                played.press(place, ms + 0.05)
            if rng.random() < 0.1:
                played.press(place, 1500 + rng.random() * 400)             # 2 s at the least are free behind a window
                false_starts += number > 0
            if number:
                false_starts += ms is not None and (ms < 100 or condition == CATCH)
                truth.append((condition, ms))
        played.records.append(steered)
        blocks.append(played.block)
    return blocks, truth, false_starts


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_the_figures_are_those_that_the_presses_come_to(seed):
    blocks, truth, false_starts = simulated(seed)
    result = result_of(blocks)
    assert (result.person, result.blocks, result.scores.catches) == ("0a0b0c0d", 2, sum(c == CATCH for c, _ in truth))
    assert result.scores.false_starts == false_starts
    assert [score.condition for score in result.scores.scores] == [RUMBLE, LIGHT, BOTH]
    for score in result.scores.scores:
        own = [ms for condition, ms in truth if condition == score.condition]
        answers = [ms for ms in own if ms is not None and ms >= 100]
        missed = own.count(None)
        assert (score.signals, score.missed) == (len(answers) + missed, missed)
        assert score.lapses == missed + sum(ms >= 500 for ms in answers)
        assert score.false_starts == sum(ms is not None and ms < 100 for ms in own)
        assert score.mean_ms == pytest.approx(statistics.fmean(answers), abs=1e-3)
        assert score.spread_ms == pytest.approx(statistics.stdev(answers), abs=1e-3)
        assert score.speed_per_s == pytest.approx(sum(1000 / ms for ms in answers) / score.signals, abs=1e-5)
        middle = statistics.median([*answers, *[1e9] * missed])
        assert score.median_ms == (pytest.approx(middle, abs=1e-3) if middle < 1e8 else None)


def test_practice_is_played_and_not_scored():
    blocks, truth, _ = simulated(3)
    assert len(result_of(blocks).reactions) == len(truth)
    alone = result_of(blocks[:1])
    assert (alone.scores, alone.blocks) == (None, 0)
    assert alone.lines == short_lines(alone) == ("No block was played to its end: there is no result.",)


def test_the_result_in_words_says_what_it_does_not_say():
    result = result_of(simulated(3)[0])
    lines = result.lines
    assert [line.partition(":")[0] for line in lines[:3]] == ["Rumble", "Light", "Rumble and light together"]
    assert lines[-2:] == (UNKNOWN_KEY, NO_FORECAST)
    assert sum("chances" in line for line in lines) == 1
    assert "Steering in block 2: 12 % off the middle on average, 46 % if nobody had steered." in lines
    assert not any(result.person in line for line in lines)


def test_who_let_the_marker_go_is_told_apart():
    let_go = records.Note(at_ns=0, what="steering", text="mean=0.4000 alone=0.4600 lasts_s=300.000")
    result = result_of(simulated(3, steered=let_go)[0])
    assert sum("The marker was let go" in line for line in result.lines) == 2
    assert "the marker was let go in block 1, 2" in short_lines(result)[-2]
    assert "you let it go" in block_lines(simulated(3, steered=let_go)[0][1])[-1]


def test_without_a_window_there_was_no_load_and_it_is_said():
    nothing = records.Note(at_ns=0, what="safety", text="")
    result = result_of(simulated(3, steered=nothing)[0])
    assert NO_LOAD in result.lines
    assert short_lines(result)[-2].endswith("no marker to steer")


def test_pairs_with_too_few_answers_are_told_in_one_line():
    conditions = (RUMBLE, LIGHT, ("sound",), BOTH, ("rumble", "sound"))
    played = Played(facts(conditions)).fire_all()
    for no in range(len(conditions)):
        played.press(no, 300)
    lines = result_of([played.block]).lines
    assert [line for line in lines if "Too few answers" in line] == [
        "Too few answers to compare rumble and light, rumble and sound with each alone: "
        "10 of each are needed (--full)."
    ]


def test_the_short_result_has_a_line_for_each_condition_and_says_whose_delay_is_in_it():
    result = result_of(simulated(3)[0])
    lines = short_lines(result)
    assert [line.partition(":")[0] for line in lines[1:4]] == ["Rumble", "Light", "Rumble and light"]
    assert lines[-1] == PLAINLY
    blocks = [PlayedBlock(msgspec.structs.replace(b.facts, latency_ns={}), b.records) for b in simulated(3)[0]]
    lines = short_lines(result_of(blocks))
    assert all(" ms*" in line for line in lines[1:4])
    assert lines[-1] == f"{PLAINLY} * with the device's own delay"


def test_the_result_is_kept_as_json():
    result = result_of(simulated(3)[0])
    assert msgspec.json.decode(msgspec.json.encode(result), type=ReactResult) == result


# The picture.


@pytest.mark.parametrize("suffix", [".svg", ".PNG"])
def test_equal_results_give_equal_pictures_without_a_name(suffix):
    result = result_of(simulated(3)[0])
    drawn = picture(result, suffix)
    assert drawn == picture(result, suffix)
    assert drawn.startswith(b"\x89PNG" if suffix == ".PNG" else b"<?xml")
    assert result.person.encode() not in drawn


def test_a_picture_is_drawn_in_greys_alone():
    pixels = imread(io.BytesIO(picture(result_of(simulated(3)[0]), ".png")))
    spread = pixels[..., :3].max(axis=2) - pixels[..., :3].min(axis=2)
    assert spread.max() < 0.01
    assert pixels[..., :3].min() < 0.1


def test_a_test_without_a_block_is_a_picture_that_says_so():
    assert picture(result_of(simulated(3)[0][:1]), ".svg")
