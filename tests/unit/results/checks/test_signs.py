"""The sign of a limit, read from what was found."""

from __future__ import annotations

import dataclasses
import math

import pytest

import heatloop as hl
from heatloop.findings.limits import Limit, check_at_least, check_at_most
from heatloop.results.checks.signs import limit_signs

LIMIT = Limit("check", "kPa", "source", "remedy")


@pytest.mark.parametrize("value", [-3.0, 0.5, 1.0, 7.0])
def test_the_sign_is_that_of_the_check(value: float) -> None:
    below, above = check_at_most(LIMIT, "here", value, 1.0), check_at_least(LIMIT, "here", value, 1.0)
    other = dataclasses.replace(LIMIT, check="another")
    known = [check_at_most(LIMIT, "there", 0.0, 1.0), check_at_least(other, "there", 2.0, 1.0)]
    rows = [dataclasses.asdict(one) for one in (below, dataclasses.replace(above, check="another"), *known)]
    assert limit_signs(rows)[:2] == ["≤", "≥"]


def test_nothing_is_said_of_what_was_not_found() -> None:
    row = dataclasses.asdict(check_at_most(LIMIT, "here", math.nan, 1.0))
    assert limit_signs([row]) == [""]


def test_one_check_has_one_sign(alder_draft: hl.Design) -> None:
    rows = alder_draft.checks.to_dict("records")
    signs: dict[str, set[str]] = {}
    for row, sign in zip(rows, limit_signs(rows), strict=True):
        signs.setdefault(row["check"], set()).add(sign)
    assert {check for check, found in signs.items() if len(found - {""}) > 1} == set()
    assert signs["heat to the room"] == {"≥"}
    assert signs["water velocity"] == {"≤"}
