"""What stands on a card, against the table of the design and what the timeline says."""

import re

import pytest

from tests.support.export.card_sources import cue, game, made, orders, unknown_times
from tests.support.export.exported_plans import BUNDLED, bundled
from tocsin.export.occurrences import display_in_words
from tocsin.export.picture.key import how_to_read
from tocsin.export.rows import BY_HAND, FELT, content
from tocsin.model.display.digits import rounding
from tocsin.model.game import Period
from tocsin.units import NS_PER_S as S


def table(source, columns=4):
    """Gather (heading, reading, note, words by column) of each row."""
    return [
        (group.heading, row.reading.replace("\N{NO-BREAK SPACE}", " "), row.note,
         *(entry and entry.word for entry in row.entries))
        for group in content(source, columns).groups for row in group.rows
    ]  # fmt: skip


def rows_of(source):
    return {(row.reading, row.entries[0].word): row for row in content(source, 4).rows if row.entries[0]}


# What is left when each cue of the full plan falls due.
FULL = [
    ("Crews step in, from 0:11", "0:11", "", "Pads"),
    ("Hands on, from 1:37", "1:35", FELT, "Alive"),
    ("Hands on, from 1:37", "0:34", "", "Last one"),
    ("Hands on, from 1:37", "0:23", "", "Call home"),
    ("Hands on, from 1:37", "0:22", "", "Home"),
    ("Hands on, from 1:37", "0:18", "", "No touch"),
    ("Hands on, from 1:37", "0:10", "", "Choose"),
    ("Hands on, from 1:37", "0:05 to 0:01", "each second", "Last five"),
    ("Hands on, from 1:37", "0:00", "", "Over"),
    ("", BY_HAND, "when needed", "Home"),
]


def test_the_full_plan_is_the_table_of_the_design():
    assert table(bundled("full")) == FULL


def test_each_variant_has_a_column_and_what_hangs_on_none_stands_across():
    # By the plan: swaps at 53 and 73 s of 134 s; which door opens depends on the order drawn.
    found = content(bundled("doors"), 4)
    assert found.columns == ("North door first", "South door first")
    assert [row[1:] for row in table(bundled("doors"))] == [
        ("1:53", FELT, "Alive"),
        ("1:26", "", "Swap soon"),
        ("1:21", "", "South door", "North door"),
        ("1:21", "", "Swap"),
        ("1:06", "", "Swap soon"),
        ("1:01", "", "North door", "South door"),
        ("1:01", "", "Swap"),
        ("0:40", "", "Last one"),
        ("0:33", "", "Swap soon"),
        ("0:22", "", "Home"),
        ("0:12", "", "Choose"),
        ("0:00", "", "Over"),
        (BY_HAND, "when needed", "Home"),
    ]


def test_a_call_of_one_variant_stands_only_in_its_column():
    assert ("Hands on, from 1:37", "0:52", "", None, "Wait", None) in table(orders(3))
    assert ("Hands on, from 1:37", "0:18 to 0:03", "each 5s", None, None, "Help them") in table(orders(3))


def test_where_columns_have_no_room_each_row_says_on_what_it_hangs():
    found = content(orders(5), 4)
    assert found.columns == ()
    only = {(row.reading, row.entries[0].word): row.entries[0].only for row in found.rows}
    assert only["0:52", "Wait"] == "South door first"
    assert only["1:35", "Begin"] == ""


def test_a_game_whose_variants_change_no_call_has_no_columns():
    assert content(made(game(variants=2), cue("home", "driver.end-22s")), 4).columns == ()


def test_what_nobody_knows_before_the_match_is_said_in_words():
    assert table(unknown_times()) == [
        ("Robot alone, from 0:28", "0:03 to 0:01", "each second", "Count"),
        ("Crews step in, no time limit", "+5s", "after it begins", "Pads"),
        ("Crews step in, no time limit", "+6s to +8.5s", "after it begins, each 500ms", "Tick"),
        ("Hands on, from 60:00", "0:22", "", "Home"),
        ("Hands on, from 60:00", "0:03", "each 100ms", "Now"),
        ("Hands on, from 60:00", "0:00", "", "Over"),
        ("", "at mark", "after the mark contact", "Back"),
        ("", "+3s", "after the mark contact", "Back"),
        ("", BY_HAND, "when needed", "Extra"),
        ("", BY_HAND, "when needed", "Home"),
    ]


def test_repeats_fold_within_a_period_only():
    # 2 s before the pause, the display goes from 0:02, 0:01 to the pause's own 0:11, 0:10
    source = made(game(), cue("tick", "auto.end-2s", until="pause.begin+2s", every_ns=S))
    assert [row[:2] for row in table(source)] == [
        ("Robot alone, from 0:28", "0:02 to 0:01"),
        ("Crews step in, from 0:11", "0:11 to 0:10"),
    ]


def test_moments_that_are_no_repeats_do_not_fold():
    source = made(game(), cue("soon", "driver.end-30s", "driver.end-20s", "driver.end-10s"))
    assert [row[1] for row in table(source)] == ["0:30", "0:20", "0:10"]


def test_one_period_needs_no_heading():
    assert {row[0] for row in table(bundled("dash"))} == {""}


def test_what_matters_most_is_the_highest_priority_if_it_is_above_the_ordinary():
    important = {key for key, row in rows_of(bundled("full")).items() if row.important}
    assert important == {("0:22", "Home"), ("0:00", "Over"), (BY_HAND, "Home")}      # 9 in configs/plans/full.toml
    plain = made(game(), cue("a", "driver.end-9s", priority=5), cue("b", "driver.end-8s", priority=2))
    assert not any(row.important for row in content(plain, 4).rows)


def test_rows_without_a_word_for_people_are_small_unless_they_matter_most():
    large = {key: row.large for key, row in rows_of(bundled("full")).items()}
    assert not large["1:35", "Alive"]
    assert large["0:22", "Home"]
    loud = made(game(), cue("buzz", "driver.end-9s", priority=9), cue("say", "driver.end-8s", say="Say"))
    assert rows_of(loud)["0:09", "Buzz"].large


def test_a_row_says_that_pads_alone_give_its_cue_unless_it_has_a_word_or_another_channel():
    felt = {"rumble": "short"}
    source = made(
        game(),
        cue("felt", "driver.end-9s", patterns=felt),
        cue("told", "driver.end-8s", patterns=felt, say="Told"),
        cue("seen", "driver.end-7s", patterns={**felt, "screen": "word"}),
        cue("asked", callable=True, patterns=felt),
    )
    assert {row.entries[0].word: row.note for row in content(source, 4).rows} == {
        "Felt": FELT, "Told": "", "Seen": "", "Asked": f"when needed, {FELT}"
    }  # fmt: skip


def test_reasons_of_the_bundled_plans_hold_on_paper_too():
    """Pads are spoken of only where they alone give the cue, which the row says."""
    for plan in BUNDLED:
        for row in content(bundled(plan), 4).rows:
            if FELT not in row.note:
                assert not [entry.why for entry in row.entries if entry and re.search(r"\bpads'|felt|shake", entry.why)]


def test_a_call_by_hand_gives_its_reason_only_where_no_other_row_does():
    whys = {key: row.entries[0].why for key, row in rows_of(unknown_times()).items()}
    assert whys[BY_HAND, "Extra"] == "whenever there is one to fetch"
    assert rows_of(bundled("full"))[BY_HAND, "Home"].entries[0].why == ""
    assert rows_of(bundled("full"))["0:22", "Home"].entries[0].why.startswith("break off now")


@pytest.mark.parametrize("plan", BUNDLED)
def test_card_and_picture_say_in_the_same_words_what_the_display_shows(plan):
    source = bundled(plan)
    said = display_in_words(source.timeline)
    assert rounding(source.timeline.digits) in said
    assert said in content(source, 4).rules
    assert said in how_to_read(source)


@pytest.mark.parametrize(
    ("counts", "words"), [("period", "counts each period down"), ("match", "counts the whole match down, from 2:16")]
)  # fmt: skip
def test_the_card_says_what_the_display_counts(counts, words):
    # 28 + 11 + 97 s = 136 s = 2:16; the settle does not count
    assert words in content(made(game(counts=counts), cue("home", "driver.end-22s")), 4).rules


def test_readings_are_those_of_a_display_that_counts_the_match():
    # 24 s before the end of the second period of two, each 60 s long: 1:24 of the match, 0:24 of the period
    periods = tuple(Period(id=f"p{n}", kind="driver", title=f"P{n}", lasts_ns=60 * S) for n in range(2))
    cues = (cue("home", "p0.end-24s"),)
    assert table(made(game(*periods, counts="match"), *cues))[0][:2] == ("P0, from 2:00", "1:24")
    assert table(made(game(*periods, counts="period"), *cues))[0][:2] == ("P0, from 1:00", "0:24")
