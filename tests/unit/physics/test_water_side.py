"""The water side of physics, each function's own duty: tables, limits, round trips and refusals."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatloop.physics import water
from heatloop.physics.ducts import Duct, oval_duct, rectangular_duct, round_duct
from heatloop.physics.friction import (
    darcy_friction_factor,
    friction_table,
    local_loss_pa,
    pressure_gradient_pa_m,
    reynolds,
)
from heatloop.physics.pressurisation import (
    dose_l,
    expansion_by_density,
    expansion_en_12828,
    fill_pressures,
    final_under_relief_kpa,
    hot_pressure_kpa,
    precharge_for_head_kpa,
    static_head_kpa,
    strength_test_kpa,
    vessel_need,
)
from heatloop.physics.thermal_expansion import free_end_gap_mm, gap_at_mm, thermal_expansion_mm
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
    zeta_from_kv,
)

PROPERTIES = ("density_kg_m3", "heat_capacity_j_kgk", "viscosity_pa_s", "conductivity_w_mk", "enthalpy_j_kg")
LOCKSHIELD = [0.10, 0.22, 0.40, 0.65, 0.95, 1.30]
RNG = np.random.default_rng(1)


# Water


def _library(t_c, pressure_pa, kind="HEOS", substance="Water", fraction=None):
    import CoolProp.CoolProp as coolprop

    state = coolprop.AbstractState(kind, substance)
    if fraction is not None:
        state.set_mass_fractions([fraction])
    rows = []
    for t in t_c:
        state.update(coolprop.PT_INPUTS, pressure_pa, t + 273.15)
        rows.append((state.rhomass(), state.cpmass(), state.viscosity(), state.conductivity(), state.hmass()))
    return np.array(rows).T


@pytest.mark.parametrize(("pressure_pa", "scatter"), [(250_000.0, 1e-9), (101_325.0, 2e-9), (600_000.0, 2e-9)])
def test_water_table_agrees_with_the_library(pressure_pa, scatter):
    """`scatter`: how far the library's enthalpy differences lie off the integral of its own heat capacity."""
    fluid = water.plain_water(pressure_pa)
    t_c = np.linspace(fluid.t_min_c, fluid.t_max_c, 1501)
    assert np.array(fluid.properties(t_c)) == pytest.approx(_library(t_c, pressure_pa), rel=1e-9)
    below = t_c[t_c < fluid.t_max_c - 1.0]
    expected = _library(below + 1.0, pressure_pa)[4] - _library(below, pressure_pa)[4]
    assert fluid.enthalpy_j_kg(below + 1.0) - fluid.enthalpy_j_kg(below) == pytest.approx(expected, rel=scatter)


@pytest.mark.parametrize(
    ("kind", "code", "fraction"), [("propylene glycol", "MPG", 0.3), ("ethylene glycol", "MEG", 0.5)]
)
def test_mixture_table_agrees_with_the_library(kind, code, fraction):
    fluid = water.mixture(kind, fraction)
    assert fluid.t_min_c == pytest.approx(water.freezing_point_c(kind, fraction) + 1.0)
    t_c = np.linspace(fluid.t_min_c, fluid.t_max_c, 1501)
    rho, cp, mu, k, h = _library(t_c, 250_000.0, "INCOMP", code, fraction)
    for ours, theirs in zip(fluid.properties(t_c)[:4], (rho, cp, mu, k), strict=True):
        assert ours == pytest.approx(theirs, rel=1e-8)
    # the library's enthalpy has a work term that its heat capacity lacks
    assert np.diff(fluid.enthalpy_j_kg(t_c)) == pytest.approx(np.diff(h), rel=4e-4)


@pytest.mark.parametrize("fluid", [water.plain_water(), water.mixture("propylene glycol", 0.4)], ids=lambda f: f.name)
def test_heat_capacity_is_the_slope_of_enthalpy_beyond_the_table_too(fluid):
    t_c = np.linspace(fluid.t_min_c - 20.0, fluid.t_max_c + 20.0, 777)
    slope = (fluid.enthalpy_j_kg(t_c + 0.01) - fluid.enthalpy_j_kg(t_c - 0.01)) / 0.02
    assert slope == pytest.approx(fluid.heat_capacity_j_kgk(t_c), rel=1e-7)


def test_properties_keep_shape_and_agree_with_the_single_methods():
    fluid = water.plain_water()
    many = RNG.uniform(-5.0, 120.0, (3, 3001))  # more than one chunk, and beyond both ends
    for t_c in (40.0, np.array([]), many[:, :4], many):
        together = fluid.properties(t_c)
        for name, value in zip(PROPERTIES, together, strict=True):
            assert np.shape(value) == np.shape(t_c)
            assert np.array_equal(getattr(fluid, name)(t_c), value)
    rho, cp, mu, k, _ = fluid.properties(60.0)
    assert fluid.prandtl(60.0) == pytest.approx(cp * mu / k)
    assert rho < fluid.density_kg_m3(59.0)


def test_table_goes_on_along_its_tangent_outside_the_range():
    fluid = water.plain_water()
    for end, beyond in ((0.1, -10.0), (110.1, 125.0)):
        inward = np.sign(end - beyond) * 1e-3
        for name in PROPERTIES[:4]:
            method = getattr(fluid, name)
            slope = (method(end + inward) - method(end)) / inward
            assert method(beyond) == pytest.approx(method(end) + slope * (beyond - end), rel=1e-3)


@pytest.mark.parametrize("t_c", [-0.1, 110.5, float("nan"), [20.0, 300.0]])
def test_range_is_refused_by_name_only_when_asked(t_c):
    fluid = water.plain_water()
    fluid.check_range([0.1, 55.0, 110.0])
    with pytest.raises(ValueError, match=r"temperature .* °C: water at 250 kPa is known from 0.1 to 110 °C"):
        fluid.check_range(t_c)


def test_range_ends_below_boiling():
    assert water.plain_water(101_325.0).t_max_c == pytest.approx(99.97 - 0.2, abs=0.01)


def test_packaged_table_is_what_the_library_gives(tmp_path):
    fresh = tmp_path / "water_table.csv"
    water.write_water_table(fresh)
    tables = [np.loadtxt(path, delimiter=",", skiprows=2) for path in (water.TABLE_PATH, fresh)]
    assert tables[0] == pytest.approx(tables[1], rel=1e-9)
    assert water.TABLE_PATH.read_text().splitlines()[1] == fresh.read_text().splitlines()[1]


def test_plain_water_needs_no_library():
    code = "import sys, heatloop.physics.water as w; w.plain_water(); sys.exit('CoolProp' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_fraction_by_volume_differs_from_fraction_by_mass():
    by_mass = water.mass_fraction_from_volume_fraction("propylene glycol", 0.3)
    assert 0.30 < by_mass < 0.31
    assert water.mass_fraction_from_volume_fraction("ethylene glycol", 0.3) > by_mass
    assert water.mass_fraction_from_volume_fraction("ethylene glycol", 0.0) == 0.0
    assert water.mass_fraction_from_volume_fraction("ethylene glycol", 1.0) == 1.0


# Friction

DUCTS = [round_duct(0.013), *(oval_duct(0.004 * ratio, 0.004) for ratio in (1.5, 2, 4, 8, 16))]


@pytest.mark.parametrize("duct", DUCTS, ids=lambda duct: f"fRe {duct.laminar_f_re:.2f}")
@pytest.mark.parametrize("relative_roughness", [0.0, 1e-4, 0.01, 0.05])
def test_pressure_drop_rises_strictly_with_flow(duct, relative_roughness):
    re = np.unique(np.concatenate((np.geomspace(10.0, 1e5, 4000), np.linspace(1990.0, 4010.0, 2021))))
    flow = re * duct.area_m2 * 5e-4 / duct.hydraulic_diameter_m
    roughness_m = relative_roughness * duct.hydraulic_diameter_m
    gradient = pressure_gradient_pa_m(flow, duct, roughness_m, 985.0, 5e-4)
    assert np.all(np.diff(np.log(gradient)) >= 0.999 * np.diff(np.log(flow)))
    f, slope = friction_table(relative_roughness, duct.laminar_f_re).factor_and_slope(re)
    assert np.all(np.diff(f * re**2) > 0.0)
    assert np.all(2.0 + slope >= 1.0 - 1e-9)


def test_factor_is_continuous_at_both_ends_of_the_bridge():
    for duct in DUCTS:
        for re in (2000.0, 4000.0):
            low, high = darcy_friction_factor([re * (1 - 1e-9), re * (1 + 1e-9)], 1e-4, duct.laminar_f_re)
            assert low == pytest.approx(high, rel=1e-8)


def test_friction_table_agrees_with_the_formula():
    roughness, f_re = [0.0, 1.1e-4, 1e-3, 0.05], [64.0, 78.1, 96.0, 56.9]
    table = friction_table(roughness, f_re)
    re = np.geomspace(0.5, 1e6, 3000)
    for which in range(4):
        f, slope = table.factor_and_slope(re, which)
        formula = darcy_friction_factor(re, roughness[which], f_re[which])
        laminar, turbulent = re <= 2000.0, re >= 4000.0
        assert f == pytest.approx(formula, rel=1e-7)
        assert f[turbulent] == pytest.approx(formula[turbulent], rel=1e-9)
        assert f[laminar] == pytest.approx(f_re[which] / re[laminar], rel=1e-13)
        assert np.all(slope[laminar] == -1.0)
        above, below = (table.factor_and_slope(re * factor, which)[0] for factor in (1 + 1e-6, 1 - 1e-6))
        assert slope == pytest.approx(np.log(above / below) / np.log((1 + 1e-6) / (1 - 1e-6)), abs=1e-5)


def test_friction_table_broadcasts_and_chunks():
    table = friction_table([0.0, 1e-3], [64.0, 73.0])
    re, which = RNG.uniform(10.0, 2e4, (9000, 2)), np.array([0, 1])
    f, slope = table.factor_and_slope(re, which)
    assert f.shape == slope.shape == (9000, 2)
    for column in (0, 1):
        assert np.array_equal(f[:, column], table.factor_and_slope(re[:, column], column)[0])
    assert f[7, 1] == table.factor_and_slope(re[7, 1], 1)[0]
    assert table.factor_and_slope(500.0, which)[0] == pytest.approx([64 / 500, 73 / 500])


def test_friction_table_without_flow_gives_no_drop_and_no_warning():
    f, slope = friction_table(0.0, 64.0).factor_and_slope([0.0, 1e-3])
    assert np.all(np.isfinite(f))
    assert f[0] * 0.0**2 == 0.0
    assert np.all(slope == -1.0)


def test_friction_table_goes_on_along_its_last_slope():
    f, slope = friction_table(1e-4, 64.0).factor_and_slope([1.1e6, 4.4e6])
    assert slope[0] == slope[1]
    assert f[1] / f[0] == pytest.approx(4.0 ** slope[0])


def test_friction_table_refuses_a_drop_that_does_not_rise_in_proportion():
    friction_table(0.0, 96.0)
    with pytest.raises(ValueError, match="laminar_f_re = 200"):
        friction_table([0.0, 0.0], [64.0, 200.0])


def test_gradient_is_poiseuilles_in_slow_flow_and_turns_with_the_flow():
    duct, mu, rho, flow = round_duct(0.012), 6e-4, 985.0, 0.005
    poiseuille = 128.0 * mu * (flow / rho) / (np.pi * 0.012**4)
    assert reynolds(flow, duct.hydraulic_diameter_m, duct.area_m2, mu) < 2000.0
    assert pressure_gradient_pa_m(flow, duct, 1.5e-6, rho, mu) == pytest.approx(poiseuille, rel=1e-12)
    assert pressure_gradient_pa_m(-flow, duct, 1.5e-6, rho, mu) == pytest.approx(-poiseuille, rel=1e-12)
    assert pressure_gradient_pa_m(0.0, duct, 1.5e-6, rho, mu) == 0.0
    assert pressure_gradient_pa_m([0.0, flow], duct, 1.5e-6, rho, mu) == pytest.approx([0.0, poiseuille])


def test_ducts_are_the_same_either_way_round_and_round_in_the_limit():
    assert oval_duct(0.01, 0.02) == oval_duct(0.02, 0.01)
    assert rectangular_duct(0.01, 0.03) == rectangular_duct(0.03, 0.01)
    bore, oval = round_duct(0.013), oval_duct(0.013, 0.013)
    assert (oval.area_m2, oval.perimeter_m, oval.laminar_f_re) == pytest.approx(
        (bore.area_m2, bore.perimeter_m, 64.0), rel=1e-12
    )
    assert bore.hydraulic_diameter_m == pytest.approx(0.013)
    assert oval_duct(1.0, 1e-6).laminar_f_re == pytest.approx(8 * np.pi**2, rel=1e-6)
    assert rectangular_duct(1.0, 1e-7).laminar_f_re == pytest.approx(96.0, rel=1e-6)


# Valves

kv = st.floats(0.02, 500.0)
density = st.floats(900.0, 1100.0)
curves = st.lists(st.floats(1.02, 3.0), min_size=0, max_size=8).map(
    lambda ratios: (0.05 * np.cumprod([1.0, *ratios])).tolist()
)


@given(kv=kv, drop_pa=st.floats(1.0, 1e6), density=density)
def test_kv_flow_and_drop_go_round(kv, drop_pa, density):
    flow = flow_from_pressure_drop_m3_h(drop_pa, kv, density)
    assert pressure_drop_from_kv_pa(flow, kv, density) == pytest.approx(drop_pa, rel=1e-12)
    assert kv_from_pressure_drop(flow, drop_pa, density) == pytest.approx(kv, rel=1e-12)
    assert flow_from_pressure_drop_m3_h(-drop_pa, kv, density) == -flow
    assert pressure_drop_from_kv_pa(-flow, kv, density) == -pressure_drop_from_kv_pa(flow, kv, density)


@given(kv=kv, bore_m=st.floats(0.005, 0.2), flow=st.floats(0.01, 10.0), density=density)
def test_zeta_and_kv_give_the_same_drop(kv, bore_m, flow, density):
    zeta = zeta_from_kv(kv, bore_m)
    velocity = flow / 3600.0 / round_duct(bore_m).area_m2
    assert kv_from_zeta(zeta, bore_m) == pytest.approx(kv, rel=1e-12)
    assert local_loss_pa(zeta, density, velocity) == pytest.approx(
        pressure_drop_from_kv_pa(flow, kv, density), rel=1e-12
    )


@given(curve=curves, share=st.floats(0.0, 1.0))
def test_setting_and_kv_go_round(curve, share):
    setting = 1.0 + share * (len(curve) - 1)
    kv_m3_h = kv_at_setting(setting, curve)
    assert curve[0] <= kv_m3_h <= curve[-1] * (1.0 + 1e-15)
    assert setting_for_kv(min(kv_m3_h, curve[-1]), curve) == pytest.approx(setting, abs=1e-9)


@given(curve=curves)
def test_whole_settings_are_met_exactly(curve):
    for number, kv_m3_h in enumerate(curve, start=1):
        assert kv_at_setting(number, curve) == kv_m3_h
        assert setting_for_kv(kv_m3_h, curve) == number
        assert nearest_setting(kv_m3_h, curve) == (number, kv_m3_h)


def test_kv_rises_with_setting_in_equal_ratios():
    assert kv_at_setting(1.5, LOCKSHIELD) == pytest.approx(np.sqrt(0.10 * 0.22))
    values = [kv_at_setting(setting, LOCKSHIELD) for setting in np.linspace(1.0, 6.0, 101)]
    assert np.all(np.diff(values) > 0.0)


def test_nearest_setting_is_judged_by_ratio_and_stops_at_the_ends():
    assert nearest_setting(0.15, LOCKSHIELD) == (2, 0.22)  # 0.15/0.10 is more than 0.22/0.15
    assert nearest_setting(0.14, LOCKSHIELD) == (1, 0.10)
    assert nearest_setting(0.01, LOCKSHIELD) == (1, 0.10)
    assert nearest_setting(50.0, LOCKSHIELD) == (6, 1.30)


@given(rest_pa=st.floats(10.0, 1e5), required=st.floats(0.01, 0.99))
def test_authority_goes_round(rest_pa, required):
    assert authority(valve_drop_for_authority_pa(required, rest_pa), rest_pa) == pytest.approx(required)


# Vessel and movement


def test_precharge_never_falls_below_its_margin():
    assert precharge_for_head_kpa(static_head_kpa(5.0, 998.0), 25.0) == pytest.approx(48.94 + 25.0, abs=0.01)
    assert precharge_for_head_kpa(static_head_kpa(-5.0)) == 30.0


def test_final_pressure_keeps_the_larger_margin_under_the_relief_valve():
    assert final_under_relief_kpa(600.0) == pytest.approx(540.0)
    assert final_under_relief_kpa(250.0) == pytest.approx(200.0)


def test_small_vessel_keeps_a_fifth_as_reserve():
    need = vessel_need(60.0, 0.02, 100.0, 250.0)
    assert need.min_volume_l < 15.0
    assert need.reserve_l == pytest.approx(0.2 * need.min_volume_l)


def test_reserve_rules_meet_at_fifteen_litres():
    """A fifth of 15 l is the 3 l of a larger vessel, so the least volume has no step there."""
    volumes = [vessel_need(content, 0.02, 100.0, 250.0).min_volume_l for content in np.linspace(150.0, 200.0, 500)]
    assert volumes[0] < 15.0 < volumes[-1]
    assert np.all(np.diff(volumes) > 0.0)
    assert np.max(np.diff(volumes)) < 0.02


def test_mixture_expands_more_than_water():
    plain = expansion_by_density(water.plain_water(), 10.0, 70.0)
    assert plain < expansion_by_density(water.mixture("propylene glycol", 0.3), 10.0, 70.0) < 2.0 * plain


def test_cooling_shortens_and_opens_the_gap():
    assert thermal_expansion_mm(4.0, 23.1e-6, -50.0) == -thermal_expansion_mm(4.0, 23.1e-6, 50.0)
    assert gap_at_mm(3.0, 4.0, 23.1e-6, 20.0, 20.0) == 3.0


# Refusals: one line that names the argument, its value and what is required

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
    "greatest_c = 10: must be at least fill_c, 20": lambda: expansion_by_density(water.plain_water(), 20.0, 10.0),
    "greatest_c = 120: must be 30 to 110": lambda: expansion_en_12828(120.0),
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
