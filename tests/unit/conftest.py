"""A job that a test may change, one browser, one JupyterLab, what is handed over of the smallest demonstration job."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import heatloop as hl
from heatloop.report.files.export import ReportError
from heatloop.report.files.pdf import find_chromium
from tests.helpers.estimated_rooms import CATALOGUE, PRICES, ROOMS
from tests.helpers.paths import DATA

if TYPE_CHECKING:
    from tests.helpers.browser import Browser
    from tests.helpers.notebook_server import NotebookServer

MILL = DATA / "mill-annexe"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Chromium, started once; skips the test where there is none."""
    try:
        find_chromium()
    except ReportError as error:
        pytest.skip(str(error))
    pytest.importorskip("websocket")
    from tests.helpers.browser import Browser

    with Browser() as one:
        yield one


@pytest.fixture
def browser(chromium: Browser) -> Browser:
    """The browser of the session, with nothing of an earlier test."""
    chromium.clear()
    return chromium


@pytest.fixture(scope="session")
def notebooks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[NotebookServer]:
    """JupyterLab, started once."""
    pytest.importorskip("jupyterlab")
    from tests.helpers.notebook_server import notebook_server

    with notebook_server(tmp_path_factory.mktemp("lab")) as served:
        yield served


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A folder with a good survey and its catalogue."""
    shutil.copytree(MILL, tmp_path / "job")
    return tmp_path / "job"


@pytest.fixture(scope="session")
def schedule() -> hl.Survey:
    """Two rooms, by their heat loss and the length of their walls."""
    return hl.survey_from_schedule(ROOMS, CATALOGUE, -3.0, 50.0)


@pytest.fixture(scope="session")
def estimate(schedule: hl.Survey) -> hl.Estimate:
    """Of the two rooms, at three flow temperatures."""
    return hl.estimate(schedule, PRICES, [55.0, 40.0, 45.0])


@pytest.fixture(scope="module")
def parts(mill_annexe):
    return mill_annexe.parts()


@pytest.fixture(scope="module")
def first_fix(mill_annexe):
    return mill_annexe.first_fix()


@pytest.fixture(scope="module")
def commissioning(mill_annexe):
    return mill_annexe.commissioning(outdoor_c=5.0)
