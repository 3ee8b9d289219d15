"""Emission against the literature and independent integrations; sources in data/published/emission.csv.

E7, E8 and E14 are whole runs; their inputs and independently integrated results stand here.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import runs_at_flow
from heatloop.hydraulics.heat.profile_rating import RatingTest, rated_constant, rating_test
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic
from heatloop.physics.channels.grid import ChannelRuns, subdivide
from heatloop.physics.channels.solver import solve_channels
from heatloop.physics.ducts import round_duct
from heatloop.physics.emitters import (
    TEST_HOUSE_PERCENT,
    arithmetic_excess_k,
    characteristic_constant,
    fit_characteristic,
    logarithmic_excess_k,
    min_return_ratio,
    one_way_outlet_excess_k,
    plate_output_w_m,
)
from heatloop.physics.water import plain_water
from heatloop.survey.files.profile_tables import RatingTable
from heatloop.survey.profiles import Channel, OutputRating, Profile
from tests.helpers.published import replayed


def check(value, expected, tolerance):
    assert abs(value - expected) <= tolerance, f"{value} against {expected} +- {tolerance}"


def runs(lengths_m, rooms_c, k_w_mkn, exponent, link_w_mk, directions):
    channels = len(directions)
    cells = len(lengths_m)
    return ChannelRuns(
        start=np.array([0, cells]),
        length_m=np.array(lengths_m, float),
        emission_w_mkn=np.full((channels, cells), k_w_mkn / channels),
        exponent=np.full(cells, exponent),
        link_w_mk=np.full((channels - 1, cells), link_w_mk),
        room_c=np.array(rooms_c, float),
        direction=directions,
    )


def solved(run, capacity_w_k, inlet_c):
    capacity = np.full(run.emission_w_mkn.shape, capacity_w_k)
    inlet = np.array([inlet_c])
    fine, parts = subdivide(run, capacity, inlet)
    result = solve_channels(fine, np.repeat(capacity, parts, axis=1), inlet)
    bounds = np.concatenate([[0], np.cumsum(parts)])
    heat_w = np.add.reduceat(result.emitted_w.sum(axis=0), bounds[:-1])
    return result, heat_w, result.temp_c[:, bounds]


def test_e7_one_way_series_of_rooms():
    """E7, derived: closed form and an independent integration."""
    k = 180.0 / 50.0**1.3
    lengths, rooms, capacity = (6.0, 8.0, 5.0, 7.0), (20.0, 20.0, 18.0, 21.0), 0.05 * 4186.0
    outlets, heat_w, temp = [], [], 55.0
    for length, room in zip(lengths, rooms, strict=True):
        out = room + float(one_way_outlet_excess_k(temp - room, k, 1.3, length, capacity))
        heat_w.append(capacity * (temp - out))
        outlets.append(out)
        temp = out
    assert np.allclose(outlets, [51.9409, 48.3808, 46.2350, 43.9100], rtol=0, atol=1e-4)
    assert np.allclose(heat_w, [640.28, 745.11, 449.13, 486.61], rtol=0, atol=0.01)
    _, by_cells, nodes = solved(runs(lengths, rooms, k, 1.3, 0.0, (1,)), capacity, 55.0)
    assert np.allclose(nodes[0, 1:], outlets, rtol=0, atol=1e-8)
    assert np.allclose(by_cells, heat_w, rtol=1e-8)


@pytest.mark.parametrize(
    ("link", "far_c", "return_c", "rooms_w"),
    [(0.0, 47.576, 42.079, (278.80, 340.52, 460.91)), (5.0, 43.412, 43.557, (272.30, 299.70, 384.66))],
)
def test_e8_there_and_back_through_three_rooms(link, far_c, return_c, rooms_w):
    """E8, derived: shooting with an adaptive integrator, relative tolerance 1e-10."""
    k = 150.0 / 50.0**1.28
    result, heat_w, nodes = solved(runs((4, 5, 6), (21, 21, 18), k, 1.28, link, (1, -1)), 0.02 * 4180.0, 55.0)
    assert nodes[0, -1] == pytest.approx(far_c, abs=1e-3)
    assert result.return_c[1, 0] == pytest.approx(return_c, abs=1e-3)
    assert np.allclose(heat_w, rooms_w, rtol=0, atol=0.01)


def test_e8_by_the_mean_temperature():
    """E8, derived: what the mean of flow and return states for the same loop, starved of water."""
    k, mean = 150.0 / 50.0**1.28, 0.0
    for _ in range(200):
        water_c = 55.0 - mean / (0.02 * 4180.0) / 2
        mean = sum(k * length * (water_c - room_c) ** 1.28 for length, room_c in ((4, 21), (5, 21), (6, 18)))
    check(mean, 1101.7, 0.05)


def test_e14_mean_temperature_promises_heat_that_does_not_arrive():
    """E14, derived: 15 m in one room by the mean, with no link, and with a link of 5 W/(m K)."""
    k, flow = 150.0 / 50.0**1.28, 0.03 * 4180.0
    _, unlinked, _ = solved(runs((15,), (21,), k, 1.28, 0.0, (1, -1)), flow, 50.0)
    linked, heat_w, nodes = solved(runs((15,), (21,), k, 1.28, 5.0, (1, -1)), flow, 50.0)
    mean = 0.0
    for _ in range(60):
        mean = k * 15 * (50.0 - mean / flow / 2 - 21.0) ** 1.28
    check(mean, 938.7, 0.1)
    check(unlinked.sum(), 930.4, 0.1)
    check(heat_w.sum(), 876.8, 0.1)
    check(nodes[0, -1], 44.138, 0.002)
    check(linked.return_c[1, 0], 43.008, 0.002)


def output_w(output_w, exponent, reference_k, flow_c, return_c, room_c):
    """Output at another temperature by the logarithmic mean."""
    k = characteristic_constant(output_w, exponent, reference_k)
    return k * logarithmic_excess_k(flow_c, return_c, room_c) ** exponent


def log_mean_over_rated(flow_c, return_c, room_c, exponent):
    """Output by the logarithmic mean with a constant of the arithmetic one, over that rated."""
    return characteristic_constant(1.0, exponent) * logarithmic_excess_k(flow_c, return_c, room_c) ** exponent


def arithmetic_over_logarithmic(return_over_flow):
    ends = (50.0, 50.0 * return_over_flow, 0.0)
    return arithmetic_excess_k(*ends) / logarithmic_excess_k(*ends)


def fitted():
    """The characteristic through the points of E6."""
    return fit_characteristic([30.0, 50.0, 60.0], [515.0, 1000.0, 1267.0])


def flow_factor(flow_ratio, flow_exponent):
    """Emission at less flow over that at the flow of the test."""
    law = Characteristic(1.0, 1.28, 5.0, flow_exponent, test_flow_kg_s=0.04)
    arm = ArmPath((1,), (round_duct(0.013),), (Cell("", 20.0, 3.0, law, 1.0, ""),), ((),))
    group = group_similar_arms([arm])[0]
    full, less = (runs_at_flow(group, np.array([[flow]])) for flow in (0.04, 0.04 * flow_ratio))
    return less.emission_w_mkn[0, 0] / full.emission_w_mkn[0, 0]


def output_without_effect_w_m(output_w_m):
    rating = OutputRating(output_w_m, 1.3, heating_effect_included=True)
    profile = Profile("plain", 140, 26, (Channel(13.0), Channel(13.0)), rating, (5.0,))
    return rating_test(profile, plain_water()).output_w_m


def there_and_back_constant(link_w_mk, sample_m):
    """Constant from a there-and-back rating over that of the mean temperature."""
    bore = round_duct(0.013)
    test = RatingTest(150.0, 10.0, sample_m, (1, -1), (bore, bore), film=False)
    return rated_constant(test, 1.28, link_w_mk, plain_water()) / characteristic_constant(150.0, 1.28)


def one_way_share(exponent):
    """Output of a one-way run of the mean constant at 75/65/20 over that rated."""
    k, capacity = characteristic_constant(150.0, exponent), 15.0
    # the flow that gives exactly 75/65: find the capacity by the closed form
    for _ in range(200):
        capacity *= (55.0 - float(one_way_outlet_excess_k(55.0, k, exponent, 1.0, capacity))) / 10.0
    return capacity * 10.0 / 150.0


def return_ratio_of_an_endless_run(share_w_mk, link_w_mk):
    """By the channel solver, at a flow so small that the run is endless."""
    result, _, _ = solved(runs((60,), (20,), 2 * share_w_mk, 1.0, link_w_mk, (1, -1)), 10.0, 50.0)
    return (result.return_c[1, 0] - 20.0) / 30.0


QUANTITIES = {
    "correction_factor": lambda excess_k: characteristic_constant(1.0, 1.3) * excess_k**1.3,
    "output_w": output_w,
    "logarithmic_excess_k": logarithmic_excess_k,
    "log_mean_over_rated": log_mean_over_rated,
    "arithmetic_over_logarithmic": arithmetic_over_logarithmic,
    "fitted_exponent": lambda: fitted().exponent,
    "fitted_constant": lambda: fitted().k_w_mkn,
    "plate_output_w_m": plate_output_w_m,
    "reproducibility_percent": lambda: TEST_HOUSE_PERCENT,
    "flow_factor": flow_factor,
    "output_without_effect_w_m": output_without_effect_w_m,
    "there_and_back_constant": there_and_back_constant,
    "one_way_share": one_way_share,
    "min_return_ratio": lambda share_w_mk, link_w_mk: min_return_ratio(share_w_mk, link_w_mk),
    "return_ratio_of_an_endless_run": return_ratio_of_an_endless_run,
}
test_published_row = replayed("emission", __name__, QUANTITIES)


def test_a_log_mean_with_its_own_constant_gives_what_is_rated():
    mean = float(logarithmic_excess_k(75.0, 65.0, 20.0))
    assert characteristic_constant(1.0, 1.3, mean) * mean**1.3 == pytest.approx(1.0, rel=1e-14)


def test_a_fit_says_how_far_its_points_lie_off():
    assert 0 < fitted().spread < 2e-3


@pytest.mark.parametrize("exponent", [1.0, 1.1, 1.2, 1.31, 1.42])
def test_usual_exponents_can_be_rated(exponent):
    """Two points of a unit: read from a catalogue's test points they give the exponent back."""
    points = [{"excess_k": dt, "output_w_m": 100.0 * (dt / 50.0) ** exponent} for dt in (30.0, 60.0)]
    rating = RatingTable.model_validate({"test_points": points}).value()
    assert rating.exponent == pytest.approx(exponent, rel=0, abs=1e-9)
    assert rating.output_w_m == pytest.approx(100.0, rel=1e-9)


def test_one_way_run_against_an_adaptive_integrator():
    k, n, capacity = 150.0 / 50.0**1.28, 1.28, 60.0
    reference = solve_ivp(
        lambda _, t: -k * np.abs(t - 20.0) ** n / capacity, (0, 30), [50.0], rtol=1e-12, atol=1e-12, method="DOP853"
    )
    _, _, nodes = solved(runs((30,), (20,), k, n, 0.0, (1,)), capacity, 50.0)
    assert nodes[0, -1] == pytest.approx(reference.y[0, -1], abs=1e-8)
