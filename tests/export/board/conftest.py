"""A browser and a service with the bundled plan, once a file."""

import pytest

from tests.support.export.board_stand import BoardService
from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import browser as chromium


@pytest.fixture(scope="module")
def browser():
    with chromium() as started:
        yield started


@pytest.fixture(scope="module")
def stand():
    made = BoardService(bundled("full"))
    yield made
    made.end()
