"""One browser for all tests that look at a page."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from heatloop.report.files.export import ReportError
from heatloop.report.files.pdf import find_chromium
from tests.helpers.browser import Browser


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, started once; skips the test where there is none."""
    try:
        find_chromium()
    except ReportError as error:
        pytest.skip(str(error))
    with Browser() as one:
        yield one
