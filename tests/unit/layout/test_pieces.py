"""A wall is made up of the fewest equal pieces; lengths are whole nanometres."""

from __future__ import annotations

import pytest

from heatloop.layout.pieces import split_cuts_m
from heatloop.layout.walls import rounded_length


@pytest.mark.parametrize(
    ("length_m", "ends_m", "joint_m", "longest_m", "cuts_m"),
    [
        (4.0, 0.0, 0.005, 4.0, (4.0,)),
        (4.1, 0.1, 0.005, 4.0, (4.0,)),
        (4.11, 0.1, 0.005, 4.0, (2.0, 2.0)),
        (12.02, 0.0, 0.005, 4.0, (4.0, 4.0, 4.0)),
        (12.03, 0.0, 0.005, 4.0, (3.0, 3.0, 3.0, 3.0)),
    ],
)
def test_a_wall_is_made_up_of_the_fewest_equal_pieces(
    length_m: float, ends_m: float, joint_m: float, longest_m: float, cuts_m: tuple[float, ...]
) -> None:
    assert split_cuts_m(length_m, ends_m, joint_m, longest_m) == pytest.approx(cuts_m)


def test_lengths_are_rounded_to_the_nanometre() -> None:
    assert rounded_length(1.23456789049) == 1.23456789
    assert str(rounded_length(-1e-12)) == "0.0"
