"""What a board shows once nobody plays any more: the laptop has ended, or sets the next drill up."""

import msgspec
import pytest

from tests.support.export.board_stand import IN_MATCH, MARKS, STANDBY, START, BoardService, board, running
from tests.support.export.exported_plans import bundled
from tocsin.service.messages import ENDED, Away

pytestmark = pytest.mark.devices


@pytest.fixture
def own():
    """A service that a test ends itself."""
    made = BoardService(bundled("full"))
    yield made
    if made.process.poll() is None:
        made.end()


def test_the_last_word_of_the_laptop_stands_on_the_board_and_nothing_can_be_pressed(browser, own):
    own.show(STANDBY, (START,))
    with board(browser, own) as page:
        page.knows()
        assert page.button("start").is_enabled()
        own.down(Away("The drill is over. " + ENDED, ends=True))
        assert own.end() == 0
        page.await_text("#title", "The drill is over")
        page.await_text("#worst", ENDED)
        assert page.button("start").count() == 0
        page.await_that("board.line.is === 'cut'")
        page.await_text("#worst", ENDED)               # and not only that nothing is heard
        assert "Not heard" not in page.ask("document.querySelector('#worst').textContent")


def test_a_laptop_that_dies_in_a_match_is_told_from_one_out_of_reach_and_the_clock_runs_on(browser, own):
    own.show(running(60), IN_MATCH)
    with board(browser, own) as page:
        page.knows()
        own.end()                                      # its conductor is gone, without a word
        page.await_text("#worst", ENDED)
        page.await_text("#worst", "this clock runs by itself")
        page.await_that("/^[01]:[0-9]{2}$/.test(document.querySelector('#digits').textContent)")
        before = page.row("digits")
        page.await_that(f"document.querySelector('#digits').textContent !== '{before}'")
        page.button("mark.turned").click()
        page.await_text("#worst", "1 mark waits")      # for `--resume`, which takes it


def test_between_two_drills_the_board_says_so_and_goes_on_by_itself(browser, own):
    over = msgspec.structs.replace(running(170), phase="over", result=("Clean",))
    own.show(over, (START,))
    with board(browser, own) as page:
        page.knows()
        number = page.ask("board.mirror.state.you.number")
        own.down(Away("The next drill is being set up at the laptop"))
        page.await_text("#title", "The next drill is being set up")
        page.await_text("#result0", "Clean")           # what was reached stands on
        assert page.ask("document.querySelector('#worst').classList.contains('bad')") is False
        own.show(STANDBY, (START,), anew=True)
        page.await_that("!board.mirror.away && document.querySelector('[data-act=start]:enabled') !== null")
        assert page.ask("board.mirror.state.you.number") == number


def test_what_was_to_come_does_not_stand_once_the_laptop_has_ended(browser, own):
    card = ("Round 5 of 12", "Coach: say nothing")
    own.show(msgspec.structs.replace(STANDBY, card=card, notice="Rest: 43 s more"), (START,))
    with board(browser, own) as page:
        page.knows()
        page.await_text("#card0", "Round 5")
        own.down(Away("The drill is over. " + ENDED, ends=True))
        page.await_text("#title", "The drill is over")
        assert [page.row(name) for name in ("card0", "card1", "notice", "prompt")] == [""] * 4


def test_a_phone_out_of_reach_says_that_people_stay_outside_after_the_end(browser, own):
    own.show(running(100, keeps_out=True), IN_MATCH)
    with board(browser, own) as page:
        page.knows()
        own.end()
        page.await_text("#worst", "this clock runs by itself")
        page.ask("board.mirror.state.status.origins[0].origin_ns -= 60e9; board.mirror._place(); 0")
        page.await_text("#sign0", "Stay outside")
        assert (page.row("digits"), page.row("cueDigits")) == ("", "")


def test_a_laptop_that_ends_after_a_match_leaves_the_word_that_people_stay_outside(browser, own):
    own.show(msgspec.structs.replace(running(170, keeps_out=True), phase="over", outside_until_ns=1 << 62), MARKS)
    with board(browser, own) as page:
        page.knows()
        own.down(Away(ENDED, ends=True))
        page.await_text("#title", "ended")
        assert page.row("outside").startswith("Stay outside")


def test_no_command_stands_on_a_phone(browser, own):
    told = "By video: tocsin mark runs/1 --video marks.csv"
    own.show(msgspec.structs.replace(running(170), phase="over", result=("Can't tell", told), video=told), MARKS)
    with board(browser, own) as page:
        page.knows()
        page.await_text("#result0", "Can't tell")
        assert page.row("result1") == page.row("video") == "By video: see the laptop"


def test_a_board_comes_back_within_three_seconds_of_a_new_start(browser, own):
    own.show(STANDBY, (START,))
    port = own.port
    with board(browser, own) as page:
        page.knows()
        own.end()
        page.await_text("#worst", ENDED)
        page.await_that("board.line.is === 'cut'")
        page.tab.wait_for_timeout(3000)                # longer than the longest pause between two tries
        assert max(page.ask("PAUSES_MS")) <= 2000
        again = BoardService(bundled("full"), port=port)
        try:
            again.show(STANDBY, (START,))
            page.await_that("board.line.is === 'open' && !board.mirror.away")
        finally:
            again.end()
