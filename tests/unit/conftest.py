"""A job that a test may change, and what is handed over of the smallest demonstration job."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.helpers.paths import DATA

MILL = DATA / "mill-annexe"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A folder with a good survey and its catalogue."""
    shutil.copytree(MILL, tmp_path / "job")
    return tmp_path / "job"


@pytest.fixture(scope="module")
def parts(mill_annexe):
    return mill_annexe.parts()


@pytest.fixture(scope="module")
def first_fix(mill_annexe):
    return mill_annexe.first_fix()


@pytest.fixture(scope="module")
def commissioning(mill_annexe):
    return mill_annexe.commissioning(outdoor_c=5.0)
