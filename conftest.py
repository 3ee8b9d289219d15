"""Examples in docstrings name the demonstration files from the root of the checkout, wherever the tests are started."""

from pathlib import Path

import pytest
from _pytest.doctest import DoctestItem


@pytest.fixture(autouse=True)
def _examples_run_from_the_root(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if isinstance(request.node, DoctestItem):
        monkeypatch.chdir(Path(__file__).parent)
