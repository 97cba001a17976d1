"""What people press on a board: it comes once, at the finger's time, and no mark is lost with the line."""

import msgspec
import pytest

from tests.support.export.board_stand import (
    IN_MATCH,
    LYING,
    MARKS,
    STANDBY,
    START,
    UNDO,
    UPRIGHT,
    Between,
    board,
    running,
)
from tests.support.service.service_stand import TOKENS
from tocsin import monotime
from tocsin.service.messages import Grant, Marked, Offer, Revoke, Wish
from tocsin.units import NS_PER_S as S

pytestmark = pytest.mark.devices

TWICE_MS = 150                         # between two taps of a hurried thumb (common practice, no source)
APART_PX = 24                          # half of a button: common practice, no source

RESUME = Offer(action="resume", does="resume")
# Press one pad after another: what each says in its own place, if that is whole and in sight.
SAID = """actions => actions.map((action) => {
  const pad = document.querySelector(`[data-act="${action}"]`);
  pad.click();
  const {left, right, top, bottom} = pad.getBoundingClientRect();
  const whole = pad.scrollWidth <= pad.clientWidth + 1 && pad.scrollHeight <= pad.clientHeight + 1;
  return pad.classList.contains('noted') && whole && Boolean(board.channels.showing())
    && pad.contains(document.elementFromPoint((left + right) / 2, (top + bottom) / 2)) && pad.lastChild.textContent;
})"""


@pytest.fixture(autouse=True)
def nothing_came(stand):
    stand.wishes.clear()
    stand.marks.clear()
    stand.says, stand.silent = {}, False


def hold_down(page, action, ms):
    """Hold a finger on a button for so long; return the times of the laptop's clock before and after."""
    before_ns = monotime.now_ns()
    box = page.button(action).bounding_box()
    page.tab.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.tab.mouse.down()
    page.tab.wait_for_timeout(ms)
    down = page.button(action).inner_text()
    page.tab.mouse.up()
    return before_ns, monotime.now_ns(), down


def test_start_is_one_wish_of_this_run_at_the_fingers_time(browser, stand):
    stand.show(STANDBY, (START,), anew=True)
    with board(browser, stand) as page:
        page.knows()
        before_ns = monotime.now_ns()
        page.button("start").click()
        after_ns = monotime.now_ns()
        wish = stand.wait_for(Wish, lambda wish: wish.run == stand.run)
    assert wish.action == "start"
    assert wish.source.startswith("board ")
    assert before_ns - wish.error_ns <= wish.at_ns <= after_ns + wish.error_ns
    assert len(stand.wishes) == 1


def test_a_refusal_is_said_in_the_laptops_words(browser, stand):
    stand.says, stand.why = {"start": None}, "the field is not said to be clear"
    stand.show(STANDBY, (START,), anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("start").click()
        page.await_text("#worst", stand.why)


def test_without_an_answer_it_asks_again_under_the_same_name_and_presses_nothing_twice(browser, stand):
    stand.silent = True
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.tab.route("**/api/1/wishes", lambda route: (asked.append(route.request.post_data_json), route.continue_()))
        asked = []
        page.button("more").click()
        page.button("call.home").click()
        page.tab.wait_for_timeout(100)
        page.button("more").click()
        page.button("call.home").click()               # while nobody has answered
        page.await_text("#worst", "The laptop did not answer")
        assert len(asked) >= 2
    assert len({wish["id"] for wish in asked}) == 1
    assert len({wish.id for wish in stand.wishes}) == 1, "the conductor does what has one id once"


def test_a_step_that_came_where_another_stood_takes_no_press_at_once(browser, stand):
    """Start, pressed twice in a hurry, begins no next thing; a press later than that is one."""
    stand.show(STANDBY, (START,), anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("start").click()
        stand.wait_for(Wish, lambda wish: wish.run == stand.run)
        stand.wishes.clear()
        stand.show(msgspec.structs.replace(running(60), phase="held", held_ns=monotime.now_ns()), (*MARKS, RESUME))
        page.await_that("document.querySelector('[data-act=resume]') !== null")
        page.ask("board._buttons._nextMs = performance.now() - 800")
        page.ask("document.querySelector('[data-act=resume]').click()")
        page.await_text("#worst", "Press again: Resume")
        assert stand.wishes == []
        page.await_that("performance.now() - board._buttons._nextMs > 1500")
        page.button("resume").click()
        page.await_text("#worst", "Field clear? Resume: press again")
        page.await_text("[data-act=resume]", "Field clear?")
        assert stand.wishes == []
        page.tab.wait_for_timeout(TWICE_MS)
        page.button("resume").click()
        assert stand.wait_for(Wish, lambda wish: wish.action == "resume").run == stand.run


def test_the_same_step_with_other_words_is_another_step(browser, stand):
    """The next thing after a match is the same key as its start."""
    stand.show(running(170), (Offer(action="start", does="next round"),), anew=True)
    with board(browser, stand) as page:
        page.knows()
        stand.show(STANDBY, (START,), anew=True)
        page.await_text("[data-act=start]", "Start")
        page.ask("board._buttons._nextMs = performance.now()")
        page.ask("document.querySelector('[data-act=start]').click()")
        page.await_text("#worst", "Press again: Start")
    assert stand.wishes == []


@pytest.mark.parametrize("size", [UPRIGHT, LYING])
def test_start_never_comes_where_more_stood(browser, stand, size):
    variant = Offer(action="variant", does="variant")
    stand.show(STANDBY, (variant,), anew=True)
    with board(browser, stand, size=size) as page:
        page.knows()
        stood = page.button("more").bounding_box()
        stand.show(STANDBY, (START, variant))
        page.await_that("document.querySelector('[data-act=start]') !== null")
        assert page.button("more").bounding_box() == stood
        start = page.button("start").bounding_box()
        assert start["x"] + start["width"] < stood["x"]
        stand.show(STANDBY, (START,))
        page.await_that("document.querySelector('[data-act=more]').disabled")
        assert page.button("start").bounding_box() == start


def test_cancel_is_asked_twice(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("more").click()
        page.button("scrap").click()
        page.await_text("#more", "Cancel: press again")
        page.tab.wait_for_timeout(TWICE_MS)
        assert stand.wishes == []
        page.button("scrap").click()
        wish = stand.wait_for(Wish, lambda wish: wish.run == stand.run)
    assert (wish.action, wish.sure) == ("scrap", True)


@pytest.mark.parametrize("size", [UPRIGHT, LYING, (360, 740), (740, 360), (820, 1180)])
def test_hold_stands_apart_from_calls_and_has_another_shape(browser, stand, size):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand, size=size) as page:
        page.knows()
        hold = page.button("hold").bounding_box()
        marks = page.ask("document.querySelector('#pads').getBoundingClientRect().bottom")
        assert hold["y"] - marks >= APART_PX
        page.button("more").click()
        page.await_that("!more.hidden")
        calls = page.ask("calls.getBoundingClientRect().bottom")
        assert page.ask("document.querySelector('#grave button').getBoundingClientRect().top") - calls >= APART_PX
        assert page.button("hold").bounding_box() == hold
        assert hold["y"] - calls >= APART_PX or hold["x"] > page.ask("calls.getBoundingClientRect().right")
        assert page.ask("[...document.querySelectorAll('#calls button')].map((one) => one.dataset.act)") == [
            "call.home", "sync", "earlier", "later",
        ]  # fmt: skip
        shapes = [page.ask(f"getComputedStyle(document.querySelector('[data-act=\"{one}\"]')).clipPath")
                  for one in ("hold", "call.home")]  # fmt: skip
        assert shapes[0].startswith("polygon")
        assert shapes[1] == "none"


def test_one_tap_on_hold_holds_nothing_and_neither_do_two_of_a_thumb_that_trembles(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.ask("document.querySelector('[data-act=hold]').click(), document.querySelector('[data-act=hold]').click()")
        assert page.button("hold").inner_text().strip() == "Hold: press again"     # at once
        page.await_text("#worst", "Hold: press again")     # whoever listens to the page hears it there
        assert stand.wishes == []
        page.tab.wait_for_timeout(TWICE_MS)
        page.button("hold").click()
        assert stand.wait_for(Wish, lambda wish: wish.run == stand.run).action == "hold"


@pytest.mark.parametrize(("ms", "counts"), [
    (30, False), (110, False), (120, True), (150, True), (375, True), (3900, True), (4000, False),
])  # fmt: skip
def test_a_second_tap_counts_as_soon_as_no_finger_bounces_so_slowly(browser, stand, ms, counts):
    """From 120 ms on (common practice, no source), to 4 s; the page's own clock is an argument."""
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        found = page.ask(f"""(() => {{
          const offer = {{ action: 'hold', does: 'hold' }};
          return [1000, 1000 + {ms}].map((ms) => board._buttons.counts(offer, ms));
        }})()""")
        assert found == [False, counts]


def test_hold_stands_there_without_more_through_a_cue(browser, stand):
    stand.show(running(112), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.await_that("Boolean(board.channels.showing()) && more.hidden")
        page.button("hold").click()
        page.await_text("#bar", "Hold: press again")
        page.tab.wait_for_timeout(TWICE_MS)
        page.button("hold").click()
        assert stand.wait_for(Wish, lambda wish: wish.run == stand.run).action == "hold"


@pytest.mark.parametrize("size", [UPRIGHT, LYING, (360, 740), (740, 360), (568, 320)])
def test_more_covers_no_word_of_a_cue(browser, stand, size):
    stand.show(running(112), IN_MATCH, anew=True)
    with board(browser, stand, size=size) as page:
        page.knows()
        page.await_that("Boolean(board.channels.showing())")
        page.button("more").click()
        page.await_that("!more.hidden && !word.hidden")
        page.tab.wait_for_timeout(100)                     # a frame
        assert page.ask("word.getBoundingClientRect().bottom <= more.getBoundingClientRect().top")
        assert page.ask("parseFloat(getComputedStyle(word).fontSize)") >= 16


def test_more_stays_while_a_finger_is_on_it(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("more").click()
        page.await_that("!more.hidden")
        found = page.ask("""(() => {
          board._buttons._moreMs -= 11000;
          more.dispatchEvent(new PointerEvent('pointerdown', { bubbles: true }));
          board.tick();
          return more.hidden;
        })()""")
        assert found is False


def test_undo_says_that_it_takes_all_of_a_half_home_back(browser, stand):
    """As the laptop's key does: two taps are one mark."""
    stand.says = {"undo": "undone"}
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("mark.home").click()
        page.await_text("[data-act=undo]", "Undo mark")
        page.ask("document.querySelector('[data-act=\"mark.home\"]').click()")
        page.ask("board._buttons.markedAt('home', board._buttons._notes.get('mark.home').beginNs + 1, 0)")
        page.await_text("[data-act=undo]", "Undo: takes back home")
        page.button("undo").click()
        page.await_text("[data-act=undo]", "Undo mark")


def test_undo_works_while_people_are_told_to_stay_outside(browser, stand):
    over = msgspec.structs.replace(running(170), phase="over", keeps_out=True, outside_until_ns=1 << 62)
    stand.show(over, (*MARKS, Offer(action="start", does="result")), anew=True)
    with board(browser, stand, "mark") as page:
        page.knows()
        page.await_text("#sign0", "Stay outside")
        page.button("undo").click()
        assert stand.wait_for(Wish, lambda wish: wish.run == stand.run).action == "undo"


def test_a_question_that_nobody_answers_is_asked_anew(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("hold").click()
        page.await_text("#bar", "Hold: press again")
        page.ask("board._buttons._sure.ms -= 4000")
        page.await_that("!bar.textContent.includes('press again')")
        page.button("hold").click()
        page.await_text("#bar", "Hold: press again")
        assert stand.wishes == []


def test_hold_is_reached_by_keys_alone_and_a_key_that_is_held_down_answers_no_question(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("hold").focus()
        page.tab.keyboard.down("Enter")
        page.await_text("#bar", "Hold: press again")
        page.tab.wait_for_timeout(TWICE_MS)
        page.tab.keyboard.down("Enter")                    # what a system sends again and again
        page.tab.wait_for_timeout(100)
        assert stand.wishes == []
        page.tab.keyboard.up("Enter")
        page.tab.keyboard.press("Enter")
        assert stand.wait_for(Wish, lambda wish: wish.run == stand.run).action == "hold"


def test_a_mark_is_held_down_counts_its_tenths_and_comes_with_both_times(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        before_ns, after_ns, down = hold_down(page, "mark.contact", 450)
        mark = stand.wait_for(Marked, lambda mark: mark.run == stand.run)
        assert page.ask("getComputedStyle(document.querySelector('[data-act=\"mark.contact\"]')).boxShadow") == "none"
    assert mark.label == "contact"
    assert before_ns - mark.error_ns <= mark.begin_ns <= mark.end_ns - 0.4 * S
    assert mark.end_ns <= after_ns + mark.error_ns
    assert down.split("\n")[0] == "Contact"
    assert down.rstrip().endswith(" s")
    assert len(stand.marks) == 1


@pytest.mark.parametrize("label", ["turned", "home", "contact_by_partner", "contact_by_opponent"])
def test_each_mark_has_a_button_of_its_own(browser, stand, label):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand, "mark") as page:
        page.knows()
        page.button(f"mark.{label}").click()
        assert stand.wait_for(Marked, lambda mark: mark.run == stand.run).label == label


def test_marks_wait_while_the_line_is_cut_even_if_the_page_is_loaded_anew(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with Between(stand.port) as line, board(browser, stand, address=line.address) as page:
        page.knows()
        line.cut()
        begin_ns, *_ = hold_down(page, "mark.contact", 200)
        hold_down(page, "mark.home", 50)
        page.await_text("#worst", "2 marks wait")
        assert stand.marks == []
        kept = page.ask("board.wishes.marks.map(({mark}) => mark.id)")
        line.mend()
        page.tab.reload()
        stand.wait_until(lambda: len(stand.marks) == 2)
        page.await_that("board.wishes.marks.length === 0")
    assert [mark.id for mark in stand.marks] == kept
    assert [mark.label for mark in stand.marks] == ["contact", "home"]
    assert abs(stand.marks[0].begin_ns - begin_ns) < S


def test_a_mark_that_was_not_sent_is_taken_back_on_the_phone(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with Between(stand.port) as line, board(browser, stand, address=line.address) as page:
        page.knows()
        line.cut()
        hold_down(page, "mark.contact", 50)
        hold_down(page, "mark.home", 50)
        page.button("undo").click()
        page.await_text("#worst", "Taken back before it was sent: Home")
        line.mend()
        page.await_that("board.wishes.marks.length === 0")
        assert [mark.label for mark in stand.marks] == ["contact"]
        page.button("undo").click()                    # now the laptop has it
        assert stand.wait_for(Wish, lambda wish: wish.run == stand.run).action == "undo"


def test_a_mark_whose_answer_was_lost_is_taken_back_at_the_laptop_which_has_it(browser, stand):
    """Taken back on the phone alone it would stand there, and the next tap would say half home."""
    stand.says = {"undo": "undone"}
    stand.show(running(60), IN_MATCH, anew=True)
    loses = [True]

    def lost(route):
        if loses:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    with board(browser, stand) as page:
        page.knows()
        page.tab.route("**/api/1/marks", lost)
        page.button("mark.home").click()
        page.await_that("board.wishes.marks[0].sent && !board.wishes._sending")
        [sent] = stand.marks
        page.button("undo").click()
        page.button("mark.home").click()
        loses.clear()
        page.await_that("board.wishes.marks.length === 0")
        page.tab.unroute_all(behavior="wait")
    came = [message for message in stand.ups if isinstance(message, Marked | Wish) and message.run == stand.run]
    assert [message.id for message in came if isinstance(message, Marked)] == [sent.id, stand.marks[1].id]
    assert [getattr(message, "action", "mark") for message in came] == ["mark", "undo", "mark"]
    assert [wish.action for wish in stand.wishes] == ["undo"]


def test_marks_are_sent_though_the_phone_has_no_room_to_keep_them(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.ask("board.wishes._storage = { setItem() { throw new Error('full'); } }; 0")
        page.button("mark.contact").click()
        page.button("mark.turned").click()
        stand.wait_until(lambda: len(stand.marks) == 2)
        page.await_that("board.wishes.marks.length === 0")


def test_a_mark_is_right_though_the_phone_did_not_know_the_time_when_it_was_noted(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with Between(stand.port) as line, board(browser, stand, address=line.address) as page:
        page.knows()
        line.cut()
        page.ask("CLOCK.aheadNs += 5e9; board.clock.anew(true)")         # as after a sleep
        before_ns, after_ns, _ = hold_down(page, "mark.contact", 100)
        line.mend()
        mark = stand.wait_for(Marked, lambda mark: mark.run == stand.run)
    assert before_ns - mark.error_ns <= mark.begin_ns <= mark.end_ns <= after_ns + mark.error_ns


def test_a_second_code_gives_the_right_once_and_the_laptop_takes_it_back(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand, "watch") as page:
        page.knows()
        assert page.tab.locator("#zone").is_hidden()
        stand.down(Grant(secret="a-secret_1", right="mark", until_ns=monotime.now_ns() + 60 * S))
        stand.show(running(60, typed="1:2_"), IN_MATCH)
        page.await_text("#typed", "1:2_")
        page.ask("location.hash = '#g=a-secret_1'")
        page.await_that("!document.querySelector('#zone').hidden")
        assert page.ask("location.hash") == ""
        assert page.button("mark.contact").is_visible()
        assert page.button("more").is_disabled()
        page.ask("location.hash = '#g=a-secret_1'")
        page.await_text("#worst", "code")              # it was for one phone
        stand.down(Revoke())
        page.await_that("document.querySelector('#zone').hidden")


def test_no_token_is_in_any_address_or_in_what_is_kept_of_where_people_were(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("mark.contact").click()
        stand.wait_for(Marked, lambda mark: mark.run == stand.run)
        assert page.ask("location.href") == stand.address
        sent = [url.partition("#")[0] for url in page.requests]
        assert {url.startswith(stand.address) for url in sent} == {True}
        assert not any(TOKENS.steer in url for url in sent)
        assert page.ask("document.cookie") == ""


def test_undo_is_offered_only_where_something_can_be_taken_back(browser, stand):
    stand.show(running(60), MARKS, anew=True)
    with board(browser, stand) as page:
        page.knows()
        assert page.button("undo").is_disabled()
        stand.show(running(60), (*MARKS, UNDO))
        page.await_that("!document.querySelector('[data-act=undo]').disabled")


def test_a_finger_that_is_down_as_the_match_ends_leaves_its_mark_open_in_that_match(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    of = stand.run
    with board(browser, stand) as page:
        page.knows()
        box = page.button("mark.contact").bounding_box()
        page.tab.mouse.move(box["x"] + 20, box["y"] + 20)
        page.tab.mouse.down()
        page.await_that("board._presses.down.size === 1")
        stand.show(STANDBY, (START,), anew=True)
        mark = stand.wait_for(Marked, lambda mark: mark.run == of)
        page.tab.mouse.up()
        page.tab.wait_for_timeout(200)
    assert mark.end_ns is None
    assert len(stand.marks) == 1


def test_answers_to_a_question_stand_there_by_themselves(browser, stand):
    answers = (Offer(action="plan.1", does="robot broke"), Offer(action="keep", does="keep it"))
    over = msgspec.structs.replace(running(170), phase="over", ask="Why not?", result=("Late",))
    stand.show(over, answers, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.await_text("#worst", "Why not?")          # the answers lie over the plate
        page.button("plan.1").click()
        assert stand.wait_for(Wish, lambda wish: wish.run == stand.run).action == "plan.1"


@pytest.mark.parametrize("size", [UPRIGHT, LYING, (320, 568), (568, 320), (600, 582), (1024, 768)])
def test_a_pad_says_at_once_that_it_was_pressed_though_a_cue_fills_the_rest(browser, stand, size):
    """Home, pressed again because nothing seemed to happen, would be half home."""
    stand.show(running(112), IN_MATCH, anew=True)      # the call home
    pads = ["mark.turned", "mark.contact_by_partner", "mark.home", "mark.home", "mark.home", "undo", "mark.home"]
    with board(browser, stand, size=size) as page:
        page.knows()
        page.await_that("Boolean(board.channels.showing())")
        assert page.ask(SAID, pads) == [
            "noted", "noted", "noted", "half home", "not home", "taken back", "noted",
        ]  # fmt: skip
        page.await_that("document.querySelectorAll('.noted').length === 0")


def test_what_was_noted_is_said_in_the_line_while_a_cue_hides_the_plate(browser, stand):
    stand.says = {"turned": "turned noted"}
    stand.show(running(112, notice="turned noted"), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.await_that("Boolean(board.channels.showing())")
        page.button("mark.turned").click()
        page.await_text("#worst", "turned noted")


def test_marks_that_wait_are_told_as_soon_as_a_question_fails(browser, stand):
    """A network that is half cut carries what the laptop says and no answer."""
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.tab.route("**/api/1/marks", lambda route: route.abort())
        page.button("mark.contact").click()
        page.await_that("document.querySelector('[data-act=\"mark.contact\"]').lastChild.textContent === 'waits'")
        page.await_text("#worst", "The laptop does not answer: 1 mark waits")
        assert page.ask("board.line.is") == "open"
        page.tab.unroute("**/api/1/marks")
        page.await_that("board.wishes.marks.length === 0 && !board.line.late")


def test_a_question_without_an_answer_for_two_seconds_is_late(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with Between(stand.port) as line, board(browser, stand, address=line.address) as page:
        page.knows()
        line.cut()
        page.button("mark.contact").click()
        page.await_text("#worst", "The laptop does not answer: 1 mark waits")
        assert not page.ask("board.line.unheard(performance.now())")


def test_what_steers_is_grey_and_says_why_while_the_laptop_is_not_heard(browser, stand):
    stand.show(STANDBY, (START, Offer(action="variant", does="variant")), anew=True)
    with Between(stand.port) as line, board(browser, stand, address=line.address) as page:
        page.knows()
        page.button("more").click()
        assert page.button("start").is_enabled()
        line.cut()
        page.await_that("document.querySelector('[data-act=start]').disabled")
        assert "laptop not heard" in page.button("start").inner_text()
        assert page.button("variant").is_disabled()
        line.mend()
        page.await_that("!document.querySelector('[data-act=start]').disabled")
        assert page.button("start").inner_text().strip() == "Start"


@pytest.mark.parametrize("right", ["watch", "mark"])
def test_a_phone_that_may_not_start_names_the_place_of_a_key(browser, stand, right):
    over = msgspec.structs.replace(running(170), phase="over", ask="Press s: next round", result=("Late",))
    stand.show(over, MARKS, anew=True)
    with board(browser, stand, right) as page:
        page.knows()
        page.await_text("#prompt", "At the laptop: Press s: next round")


def test_more_goes_with_a_cue_and_after_ten_seconds_of_a_match(browser, stand):
    stand.show(running(60), IN_MATCH, anew=True)
    with board(browser, stand) as page:
        page.knows()
        page.button("more").click()
        page.await_that("!more.hidden")
        page.ask("board._buttons._moreMs -= 10000")
        page.await_that("more.hidden")
        page.button("more").click()
        page.await_that("!more.hidden")
        stand.show(running(112), IN_MATCH)
        page.await_that("Boolean(board.channels.showing()) && more.hidden")
