"""Heat output of a metre of skirting: the EN 442 characteristic, its means and its closed formulas.

Excess temperature is water less room temperature, in kelvin. The characteristic of a metre of
profile is ``output_w_m = k_w_mkn * excess_k ** exponent`` (EN 442-2), where `k_w_mkn` has the unit
W/(m K^n). Powers of a negative excess keep its sign, so that a
room warmer than the water heats the water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from fluids.atmosphere import ATMOSPHERE_1976
from numpy.typing import ArrayLike, NDArray

from heatloop.physics.constants import GRAVITY_M_S2

RATED_EXCESS_K = 50.0
"""Excess at which EN 442-2 states an output: flow 75, return 65, room 20 °C."""

HEATING_EFFECT_FACTOR = 1.15
"""Some ratings include a 15 % allowance for heat given low in the room; divide by this (ASHRAE
Handbook HVAC Systems and Equipment, hydronic heating units chapter, as quoted by others)."""

TEST_HOUSE_PERCENT = 2.0
"""Difference between two test laboratories for one radiator in % (reproducibility; repeatability within one
laboratory 1): CORDIS, results of project SMT4972127 on EN 442. It is the minimum uncertainty of any output."""

Array = NDArray[np.float64]


def signed_power(excess_k: ArrayLike, exponent: ArrayLike) -> Array:
    """sign(excess) * |excess|**exponent, elementwise, any shape.

    >>> signed_power([-4.0, 4.0], 1.5).tolist()
    [-8.0, 8.0]
    """
    excess = np.asarray(excess_k, dtype=float)
    return np.asarray(np.sign(excess) * np.abs(excess) ** np.asarray(exponent, dtype=float))


def characteristic_constant(output_w_m: float, exponent: float, excess_k: float = RATED_EXCESS_K) -> float:
    """K in W/(m K^n) that gives `output_w_m` at a uniform `excess_k`.

    Source: EN 442-2, Phi = Km dT^n. Range: output and excess above 0.

    >>> round(characteristic_constant(150.0, 1.28), 5)
    1.00325
    """
    if not (output_w_m > 0 and excess_k > 0):
        raise ValueError(f"output_w_m and excess_k must be above 0, got {output_w_m:g} and {excess_k:g}")
    return float(output_w_m / excess_k**exponent)


def arithmetic_excess_k(flow_c: ArrayLike, return_c: ArrayLike, room_c: ArrayLike) -> Array:
    """Mean of flow and return temperature less the room temperature, K (the mean of EN 442-2).

    >>> float(arithmetic_excess_k(75.0, 65.0, 20.0))
    50.0
    """
    return np.asarray((np.asarray(flow_c, float) + np.asarray(return_c, float)) / 2.0 - np.asarray(room_c, float))


def logarithmic_excess_k(flow_c: ArrayLike, return_c: ArrayLike, room_c: ArrayLike) -> Array:
    """Logarithmic mean excess, K: the exact mean of a one-way run only for exponent 1.

    Both excesses must be above 0. Where they are equal the mean is that value.
    Source: any heat transfer text; rows E2 and E3 of data/published/emission.csv.

    >>> round(float(logarithmic_excess_k(75.0, 65.0, 20.0)), 2)
    49.83
    """
    flow = np.asarray(flow_c, float) - np.asarray(room_c, float)
    back = np.asarray(return_c, float) - np.asarray(room_c, float)
    if np.any(flow <= 0) or np.any(back <= 0):
        raise ValueError("flow and return must both be above the room temperature for a logarithmic mean")
    ratio = flow / back
    nearly_equal = np.abs(ratio - 1.0) < 1e-6
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (flow - back) / np.log(ratio)
    return np.asarray(np.where(nearly_equal, (flow + back) / 2.0, mean))


@dataclass(frozen=True)
class CharacteristicFit:
    """A characteristic fitted to test points: K in W/(m K^n), exponent, and the largest relative
    difference between a point and the fit."""

    k_w_mkn: float
    exponent: float
    spread: float


def fit_characteristic(excess_k: ArrayLike, output_w_m: ArrayLike) -> CharacteristicFit:
    """Least squares in logarithms through test points of excess and output.

    Source: EN 442-2, determination of the characteristic equation. At least two points at
    different excess; output must rise with excess; exponent within 1 to 1.6.
    Raises ValueError that states which condition is not met.

    >>> round(fit_characteristic([30.0, 50.0], [78.0, 150.0]).exponent, 3)
    1.28
    """
    excess = np.asarray(excess_k, float)
    output = np.asarray(output_w_m, float)
    if excess.shape != output.shape or excess.ndim != 1:
        raise ValueError("excess_k and output_w_m must be two lists of the same length")
    if np.unique(excess).size < 2:
        raise ValueError(
            f"a fit requires test points at two different excess temperatures, got {np.unique(excess).size}"
        )
    if np.any(excess <= 0) or np.any(output <= 0):
        raise ValueError("every test point requires excess and output above 0")
    order = np.argsort(excess)
    if np.any(np.diff(output[order]) <= 0):
        raise ValueError("output must rise with excess from test point to test point")
    exponent, log_k = np.polyfit(np.log(excess), np.log(output), 1)
    if not 1.0 <= exponent <= 1.6:
        raise ValueError(f"the fitted exponent {exponent:.3f} is outside 1 to 1.6: check the test points")
    k = float(np.exp(log_k))
    spread = float(np.max(np.abs(output / (k * excess**exponent) - 1.0)))
    return CharacteristicFit(k, float(exponent), spread)


def one_way_outlet_excess_k(
    inlet_excess_k: ArrayLike,
    k_w_mkn: ArrayLike,
    exponent: ArrayLike,
    length_m: ArrayLike,
    capacity_w_k: ArrayLike,
) -> Array:
    """Excess at the outlet of a one-way run in one room, K; arrays broadcast.

    m cp d(theta)/dx = -K theta^n integrated: theta_out^(1-n) = theta_in^(1-n) + (n-1) K L/(m cp),
    an exponential for n = 1 (Source: elementary; case E7 in tests/published/test_emission.py confirms it by an
    independent integration).
    `capacity_w_k` is mass flow times heat capacity, above 0. A negative inlet excess gives the same result with the
    sign changed.

    >>> round(float(one_way_outlet_excess_k(55.0, 1.0, 1.28, 5.0, 100.0)), 2)
    47.32
    """
    inlet = np.asarray(inlet_excess_k, float)
    ntu = np.asarray(k_w_mkn, float) * length_m / np.asarray(capacity_w_k, float)
    power = np.asarray(exponent, float) - 1.0
    size = np.abs(inlet)
    flat = power < 1e-9
    safe_power = np.where(flat, 1.0, power)
    curved = size * (1.0 + safe_power * ntu * size**safe_power) ** (-1.0 / safe_power)
    return np.asarray(np.sign(inlet) * np.where(flat, size * np.exp(-ntu), curved))


def one_way_emission_w(
    inlet_excess_k: ArrayLike, k_w_mkn: ArrayLike, exponent: ArrayLike, length_m: ArrayLike, capacity_w_k: ArrayLike
) -> Array:
    """Heat emitted by a one-way run in one room, W, by quadrature of its characteristic; arrays broadcast.

    The integral of K theta^n along the run by Gauss and Legendre, on a coordinate in which the closed form of
    theta (see :func:`one_way_outlet_excess_k`) is smooth for any cooling of the water. It checks the heat given by
    the water, capacity times drop.

    >>> round(float(one_way_emission_w(55.0, 1.0, 1.3, 10.0, 200.0)), 2)
    1648.45
    """
    inlet, k, n, length, capacity = np.broadcast_arrays(
        *(np.asarray(value, float) for value in (inlet_excess_k, k_w_mkn, exponent, length_m, capacity_w_k))
    )
    slope = k / capacity * np.abs(inlet) ** (n - 1.0) * length
    stretch = np.maximum(np.log1p(slope), 1e-12)
    total = np.zeros(inlet.shape)
    for point, weight in zip(*np.polynomial.legendre.leggauss(20), strict=True):
        step = stretch * (point + 1.0) / 2.0
        share = np.expm1(step) / np.expm1(stretch)
        theta = one_way_outlet_excess_k(inlet, k, n, length * share, capacity)
        along = length * np.exp(step) * stretch / np.expm1(stretch)
        total = total + weight / 2.0 * along * k * signed_power(theta, n)
    return np.asarray(total)


def one_way_constant(
    output_w: float, length_m: float, exponent: float, flow_c: float, return_c: float, room_c: float
) -> float:
    """K in W/(m K^n) that makes the one-way closed form give `output_w` between these temperatures.

    It inverts :func:`one_way_outlet_excess_k`, so a one-way test is reproduced exactly. K from the mean excess
    alone gives 0.9951 of the rating at 75/65/20 and n 1.28 (row E16 of data/published/emission.csv).

    >>> round(one_way_constant(150.0, 1.0, 1.28, 75.0, 65.0, 20.0), 4)
    1.0082
    """
    inlet, outlet = flow_c - room_c, return_c - room_c
    if not inlet > outlet > 0:
        raise ValueError(
            f"flow, return and room are {flow_c:g}, {return_c:g} and {room_c:g} °C: must fall in this order"
        )
    capacity_w_k = output_w / (flow_c - return_c)
    power = exponent - 1.0
    if power < 1e-9:
        return float(capacity_w_k / length_m * np.log(inlet / outlet))
    return float(capacity_w_k / length_m * (outlet**-power - inlet**-power) / power)


def emitter_constant_w_kn(output_w: float, exponent: float) -> float:
    """K in W/K^n, over the whole of an emitter, that makes the one-way closed form give `output_w` at 75/65/20.

    EN 442-2 rates emitters in this way; output and exponent are those of the test report.

    >>> round(emitter_constant_w_kn(1000.0, 1.3) * 50.0**1.3, 1)
    1005.0
    """
    return one_way_constant(output_w, 1.0, exponent, 75.0, 65.0, 20.0)


def min_return_ratio(share_k_w_mk: float, link_w_mk: float) -> float:
    """Minimum ratio of return excess to flow excess of a there-and-back pair, whatever the flow (exponent 1).

    (s + W - sqrt(s^2 + 2 s W)) / W for channels that emit `share_k_w_mk` s each and have a link W, both in W/(m K).
    Source: closed formula of the two linear channel equations in a long run (row E17 of data/published/emission.csv).
    Without link the limit is 0.

    >>> round(min_return_ratio(1.0, 2.0), 3)
    0.382
    """
    s, w = share_k_w_mk, link_w_mk
    if s <= 0 or w < 0:
        raise ValueError(f"share_k_w_mk must be above 0 and link_w_mk not below 0, got {s:g} and {w:g}")
    return 0.0 if w == 0 else float((s + w - np.sqrt(s * s + 2.0 * s * w)) / w)


def web_link_w_mk(thickness_mm: float, length_mm: float, conductivity_w_mk: float, webs: int = 1) -> float:
    """Link between neighbouring channels through `webs` metal webs, W per metre of run and kelvin.

    Fourier's law through a plate: conductivity * thickness / length. All above 0.

    >>> round(web_link_w_mk(1.8, 70.0, 200.0), 3)
    5.143
    """
    if min(thickness_mm, length_mm, conductivity_w_mk, webs) <= 0:
        raise ValueError("thickness_mm, length_mm, conductivity_w_mk and webs must all be above 0")
    return webs * conductivity_w_mk * thickness_mm / length_mm


KELVIN = 273.15

STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8

AIR_PRESSURE_PA = 101325.0

AIR_GAS_J_KGK = 287.05

AIR_HEAT_CAPACITY_J_KGK = 1006.0

PAINTED_EMISSIVITY = 0.9

BRIGHT_EMISSIVITY = 0.1
"""Painted metal of any colour, and bright aluminium (tables of any heat transfer text; from memory)."""


def plate_output_w_m(height_m: float, excess_k: float, room_c: float = 20.0, emissivity: float = 0.9) -> float:
    """Output of one side of a vertical plate, W per metre of its length, all of it `excess_k` above the room.

    height (emissivity sigma (Ts^4 - Tr^4) + Nu k/height excess). Nu by Churchill and Chu 1975 (Int. J. Heat Mass
    Transfer 18, 1323-1329), isothermal vertical plate, Rayleigh number up to 1e12; properties of dry air half-way
    between plate and room (US Standard Atmosphere 1976 by the library fluids; heat capacity 1006 J/(kg K)).
    Excess above 0, to 80 K. Row E9 of data/published/emission.csv.

    >>> round(plate_output_w_m(0.15, 50.0), 1)
    95.1
    """
    if not (height_m > 0.0 and excess_k > 0.0):
        raise ValueError(f"height_m = {height_m:g}, excess_k = {excess_k:g}: both must be above 0")
    room_k, plate_k = room_c + KELVIN, room_c + excess_k + KELVIN
    radiation_w_m2 = emissivity * STEFAN_BOLTZMANN_W_M2K4 * (plate_k**4 - room_k**4)
    return height_m * (radiation_w_m2 + plate_coefficient_w_m2k(height_m, excess_k, room_c) * excess_k)


def plate_coefficient_w_m2k(height_m: float, excess_k: float, room_c: float = 20.0) -> float:
    """Coefficient of free convection along a vertical plate, W/(m2 K): see :func:`plate_output_w_m`.

    >>> round(plate_coefficient_w_m2k(0.15, 50.0), 2)
    6.06
    """
    film_k = room_c + excess_k / 2.0 + KELVIN
    density = AIR_PRESSURE_PA / (AIR_GAS_J_KGK * film_k)
    viscosity = ATMOSPHERE_1976.viscosity(film_k)
    conductivity = ATMOSPHERE_1976.thermal_conductivity(film_k)
    prandtl = viscosity * AIR_HEAT_CAPACITY_J_KGK / conductivity
    grashof = GRAVITY_M_S2 / film_k * excess_k * height_m**3 * (density / viscosity) ** 2
    rayleigh = grashof * prandtl
    by_prandtl = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = (0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / by_prandtl) ** 2
    return float(nusselt * conductivity / height_m)
