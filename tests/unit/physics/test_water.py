"""Properties of water and mixtures against the reference library, within and outside the range of the table."""

import subprocess
import sys

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from heatloop.physics import water
from heatloop.physics.water import mixture, plain_water, spline_coefficients

PROPERTIES = ("density_kg_m3", "heat_capacity_j_kgk", "viscosity_pa_s", "conductivity_w_mk", "enthalpy_j_kg")
RNG = np.random.default_rng(1)


def test_properties_looked_up_in_pairs_are_those_looked_up_alone():
    water, temps_c = plain_water(), [11.0, 38.5, 77.0, 104.0]
    pair = water.density_and_viscosity(temps_c)
    assert pair[0] == pytest.approx(water.density_kg_m3(temps_c), rel=1e-12)
    assert pair[1] == pytest.approx(water.viscosity_pa_s(temps_c), rel=1e-12)
    other = water.heat_capacity_and_enthalpy(temps_c)
    assert other[0] == pytest.approx(water.heat_capacity_j_kgk(temps_c), rel=1e-12)
    assert other[1] == pytest.approx(water.enthalpy_j_kg(temps_c), rel=1e-12)


def test_a_mixture_without_glycol_and_one_beyond_the_data_are_refused():
    assert mixture("propylene glycol", 0.6).t_min_c < -40.0
    for fraction in (0.0, 0.601):
        with pytest.raises(ValueError, match=r"must be above 0, at most 0\.6"):
            mixture("propylene glycol", fraction)


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
            near, twice = method(end + inward), method(end + 2.0 * inward)
            slope = (4.0 * near - twice - 3.0 * method(end)) / (2.0 * inward)
            assert method(beyond) == pytest.approx(method(end) + slope * (beyond - end), rel=1e-7)


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


def test_splines_have_the_coefficients_of_scipy():
    values = np.random.default_rng(1).normal(size=(40, 3))
    theirs = CubicSpline(np.arange(40), values).c[::-1]
    np.testing.assert_allclose(spline_coefficients(values), theirs, rtol=1e-12, atol=1e-12)
