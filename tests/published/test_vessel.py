"""Expansion vessel, fill and strength test, sources in data/published/vessel.csv."""

import pytest

from heatloop.physics.pressurisation import (
    dose_l,
    fill_pressures,
    final_under_relief_kpa,
    hot_pressure_kpa,
    static_head_kpa,
    strength_test_kpa,
    vessel_need,
)
from heatloop.survey.water_system import PressureTest
from tests.helpers.published import replayed

QUANTITIES = {
    "min_volume_l": lambda **inputs: vessel_need(**inputs).min_volume_l,
    "expansion_l": lambda **inputs: vessel_need(**inputs).expansion_l,
    "reserve_l": lambda **inputs: vessel_need(**inputs).reserve_l,
    "min_fill_kpa": lambda **inputs: fill_pressures(**inputs).min_kpa,
    "max_fill_kpa": lambda **inputs: fill_pressures(**inputs).max_kpa,
    "strength_test_kpa": strength_test_kpa,
    "settle_minutes": lambda: PressureTest.settle_minutes,
    "final_under_relief_kpa": final_under_relief_kpa,
    "static_head_kpa": static_head_kpa,
    "dose_l": dose_l,
}


test_published_row = replayed("vessel", __name__, QUANTITIES)


@pytest.mark.parametrize("content_l", [40.0, 200.0, 900.0])
@pytest.mark.parametrize("expansion", [0.005, 0.0281])
def test_vessel_obeys_boyles_law(content_l, expansion):
    """Pressure times gas volume is the same empty, filled and hot, whatever the rules round it."""
    precharge, final, atmosphere = 120.0, 250.0, 100.0
    need = vessel_need(content_l, expansion, precharge, final)
    gas = need.min_volume_l * (precharge + atmosphere)
    assert (need.min_volume_l - need.reserve_l - need.expansion_l) * (final + atmosphere) == pytest.approx(gas)

    vessel_l = 1.3 * need.min_volume_l + 3.0
    fill = fill_pressures(vessel_l, content_l, expansion, precharge, final)
    assert precharge < fill.min_kpa < fill.max_kpa < final
    assert hot_pressure_kpa(vessel_l, need.expansion_l, precharge, fill.max_kpa) == pytest.approx(final)
    assert hot_pressure_kpa(vessel_l, need.expansion_l, precharge, fill.min_kpa) < final

    tight = fill_pressures(need.min_volume_l, content_l, expansion, precharge, final)
    assert tight.min_kpa == pytest.approx(tight.max_kpa)
