"""Heights and marks of pipes as the supplier draws them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.positions import channel_heights_m, pipe_positions_m
from heatloop.survey.survey import SurveyData
from tests.helpers.first_fixes import first_fix_of


def test_heights_as_the_supplier_draws_them(alder: SurveyData) -> None:
    fix = first_fix_of(alder, FirstFixOptions(channel_heights_mm={"two-channel 140": (110.0, 45.0)}))
    assert set(fix.pipe_positions.loc[fix.pipe_positions["use"] == "crossing", "height_m"]) == {0.110, 0.045}
    profile = alder.catalogue.profile("three-channel 175")
    assert channel_heights_m(profile, {}) == pytest.approx([0.175 * 5 / 6, 0.0875, 0.175 / 6])
    lower_first = replace(profile, channels=profile.channels[::-1])
    assert channel_heights_m(lower_first, {}) == pytest.approx([0.175 / 6, 0.0875, 0.175 * 5 / 6])


def test_pipes_where_nothing_is_taken_off() -> None:
    # side by side from the edge: 15 mm and 5 mm between
    assert pipe_positions_m(1.0, 1, 0.0, 2, 0.015) == (1.03, 1.01)
    assert pipe_positions_m(1.0, -1, 0.0, 1, 0.015) == (0.99,)
