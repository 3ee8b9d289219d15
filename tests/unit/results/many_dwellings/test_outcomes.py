"""Outcomes of the checks of many dwellings: what a single check decides, for arrays."""

import numpy as np
import pytest

from heatloop.findings.limits import Limit, check_at_least, check_at_most
from heatloop.results.many_dwellings.outcomes import Outcomes

FAIL, CAUTION = Limit("first", "m", "a source", "a remedy"), Limit("second", "m", "a source", "a remedy", "caution")
VALUES = np.array([0.5, 1.0, 1.0 + 1e-12, 1.0 + 1e-6, 2.0, np.nan])


@pytest.mark.parametrize("way", ["at_most", "at_least"])
def test_arrays_have_the_outcomes_of_single_checks(way):
    outcomes, single = Outcomes(6), {"at_most": check_at_most, "at_least": check_at_least}[way]
    getattr(outcomes, way)(FAIL, np.arange(6), lambda i: f"place {i}", VALUES, 1.0)
    for i, value in enumerate(VALUES):
        expected = single(FAIL, f"place {i}", value, 1.0)
        assert [repr(result) for result in outcomes.unmet[i]] == (
            [repr(expected)] if expected.verdict != "pass" else []
        )


def test_each_dwelling_has_its_number_of_outcomes_and_the_worst_of_them():
    outcomes = Outcomes(4)
    outcomes.at_most(CAUTION, np.array([1, 1, 2]), str, np.array([2.0, 3.0, 2.0]), np.array([1.0, 9.0, 1.0]))
    outcomes.add(2, [check_at_least(FAIL, "here", 0.0, 1.0), check_at_least(FAIL, "there", 2.0, 1.0)])
    outcomes.add(3, [check_at_least(FAIL, "there", 2.0, 1.0)])
    assert (outcomes.number("fail"), outcomes.number("caution")) == ([0, 0, 1, 0], [0, 1, 1, 0])
    assert outcomes.verdicts == ["all met", "caution", "fail", "all met"]
    columns = outcomes.columns(["a", "b", "c", "d"])
    assert columns["dwelling"] == ["b", "c", "c"]
    assert columns["location"] == ["0", "2", "here"]
