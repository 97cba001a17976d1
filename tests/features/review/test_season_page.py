"""The season's pages: two at most, nothing on top of anything else, what was changed and what the lot compared."""

import itertools
from functools import cache

import pytest
from msgspec.structs import replace

from tests.support.analysis.review_pages import NAMES, TEAMS, assert_tidy, review_of_season, team
from tests.support.thinned import crossed
from tocsin.analysis.review.answer import Answer, Comparison, Figure, Lacking
from tocsin.analysis.review.headline import headline
from tocsin.analysis.review.season import season_review
from tocsin.analysis.review.words.answers import line
from tocsin.export.drawing.page_style import SIZES
from tocsin.features.records.example_season import example_rows
from tocsin.features.review.pages import draw
from tocsin.features.review.season_page import season_pages
from tocsin.model.project import Question

every_size = pytest.mark.parametrize("size", SIZES)
A4_MM = (210, 297)                     # ISO 216, upright (from memory)
# Of worlds whose pages look alike one: evening pages go through all of them.
STRAINED = [name for name in TEAMS if name[:2] not in ("b ", "c ", "d ", "e ", "g ", "h ", "i ", "j ")]


@cache
def placed(name, size, **options):
    return season_pages(review_of_season(name), team(name), size=size, names={}, **options)


def pages(name, size="a4", **options):
    """Return a season's pages, those without names placed once."""
    if "names" not in options:
        return placed(name, size, **options)
    return season_pages(review_of_season(name), team(name), size=size, **options)


def strings(found):
    return [label.string for page in found for label in page.parts.labels]


def read(found):
    return " ".join(strings(found))


@crossed(name=STRAINED, size=SIZES)
def test_no_text_meets_another_one_and_a_season_has_two_sheets_at_most(name, size):
    found = pages(name, size, names=NAMES, example=True, tall=size == "phone")
    for page in found:
        assert_tidy(page, cut=size == "screen")
        assert "invented" in read([page]).lower()
    if size == "a4":
        assert len(found) <= 2
        assert {(page.width_mm, page.height_mm) for page in found} == {A4_MM}


def test_the_screen_s_picture_has_the_pixels_of_a_screen():
    rows = team("twenty evenings")
    data = draw(review_of_season("twenty evenings"), rows, kind="png", size="screen", names=NAMES, example=True)
    assert [int.from_bytes(data[at : at + 4], "big") for at in (16, 20)] == [1280, 720]


def test_changes_of_the_lead_are_flags_and_told_with_what_followed():
    told = read(pages("twenty evenings"))
    assert "flags: the lead was changed" in told
    for text in ("2031-02-20: The lead went from 4.5 to 3.5 s. Before: Contact in",
                 "2031-01-28: The lead went from 4 to 4.5 s. Before: Contact in",
                 "This was not drawn by lot", "`tocsin advise` also counts the play that a longer lead costs"):
        assert text in told
    assert "flags" not in read(pages("five evenings"))


@every_size
def test_nobody_is_named_unless_it_is_asked_for(size):
    assert not any(name in read(pages("twenty evenings", size)) for name in NAMES.values())
    if size != "screen":
        assert "Wilhelmina-Konstantina" in read(pages("twenty evenings", size, names=NAMES))


def test_nothing_is_told_where_a_third_of_the_rounds_is_lost():
    found = pages("half lost")
    assert "Nothing else is told." in read(found)
    assert [area for page in found for area in page.parts.areas] == []


def test_what_may_explain_what_happened_is_told_below_though_contacts_are_the_headline():
    rows = example_rows()
    review = season_review(rows, drill="Break off")
    found = season_pages(review, rows, size="a4", names={}, example=True)
    told = read(found)
    assert headline(review).startswith("Contact in ")
    for question in ("learning", "odd"):
        assert line(review.answer(question)) in told
    assert told.index(line(review.answer("odd"))) < told.index("2031-02-20, round 9: 8.8 s after the call")
    assert len(found) == 2
    # What is the headline stands there once.
    fine = replace(review, answers=tuple(one for one in review.answers if one.question in ("trust", "learning")))
    assert headline(fine) == line(review.answer("learning"))
    told = read(season_pages(fine, rows, size="a4", names={}))
    assert told.count("With twice as many rounds behind them") == 1


def test_matches_stand_beside_practice_as_diamonds():
    """They count where a push was on at the call; the season's own contacts, of all rounds, stand above them."""
    found = pages("l matches slower")
    told = strings(found)
    places = [
        next(place for place, text in enumerate(told) if text.startswith(begins))
        for begins in ("contact", "contact in practice, push on at the call", "contact in matches, push on at the")
    ]
    assert places == sorted(set(places))
    share = review_of_season("l matches slower").answer("contact").figure("contact")
    assert told.count(f"{share.count} of {share.rounds}") >= 2, "as a number and in the picture"
    assert "contact in matches" not in read(pages("five evenings"))


def test_tiles_say_what_only_a_video_tells_and_of_which_lead_they_are():
    told = strings(pages("twenty evenings"))
    figure = review_of_season("twenty evenings").answer("contact").figure("contact")
    unclear = round(figure.at_most * figure.rounds) - figure.count
    assert unclear
    assert f"{unclear} more: only a video can tell" in told
    assert told.count("at lead 3.5 s") >= 2
    assert any(text.endswith("lead 4 s, then 4.5 s, then 3.5 s") for text in told)
    assert not any("at lead" in text for text in strings(pages("five evenings")))


@pytest.mark.parametrize("name", ["busy", "five evenings", "twenty evenings", "three evenings"])
def test_the_first_page_is_full_before_a_second_one_begins(name):
    found = pages(name)
    if len(found) > 1:
        below = min(label.y_mm - label.above_mm for label in found[1].parts.labels)
        used_mm = max(label.y_mm for label in found[0].parts.labels)
        assert A4_MM[1] - below - used_mm < 30


def test_a_long_list_has_even_gaps_on_all_pages_of_a_phone():
    (page,) = pages("busy", "phone", tall=True)
    listed = [label for label in page.parts.labels if label.kind == "list"]
    first = next(place for place, label in enumerate(listed) if label.string.startswith("Not yet"))
    last = max(place for place, label in enumerate(listed) if label.string.startswith("Not yet"))
    listed = listed[first : last + 1]
    assert sum(label.string.startswith("Not yet") for label in listed) >= 5
    apart = [below.y_mm - above.y_mm for above, below in itertools.pairwise(listed)]
    new = [gap for gap, label in zip(apart, listed[1:], strict=True) if label.string.startswith("Not yet")]
    assert max(new) - min(new) < 1.0


# -- the meter --------------------------------------------------------------------------------------------------------


def compared(evidence, verdict="not_yet", *, factor="coach", first="calling", second="silent", **rest):
    of = f"{factor}: {first} / {second}: break_off"
    comparison = Comparison(
        of=of, factor=factor, first=first, second=second, outcome="break_off", verdict=verdict, needed=20.0, pairs=44,
        less=first if verdict == "better" else "", **rest,
    )  # fmt: skip
    return comparison, Figure(name="evidence", unit="evidence", value=evidence, of=of, rounds=88, evenings=6)


def metered(*found):
    rows = team("five evenings")
    lacking = tuple(
        Lacking(question="better", figure="evidence", of=one.of, counted="pairs", more=40, evenings=8)
        for one, _ in found if one.verdict == "not_yet"
    )
    answer = Answer(
        question="better", comparisons=tuple(one for one, _ in found), figures=tuple(one for _, one in found),
        lacking=lacking,
    )  # fmt: skip
    review = review_of_season("five evenings")
    others = tuple(one for one in review.answers if one.question != "better")
    return season_pages(replace(review, answers=(*others, answer)), rows, size="a4", names={})


def bars(found):
    """Return begin and end of each hatched and each black bar, in mm."""
    boxes = [box for page in found for box in page.parts.boxes if box.kind == "bar"]
    return (
        [(box.x_mm, box.x_mm + box.width_mm) for box in boxes if box.hatch],
        [(box.x_mm, box.x_mm + box.width_mm) for box in boxes if box.fill == 0],
    )


def test_evidence_below_20_ends_in_the_hatched_part_and_says_how_many_pairs_are_missing():
    found = metered(compared(6.0))
    (hatched,), (bar,) = bars(found)
    assert hatched[0] < bar[1] < hatched[1]
    assert "Not yet: coach calling or coach silent, by when pushes end. About 40 more pairs, 8 evenings." in read(found)
    assert "44 pairs so far" in read(found)


def test_the_axis_of_evidence_has_words_and_no_numbers():
    found = metered(compared(6.0))
    told = strings(found)
    for word in ("nothing", "enough", "sure"):
        assert told.count(word) == 1
    assert not {"1/20", "20", "100"} & set(told[told.index("Is one of two better? The evidence so far"):
                                                told.index("44 pairs so far")])  # fmt: skip
    assert "A bar may shrink" in " ".join(told)


def test_evidence_of_20_reaches_beyond_it():
    (hatched,), (bar,) = bars(metered(compared(20.0)))
    assert bar[1] == pytest.approx(hatched[1], abs=0.01)
    (hatched,), (bar,) = bars(metered(compared(60.0, "better")))
    assert bar[1] > hatched[1] + 5


def test_what_takes_more_evidence_is_drawn_as_a_share_of_it():
    strict, figure = compared(20.0)
    (hatched,), (bar,) = bars(metered((replace(strict, needed=60.0), figure)))
    assert bar[1] < hatched[1] - 5


def test_the_question_of_the_month_comes_first_and_of_other_things_one_meter_each():
    setups = [compared(9.0 + n, factor="setup", first=f"place {n}", second="home") for n in range(3)]
    found = metered(*setups, compared(1.5, named=True))
    names = [text for text in strings(found) if " or " in text and "Not yet" not in text]
    assert names[0] == "coach calling or coach silent (question of the month)"
    assert names[1:] == ["place 2 or home"]


def test_a_named_question_is_told_by_the_season_s_own_review():
    rows = team("twenty evenings")
    review = season_review(rows, question=Question(asks="coach", since="2031-01-06"))
    for page in season_pages(review, rows, size="a4", names={}):
        assert_tidy(page)
