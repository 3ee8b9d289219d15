"""Friction: continuity, the table against its formula, local losses, measured curves, against Colebrook."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.friction import Colebrook

from heatloop.physics.ducts import oval_duct, round_duct
from heatloop.physics.friction import (
    _LN_STEP,
    NO_CURVES,
    _check_rising,
    colebrook_friction_factor,
    darcy_friction_factor,
    friction_table,
    local_loss_pa,
    pressure_gradient_pa_m,
    reynolds,
)

RNG = np.random.default_rng(1)
DUCTS = [round_duct(0.013), *(oval_duct(0.004 * ratio, 0.004) for ratio in (1.5, 2, 4, 8, 16))]


def test_a_drop_that_rises_all_but_in_proportion_is_refused():
    """At a constant of 126 the power is 1.0000 less a little; at 125.5 it is above 1."""
    friction_table([0.0], [125.5])
    with pytest.raises(ValueError, match="power 1 in places, must be at least 1"):
        friction_table([0.0], [126.0])


def test_a_curve_is_judged_within_its_intervals_alone():
    """A slope of -1 at the end of an interval that would go on falling until u = 1.01."""
    c1, c2, c3 = (_LN_STEP * part for part in (-1.0 + 1.01**2 - 0.01**2, -1.01, 1.0 / 3.0))
    _check_rising(np.array([[0.0], [c1], [c2], [c3]]), 0.0, 64.0)
    with pytest.raises(ValueError, match="must be at least 1"):
        _check_rising(np.array([[0.0], [c1 - 1e-6], [c2], [c3]]), 0.0, 64.0)


def test_a_local_loss_of_a_number_is_a_number_and_of_a_list_a_list() -> None:
    """Zeta 2 at 1 m/s in water of 1000 kg/m³ is 1 kPa, with the sign of the velocity."""
    assert type(local_loss_pa(2.0, 1000.0, 1.0)) is float
    assert local_loss_pa(2.0, 1000.0, -1.0) == -1000.0
    many = local_loss_pa(2.0, 1000.0, [1.0, -2.0])
    assert isinstance(many, np.ndarray)
    assert many.tolist() == [1000.0, -4000.0]


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


@pytest.mark.parametrize("roughness", [0.0, 1e-6, 1e-3, 0.05])
def test_colebrook_holds_to_rounding(roughness):
    re = 10.0 ** np.linspace(1.0, 7.5, 60)
    theirs = [Colebrook(number, roughness) for number in re.tolist()]
    np.testing.assert_allclose(colebrook_friction_factor(re, roughness), theirs, rtol=1e-13)
    assert colebrook_friction_factor(1e5, roughness) == pytest.approx(Colebrook(1e5, roughness), rel=1e-13)


def test_the_table_has_64_intervals_to_the_octave():
    table, octaves = friction_table(1e-4, 64.0), np.array([0.5, 1.0, 3.0, 8.0])
    assert table.intervals(2.0**octaves) == pytest.approx(64.0 * octaves, rel=1e-12)
    place, base = table.place(np.full(4, 3100.0), np.zeros(4, int))
    further, _ = table.place(3100.0 * 2.0**octaves, np.zeros(4, int))
    assert further - place == pytest.approx(64.0 * octaves, rel=1e-12)
    for way in (place.copy(), further.copy()):
        f, slope = table.at(way.copy(), base)
        re = 3100.0 * 2.0 ** ((way - place) / 64.0)
        assert f == pytest.approx(darcy_friction_factor(re, 1e-4), rel=1e-7)
        assert slope == pytest.approx(table.factor_and_slope(re)[1], rel=1e-9)


def test_ducts_are_added_after_those_that_are_there_and_each_once():
    first = friction_table([0.0, 1e-3], [64.0, 73.0])
    both = first.with_ducts([(1e-3, 73.0), (0.01, 96.0), (0.01, 96.0), (0.0, 56.9)])
    assert both.ducts == ((0.0, 64.0), (1e-3, 73.0), (0.01, 96.0), (0.0, 56.9))
    assert both.with_ducts([(0.0, 56.9)]) is both
    assert NO_CURVES.with_ducts([(0.0, 64.0)]).ducts == ((0.0, 64.0),)
    re = np.array([300.0, 3000.0, 30_000.0])
    for which, (roughness, f_re) in enumerate(both.ducts):
        expected = pytest.approx(darcy_friction_factor(re, roughness, f_re), rel=1e-7)
        assert both.factor_and_slope(re, which)[0] == expected
