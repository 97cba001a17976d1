"""A browser and a service with the bundled plan, once a file."""

import pytest

from tests.support.export.board_stand import StandIn
from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import browser


@pytest.fixture(scope="module")
def running():
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def stand():
    made = StandIn(bundled("full"))
    yield made
    made.close()
