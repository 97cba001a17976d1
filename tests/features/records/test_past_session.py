"""A drill that was cut short, read back: where each crew stands, who is in it, what an earlier version left open."""

import msgspec
import pytest

from tocsin.config.drills import load_drill
from tocsin.features.drills.crews import Crews
from tocsin.features.records.round_files import DROPPED, REPEATED, RoundFacts, newest_session
from tocsin.journal import records
from tocsin.journal.writer import JournalWriter
from tocsin.runner.options import ROUND
from tocsin.units import NS_PER_S as S

ROSTER = {"A": {"driver": "a1"}, "B": {"driver": "b1"}}


@pytest.fixture
def played(tmp_path):
    """Return what writes the rounds of a drill, each as crew, number, and what became of it."""

    def write(*rounds, **options):
        for minute, (crew, number, became) in enumerate(rounds, 1):
            facts = RoundFacts(name="Turn", key="k", seed=1, round=number, crew=crew, battery=minute, half_speed=False)
            header = records.Header(
                at_ns=S, wall=f"2031-03-01T10:{minute:02}:00.000Z", boot="b",
                options={ROUND: msgspec.to_builtins(facts), **options},
            )  # fmt: skip
            writer = JournalWriter.create(tmp_path, header)
            if became in (DROPPED, REPEATED):
                writer.append(records.Note(at_ns=S, what=became))
            if became != "cut short":
                outcome = "scrapped" if became == "scrapped" else "over"
                writer.append(records.End(at_ns=S, outcome=outcome, exit=0))
            assert writer.close() == ""
        return newest_session(tmp_path, lambda broken: pytest.fail(broken.line))

    return write


@pytest.mark.parametrize(
    ("rounds", "crew", "places"),
    [
        ([("A", 1, "over"), ("A", 2, "over"), ("B", 1, "over")], "B", {"A": 2, "B": 1}),
        ([("A", 1, "over"), ("B", 1, "over"), ("A", 2, "cut short")], "A", {"A": 1, "B": 1}),
        ([("A", 1, REPEATED), ("B", 1, "scrapped")], "B", {"A": 0, "B": 0}),
        ([("B", 3, DROPPED)], "B", {"B": 3}),
    ],
)
def test_each_crew_goes_on_where_it_stood(played, rounds, crew, places):
    past = played(*rounds, people=ROSTER["A"], roster=ROSTER)
    assert (past.session.crew, past.session.places) == (crew, places)
    assert (past.options.roster, past.options.people, past.unknown_people) == (ROSTER, {}, False)


@pytest.mark.parametrize(
    ("crews", "roster", "unknown"),
    [("AA", {"A": {"driver": "x"}}, False), ("AB", {}, True), ("BB", {"B": {"driver": "x"}}, False)],
)
def test_the_people_of_an_earlier_version_are_those_of_its_only_crew(played, crews, roster, unknown):
    past = played(*[(crew, number, "over") for number, crew in enumerate(crews, 1)], people={"driver": "x"})
    assert (past.options.roster, past.unknown_people) == (roster, unknown)


def test_a_crew_of_a_later_version_gives_way_to_one_of_ours(played):
    past = played(("Z", 1, "over"), roster={})
    crews = Crews(load_drill("turn", "nothing").drill, past.session, past.options.roster)
    assert (crews.left("Z"), crews.following(), crews.people) == (11, "A", {})
