"""Models of three sites, a design with cold rooms, and a file of readings taken there."""

from __future__ import annotations

import pytest

from heatloop.diagnosis.site_model.prediction import site_model
from tests.helpers.diagnosis.sites import FROM_MIDDLE, ONE_WAY, quick_design
from tests.helpers.paths import DATA


@pytest.fixture(scope="module", params=[9000, ONE_WAY, FROM_MIDDLE])
def model(request):
    return site_model(quick_design(request.param, 4), thermostatic_heads_removed=True)


@pytest.fixture(scope="module")
def design(alder_draft):
    return alder_draft


@pytest.fixture(scope="module")
def text():
    return (DATA / "alder-lodge" / "readings-air.csv").read_text(encoding="utf-8")
