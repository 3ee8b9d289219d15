"""Formulas of physics refuse arguments without sense in one clear line."""

import pytest

from heatloop.physics import water
from heatloop.physics.ducts import Duct, oval_duct, rectangular_duct, round_duct
from heatloop.physics.friction import (
    darcy_friction_factor,
    friction_table,
)
from heatloop.physics.pressurisation import (
    dose_l,
    expansion_by_density,
    expansion_en_12828,
    fill_pressures,
    final_under_relief_kpa,
    hot_pressure_kpa,
    strength_test_kpa,
    vessel_need,
)
from heatloop.physics.thermal_expansion import free_end_gap_mm, thermal_expansion_mm
from heatloop.physics.valves import (
    authority,
    flow_from_pressure_drop_m3_h,
    kv_at_setting,
    kv_from_cv,
    kv_from_pressure_drop,
    kv_from_zeta,
    nearest_setting,
    pressure_drop_from_kv_pa,
    setting_for_kv,
    valve_drop_for_authority_pa,
)

LOCKSHIELD = [0.10, 0.22, 0.40, 0.65, 0.95, 1.30]
REFUSALS = {
    "bore_m = -0.01: must be above 0": lambda: round_duct(-0.01),
    "height_m = 0: must be above 0": lambda: oval_duct(0.02, 0.0),
    "width_m = nan: must be above 0": lambda: rectangular_duct(float("nan"), 0.01),
    "laminar_f_re = -1: must be above 0": lambda: Duct(1e-4, 0.04, -1.0),
    "re = 0: must be above 0": lambda: darcy_friction_factor([10.0, 0.0], 0.0),
    "relative_roughness = 0.2: must be 0 to 0.05": lambda: friction_table([0.0, 0.2], 64.0),
    "laminar_f_re = 0: must be above 0": lambda: darcy_friction_factor(10.0, 0.0, 0.0),
    "pressure_pa = 1000: must be 50000 to 2000000": lambda: water.plain_water(1000.0),
    "mass_fraction = 0.7: must be above 0, at most 0.6": lambda: water.mixture("ethylene glycol", 0.7),
    "kind = 'brine': must be one of propylene glycol, ethylene glycol": lambda: water.freezing_point_c("brine", 0.3),
    "volume_fraction = 30: must be 0 to 1": lambda: water.mass_fraction_from_volume_fraction("ethylene glycol", 30),
    "kv_m3_h = 0: must be above 0": lambda: pressure_drop_from_kv_pa(0.1, 0.0, 990.0),
    "flow_m3_h = inf: must be a finite number": lambda: pressure_drop_from_kv_pa(float("inf"), 1.0, 990.0),
    "density_kg_m3 = -1: must be above 0": lambda: flow_from_pressure_drop_m3_h(100.0, 1.0, -1.0),
    "pressure_drop_pa = 0: must be above 0": lambda: kv_from_pressure_drop(0.1, 0.0, 990.0),
    "cv = 0: must be above 0": lambda: kv_from_cv(0.0),
    "zeta = -1: must be above 0": lambda: kv_from_zeta(-1.0, 0.01),
    "rest_drop_pa = -5: must be 0 or above": lambda: authority(10.0, -5.0),
    "required_authority = 1: must be between 0 and 1": lambda: valve_drop_for_authority_pa(1.0, 10.0),
    "setting = 0.5: must be 1 to 6": lambda: kv_at_setting(0.5, LOCKSHIELD),
    "kv_m3_h = 2: must be 0.1 (setting 1) to 1.3 (setting 6)": lambda: setting_for_kv(2.0, LOCKSHIELD),
    "kv_by_setting, setting 2: 0.1, must be above 0.1": lambda: kv_at_setting(1.0, [0.1, 0.1]),
    "kv_by_setting is empty": lambda: nearest_setting(1.0, []),
    "max_temp_c = 10: must be at least fill_c, 20": lambda: expansion_by_density(water.plain_water(), 20.0, 10.0),
    "max_temp_c = 120: must be 30 to 110": lambda: expansion_en_12828(120.0),
    "relief_kpa = 40: must be above 50": lambda: final_under_relief_kpa(40.0),
    "content_l = 0: must be above 0": lambda: vessel_need(0.0, 0.02, 100.0, 250.0),
    "expansion = 2.8: must be a fraction from 0 to 0.2": lambda: vessel_need(100.0, 2.8, 100.0, 250.0),
    "precharge_kpa = -1: must be 0 or above": lambda: vessel_need(100.0, 0.02, -1.0, 250.0),
    "final_kpa = 100: must be above the precharge, 100": lambda: vessel_need(100.0, 0.02, 100.0, 100.0),
    "vessel_l = 18: must be at least 20.11": lambda: fill_pressures(18.0, 200.0, 0.0281, 100.0, 250.0),
    "fill_kpa = 90: must be at least the precharge, 100": lambda: hot_pressure_kpa(18.0, 2.0, 100.0, 90.0),
    "expansion_l = 18: must be below 14.4": lambda: hot_pressure_kpa(18.0, 18.0, 100.0, 150.0),
    "factor = 0.9: must be 1 or above": lambda: strength_test_kpa(300.0, 0.9),
    "percent = 101: must be 0 to 100": lambda: dose_l(100.0, 101.0),
    "length_m = -1: must be 0 or above": lambda: thermal_expansion_mm(-1.0, 23e-6, 10.0),
    "expansion_1_k = 0: must be above 0": lambda: thermal_expansion_mm(1.0, 0.0, 10.0),
    "installation_temp_c = 80: must be at most hottest_c, 70": lambda: free_end_gap_mm(1.0, 23e-6, 80.0, 70.0),
    "min_gap_mm = -1: must be 0 or above": lambda: free_end_gap_mm(1.0, 23e-6, 10.0, 70.0, -1.0),
}


@pytest.mark.parametrize("message", REFUSALS)
def test_bad_arguments_are_refused_in_one_clear_line(message):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011 (the text is compared below, as a string)
        REFUSALS[message]()
    assert str(refusal.value).startswith(message)
    assert "\n" not in str(refusal.value)
