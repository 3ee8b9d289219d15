"""EPANET keeps scratch files in the folder it runs in: run in a folder of the tests' own.

With HEATLOOP_AGREEMENT=FILE the worst deviation of every comparison is written there.
"""

import os
from pathlib import Path

import pytest

from tests.helpers.agreement import keep


@pytest.fixture(autouse=True, scope="module")
def a_folder_of_its_own(tmp_path_factory):
    before = os.getcwd()
    os.chdir(tmp_path_factory.mktemp("epanet"))
    yield
    os.chdir(before)


def pytest_sessionfinish():
    if "HEATLOOP_AGREEMENT" in os.environ:
        keep(Path(os.environ["HEATLOOP_AGREEMENT"]))
