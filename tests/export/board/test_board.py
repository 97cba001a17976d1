"""The board in a browser: it shows what the laptop shows, by the laptop's clock."""

import pytest

from tests.support.export.board_stand import board, now_ns
from tocsin.model.clock.origins import Origin
from tocsin.model.display.status import Status
from tocsin.model.timeline.timeline import MATCH
from tocsin.units import NS_PER_S as S

pytestmark = pytest.mark.devices


def running_since(match_s, **rest):
    """Return the status of a match that has run so long."""
    origin = Origin(anchor=MATCH, origin_ns=now_ns() - round(match_s * S))
    return Status(phase="running", origins=(origin,), error_ms=100, **rest)


def test_it_shows_digits_title_what_comes_and_a_cue(running, stand):
    stand.show(running_since(60), run=1)
    with board(running, stand.address) as page:
        page.enter()
        page.await_that("board.clock.known && board.channels !== null")
        page.await_that("!document.querySelector('#digits').hidden")
        left = page.row("digits")
        assert left.startswith("1:1")
        assert page.row("title") == "Hands on"
        assert page.row("ahead0").startswith("LAST ONE in ")
        stand.show(running_since(112), run=2)
        page.await_that("!document.querySelector('#word').hidden")
        said = page.ask("document.querySelector('#said').textContent")
        assert said in ("Call home", "Home")           # the second one if this machine is busy
        assert page.row("word").replace(" ", "") in ("CALLHOME", "HOME")
