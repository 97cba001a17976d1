"""What holds for all sentences of reviews of all simulated worlds."""

import re

import pytest

from tests.support.analysis.season_teams import season_rows
from tests.support.analysis.season_worlds import WORLDS, World
from tocsin.analysis.review.answer import FIGURES, Review
from tocsin.analysis.review.evening import evening_review
from tocsin.analysis.review.headline import flags, headline
from tocsin.analysis.review.season import season_review
from tocsin.analysis.review.words.answers import details, legend, line, not_yet, not_yet_lines

# No word of a trade that people do not know, no praise, no blame, no ranking, nothing that is surer than it is.
FORBIDDEN = re.compile(
    r"(?i:significan|\bp\s*[=<]|prove[dns]?\b|median|confidence|\bbest\b|worst driver|ranking|regression|interval|"
    r"well done|great|congrat|bad driver|fault of|correlat|standard|\bnan\b|\binf\b|\{|\})|"
    r"\bNone\b",
)
FINE = re.compile(r"\d\.\d\d")


def texts_of(review: Review) -> list[str]:
    return [
        headline(review), *flags(review), *filter(None, map(line, review.answers)), *map(not_yet, review.unknown),
        *not_yet_lines(review.unknown),
        *(one.why for one in review.left_out), *legend(),
        *(one for answer in review.answers for one in details(answer)),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def reviews():
    """Return reviews of all simulated worlds: of the whole season, and of some evenings; and what was dealt by lot."""
    found = []
    worlds = [*WORLDS.values(), World(drills=("turn",), evenings=5, ways_s=(3.0, 6.0, 8.0, 16.0)),
              World(calling_s=1.2), World(drills=("break_off", "fork"), evenings=6)]  # fmt: skip
    for seed, world in enumerate(worlds):
        rows = season_rows(world._replace(evenings=min(world.evenings, 6)), seed)
        evenings = sorted({row.evening for row in rows})
        found.append(season_review(rows))
        found += [
            evening_review([row for row in rows if row.evening == evening], season=rows) for evening in evenings[-1:]
        ]
        found.append(season_review(rows[: 12 * (seed % 4 + 1)]))
    return found


def test_no_sentence_has_a_word_that_it_must_not_have_and_no_number_is_too_fine(reviews):
    for review in reviews:
        for text in texts_of(review):
            assert not FORBIDDEN.search(text), text
            assert not FINE.search(text), text
            assert text[0].isupper() or text[0].isdigit() or text in {one.why for one in review.left_out}, text
            assert ".." not in text, text
            assert "  " not in text, text


def test_each_figure_stands_in_the_table_with_its_meaning(reviews):
    names = {figure.name for review in reviews for answer in review.answers for figure in answer.figures}
    assert names <= set(FIGURES)
    # Those that these worlds cannot reach: clocks of matches, and seasons of eight weeks (test_trends.py has them).
    later = {"clock_error", "clock_error_worst", "weeks"}
    assert set(FIGURES) - names - later <= {name for name in FIGURES if name.endswith("_if_missing")}


def test_limits_lie_on_both_sides_of_their_value(reviews):
    for review in reviews:
        for figure in (one for answer in review.answers for one in answer.figures if one.value is not None):
            assert figure.low is None or figure.low <= figure.value + 1e-9, figure
            assert figure.high is None or figure.value <= figure.high + 1e-9, figure
            assert figure.at_most is None or figure.at_most > figure.value, figure
            assert figure.unit != "share" or figure.of == "difference" or 0 <= figure.value <= 1, figure


def test_each_question_with_figures_has_a_sentence_and_each_lack_its_own_words(reviews):
    for review in reviews:
        for answer in review.answers:
            told = answer.figures if answer.question not in ("break_off", "better") else ()
            assert bool(line(answer)) or not told, answer
            for lacking in answer.lacking:
                assert lacking.figure == "way" or lacking.figure not in not_yet(lacking).split(), lacking


def test_what_is_unknown_is_told_shortest_first(reviews):
    for review in reviews:
        waits = [(one.evenings, one.more) for one in review.unknown if one.more or one.evenings]
        assert waits == sorted(waits)


def test_a_review_of_matches_says_matches_and_never_rounds():
    world = WORLDS["l matches slower"]._replace(evenings=4)
    found = season_review(season_rows(world, 1), drill="")
    said = [headline(found), *flags(found), *map(line, found.answers), *map(not_yet, found.unknown)]
    assert line(found.answers[0]).startswith("12 of 12 matches count.")
    assert "of 12 matches" in line(found.answer("contact"))
    assert not [one for one in said if "round" in one and "by lot" not in one]
    assert {one.counts for one in found.answers} == {"matches"}
    of_rounds = season_review(season_rows(world, 1))
    assert {one.counts for one in of_rounds.answers} == {"rounds"}
    assert "rounds count." in line(of_rounds.answers[0])
