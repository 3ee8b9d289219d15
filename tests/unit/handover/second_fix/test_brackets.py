"""Places of brackets along a piece."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.handover.second_fix.brackets import fixing_positions_m


@settings(max_examples=200, deadline=None)
@given(
    length_m=st.floats(0.05, 8.0),
    spacing_m=st.floats(0.1, 2.0),
    end_m=st.none() | st.floats(0.0, 0.5),
)
def test_fixings_stand_near_the_ends_and_close_enough_and_no_more_than_needed(
    length_m: float, spacing_m: float, end_m: float | None
) -> None:
    at = fixing_positions_m(length_m, spacing_m, end_m)
    max_end_m = spacing_m / 2 if end_m is None else end_m
    assert len(at) >= 2
    assert at[0] == pytest.approx(length_m - at[-1], abs=2e-6)
    gaps = [b - a for a, b in pairwise(at)]
    if length_m > 2 * max_end_m:
        assert at[0] <= max_end_m + 2e-6
        assert max(gaps) <= spacing_m + 4e-6
        assert len(at) == 2 or max(gaps) * len(gaps) / (len(gaps) - 1) > spacing_m - 1e-5
    else:
        assert at == pytest.approx((length_m / 4, 3 * length_m / 4), abs=2e-6)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ((0.0, 0.6, 0.1), "length_m = 0: must be above 0"),
        ((1.0, -0.6, 0.1), "spacing_m = -0.6: must be above 0"),
        ((1.0, 0.6, -0.1), "end_m = -0.1: must be 0 or above"),
    ],
)
def test_fixings_that_cannot_be(values: tuple[float, float, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fixing_positions_m(*values)
