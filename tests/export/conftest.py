"""A browser and the bundled plan's page, once a file."""

import pytest

from tests.support.export.exported_plans import bundled
from tests.support.export.page_stand import browser, write_page


@pytest.fixture(scope="module")
def running():
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    return write_page(tmp_path_factory.mktemp("full"), bundled("full"))
