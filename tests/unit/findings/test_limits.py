"""Checks against a limit: met at the limit itself and within rounding, and what is recommended otherwise."""

from __future__ import annotations

import pytest

from heatloop.findings.limits import CheckResult, Limit, Outcome, check_at_least, check_at_most

FAIL = Limit("velocity", "m/s", "a source", "a wider pipe")
CAUTION = Limit("velocity", "m/s", "a source", "a wider pipe", "caution")


@pytest.mark.parametrize(
    ("value", "at_most", "at_least"),
    [(0.9, "pass", "fail"), (1.0, "pass", "pass"), (1.0 + 1e-10, "pass", "pass"), (1.1, "fail", "pass")],
)
def test_the_limit_itself_is_met(value: float, at_most: Outcome, at_least: Outcome) -> None:
    assert check_at_most(FAIL, "loop A", value, 1.0).verdict == at_most
    assert check_at_least(FAIL, "loop A", value, 1.0).verdict == at_least


def test_a_limit_below_zero_has_its_rounding_on_the_same_side() -> None:
    assert check_at_most(FAIL, "loop A", -5.0, -5.0).verdict == "pass"
    assert check_at_most(FAIL, "loop A", -4.9, -5.0).verdict == "fail"
    assert check_at_least(FAIL, "loop A", -5.1, -5.0).verdict == "fail"


def test_a_row_has_the_words_of_its_limit_and_a_recommendation_only_where_it_is_not_met() -> None:
    assert check_at_most(CAUTION, "loop A", 2, 1) == CheckResult(
        "velocity", "loop A", 2.0, 1.0, "m/s", "caution", "a source", "a wider pipe"
    )
    assert check_at_most(CAUTION, "loop A", 1, 2).recommendation == ""


@pytest.mark.parametrize("value", [float("nan")])
def test_a_figure_that_is_missing_is_never_within_a_limit(value: float) -> None:
    assert check_at_most(FAIL, "loop A", value, 1.0).verdict == "fail"
    assert check_at_least(FAIL, "loop A", value, 1.0).verdict == "fail"
