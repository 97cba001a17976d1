"""While a drill's last result stands, people read what the evening came to; no key waits for it."""

import threading
from functools import partial
from pathlib import Path

import pytest

from tests.support.people.table_crew import TABLE_CREW, loaded
from tests.support.people.table_evening import OPTIONS, TableEvening
from tocsin.features.drills.closing import Sentence
from tocsin.features.drills.rounds import Rounds
from tocsin.features.records.round_files import Session
from tocsin.features.review.closing import sentence

SAID = "This evening: "


def evening_with(tmp_path: Path, closing: Sentence, played: int) -> TableEvening:
    """Return an evening of a drill in which so many rounds were played before."""
    evening = TableEvening(tmp_path, "turn", TABLE_CREW, 1)
    session = Session(name="turn", key="k", seed=1, places={"A": played})
    evening.sit_down(tmp_path, Rounds(loaded("turn"), OPTIONS, session, closing=closing))
    evening.desk.press(*"y" * 9)
    return evening


def heard(evening: TableEvening) -> str:
    """Return the sentence once the thread that makes it has ended."""
    evening.desk.after(0.25)
    for thread in threading.enumerate():
        if thread.name == "closing":
            thread.join(60)
    return evening.desk.after(0.25).notice


def test_it_comes_with_the_last_result_and_not_before(tmp_path: Path) -> None:
    asked: list[str] = []

    def closing(drill: str) -> str:
        asked.append(drill)
        return "Contact in 3 of 10 rounds."

    rounds = loaded("turn").drill.rounds
    evening = evening_with(tmp_path, closing, rounds - 2)
    evening.play_round()
    assert SAID not in heard(evening)
    assert asked == []
    evening.next_round()
    evening.play_round()
    assert heard(evening) == f"{SAID}Contact in 3 of 10 rounds."
    assert asked == ["turn"]
    evening.desk.after(60)
    assert evening.desk.notice.startswith(SAID), "it stands as long as the result does"
    evening.desk.press("s")
    assert evening.programme.finished


def test_a_mark_that_is_taken_back_has_it_said_anew(tmp_path: Path) -> None:
    said = iter(["first", "second"])
    evening = evening_with(tmp_path, lambda drill: next(said), loaded("turn").drill.rounds - 1)
    evening.play_round()
    assert heard(evening) == f"{SAID}first"
    evening.desk.press(evening.desk.stage.keymap.key_for("undo"))
    assert heard(evening) == f"{SAID}second"


def test_what_goes_wrong_with_it_keeps_nobody_from_going_on(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    def closing(drill: str) -> str:
        raise ValueError("no sentence")

    evening = evening_with(tmp_path, closing, loaded("turn").drill.rounds - 1)
    evening.play_round()
    assert SAID not in heard(evening)
    evening.desk.press("s")
    assert evening.programme.finished
    assert capfd.readouterr().err == ""


def test_the_evenings_own_sentence(tmp_path: Path) -> None:
    runs = tmp_path / "runs"
    evening = evening_with(tmp_path, partial(sentence, runs), loaded("turn").drill.rounds - 3)
    evening.play(2)
    evening.play_round()
    assert heard(evening) == f"{SAID}{sentence(runs, 'turn')}"
    assert sentence(runs, "turn")
    assert sentence(runs, "break_off") == ""
