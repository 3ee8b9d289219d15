"""Figures that the pages quote, computed with heatloop: `python docs/pictures/measure.py WHAT`,
WHAT one of `shortcut`, `rating`, `film`.

The case: 15 m of a two-channel profile (bores of 13 mm) run there-and-back in a room at 21 degC, water in
at 50 degC, 150 W/m at 50 K with exponent 1.28.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq, root_scalar

from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.heat.profile_rating import TEST_ROOM_C, RatingTest, rated_constant
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic
from heatloop.physics.ducts import round_duct
from heatloop.physics.emitters import RATED_EXCESS_K, characteristic_constant
from heatloop.physics.friction import reynolds
from heatloop.physics.water import plain_water

WATER = plain_water()
BORE = round_duct(0.013)
OUTPUT_W_M, EXPONENT = 150.0, 1.28
PLAIN_K = characteristic_constant(OUTPUT_W_M, EXPONENT)
THERE_AND_BACK, ONE_WAY = (1, -1), (1, 1)


@dataclass(frozen=True)
class Case:
    """A run of skirting, what flows in, and the constants it is solved with."""

    flow_kg_s: float
    link_w_mk: float
    k_w_mkn: float = PLAIN_K
    film: bool = False
    length_m: float = 15.0
    flow_c: float = 50.0
    room_c: float = 21.0


def returns_c(cases: Sequence[Case], min_re: float = 0.0) -> np.ndarray:
    """Return temperature of each case by the channel equations, degC; the film no weaker than at `min_re`."""
    arms = []
    for case in cases:
        law = Characteristic(case.k_w_mkn, EXPONENT, case.link_w_mk)
        cell = Cell("", case.room_c, case.length_m, law, 1.0, "", film=case.film)
        arms.append(ArmPath(THERE_AND_BACK, (BORE, BORE), (cell,), ((), ())))
    flow = np.tile([case.flow_kg_s for case in cases], (2, 1))
    flow_c = np.array([case.flow_c for case in cases])
    group = replace(group_similar_arms(arms)[0], min_film_re=np.full(len(cases), min_re))
    return solve_group(group, flow, flow_c, WATER).joined_c


def arrives_w(cases: Sequence[Case]) -> np.ndarray:
    """Heat that arrives in each case by the channel equations, W."""
    return np.array([_given_w(case, back_c) for case, back_c in zip(cases, returns_c(cases), strict=True)])


def promised_w(case: Case) -> float:
    """Heat by the shortcut: the rating at the mean of flow and return less the room, W."""

    def miss_w(back_c: float) -> float:
        mean_k = max((case.flow_c + back_c) / 2.0 - case.room_c, 0.0)
        return _given_w(case, back_c) - PLAIN_K * case.length_m * mean_k**EXPONENT

    back_c = brentq(miss_w, 2.0 * case.room_c - case.flow_c, case.flow_c)
    return _given_w(case, back_c)


def rated_k(
    link_w_mk: float, film: bool = True, sample_m: float = 6.0, directions: tuple[int, int] = THERE_AND_BACK
) -> float:
    """K as heatloop finds it from a test at 75/65/20, W/(m K^n)."""
    test = RatingTest(OUTPUT_W_M, 10.0, sample_m, directions, (BORE, BORE), film=film)
    return rated_constant(test, EXPONENT, link_w_mk, WATER)


def rating_test(link_w_mk: float, sample_m: float) -> Case:
    """The rating test of a sample at 75/65/20 as a case, film and all."""
    ends = WATER.enthalpy_j_kg(np.array([75.0, 65.0]))
    flow = OUTPUT_W_M * sample_m / float(ends[0] - ends[1])
    return Case(flow, link_w_mk, PLAIN_K, True, sample_m, 75.0, TEST_ROOM_C)


def k_by_formula(link_w_mk: float, sample_m: float) -> float:
    """K from the same test with the film as the formula has it at the test's own flow."""
    test = rating_test(link_w_mk, sample_m)

    def miss_k(k: float) -> float:
        return float(returns_c([replace(test, k_w_mkn=k)])[0]) - 65.0

    return float(root_scalar(miss_k, x0=PLAIN_K, x1=1.1 * PLAIN_K, xtol=1e-10).root)


def _given_w(case: Case, back_c: float) -> float:
    ends = WATER.enthalpy_j_kg(np.array([case.flow_c, back_c]))
    return case.flow_kg_s * float(ends[0] - ends[1])


def print_shortcut() -> None:
    """Shortcut against channel equations: the same constant for both, no film."""
    print("flow, kg/s  coupling, W/(m K)  mean method, W  channels, W  excess")
    cases = [Case(flow, link) for flow in (0.015, 0.020, 0.030, 0.050) for link in (0.0, 2.0, 5.0, 10.0)]
    for case, arrives in zip(cases, arrives_w(cases), strict=True):
        promised = promised_w(case)
        print(
            f"{case.flow_kg_s:10.3f}  {case.link_w_mk:17.0f}  {promised:14.0f}  {arrives:11.0f}"
            f"  {promised / arrives - 1:6.1%}"
        )


def print_rating() -> None:
    """K over output/50^n by the arrangement of the test and the link."""
    print("coupling, W/(m K)  one-way  there-and-back  one-way, film  there-and-back, film")
    for link in (0.0, 2.0, 5.0, 10.0, 20.0):
        one_way, turned, one_way_film, turned_film = (
            rated_k(link, film, directions=directions) / PLAIN_K
            for film in (False, True)
            for directions in (ONE_WAY, THERE_AND_BACK)
        )
        print(f"{link:17.0f}  {one_way:7.3f}  {turned:14.3f}  {one_way_film:13.3f}  {turned_film:20.3f}")


def print_film() -> None:
    """What the film in the rating test does to the constant and to the job, link 5 W/(m K)."""
    link, job = 5.0, Case(0.030, 5.0, film=True)
    print("sample, m  Re in test  film in test  K over plain  15 m at 0.03 kg/s, W")
    for sample_m in (2.0, 3.0, 6.0):
        test = rating_test(link, sample_m)
        viscosity = float(WATER.viscosity_pa_s(TEST_ROOM_C + RATED_EXCESS_K))
        re = float(reynolds(test.flow_kg_s, BORE.hydraulic_diameter_m, BORE.area_m2, viscosity))
        for words, k in (("by formula", k_by_formula(link, sample_m)), ("turbulent", rated_k(link, True, sample_m))):
            heat_w = arrives_w([replace(job, k_w_mkn=k)])[0]
            print(f"{sample_m:9.0f}  {re:10.0f}  {words:>12}  {k / PLAIN_K:12.3f}  {heat_w:20.0f}")


COMMANDS: dict[str, Callable[[], None]] = {"shortcut": print_shortcut, "rating": print_rating, "film": print_film}

if __name__ == "__main__":
    COMMANDS[sys.argv[1]]()
