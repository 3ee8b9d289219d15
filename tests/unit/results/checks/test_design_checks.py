"""A calculation whose balances do not close fails its design."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.results.checks.design_checks import design_checks
from heatloop.results.checks.limits import RESIDUAL


@pytest.fixture(scope="module")
def design(alder_draft: hl.Design) -> hl.Design:
    return alder_draft


def test_a_calculation_whose_balances_do_not_close_fails_its_design(design):
    frames, facts = design.frames, dict(design.summary)
    rows = design_checks(design.survey, frames, facts)
    balances = rows[rows["check"] == RESIDUAL.check]
    assert list(balances["verdict"]) == ["pass"] * 4
    for miss in (2e-9, float("nan")):
        rows = design_checks(design.survey, frames, facts | {"residual_energy": miss})
        failed = rows[rows["verdict"] == "fail"]
        assert "energy" in set(failed["location"][failed["check"] == RESIDUAL.check])
