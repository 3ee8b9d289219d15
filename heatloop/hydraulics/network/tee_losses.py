"""Losses where loops leave a trunk and return to it: dividing and combining tees.

At the end of a trunk the branches leave at one tee after another: loops in the order of the survey, then bypasses, then
further trunks. The last branch goes straight on. The coefficients are those of Crane TP-410 (2009 edition) for tees of
90 degrees, as in the library fluids. They refer to the velocity in the leg that carries all the water; those of a
combining tee can be negative. Tables of tees differ between handbooks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from fluids.fittings import (
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
)
from numpy.typing import NDArray

Array = NDArray[np.float64]

MIN_KG_S = 1e-8
"""Below this flow a branch counts as closed, and its tee as a straight pipe."""


@dataclass(frozen=True)
class TeeBranch:
    """A pipe that leaves a trunk or returns to it: its link, the index of its tee among the elements, and its bore."""

    link: int
    place: int
    bore_m: float


@dataclass(frozen=True)
class Tee:
    """The branches at the end of a trunk of bore `bore_m`, in the order of their tees; dividing on the flow side."""

    bore_m: float
    dividing: bool
    branches: tuple[TeeBranch, ...]


def tee_drops_pa(tees: tuple[Tee, ...], link_flow_kg_s: Array, density_kg_m3: Array) -> Array:
    """Pressure drop at the tee of every branch in Pa, by element (E, S).

    link_flow_kg_s (links, S), density_kg_m3 (E, S).
    """
    drops = np.zeros(density_kg_m3.shape)
    for junction in tees:
        area = np.pi * junction.bore_m**2 / 4.0
        for s in range(int(link_flow_kg_s.shape[-1])):
            flows = [max(float(link_flow_kg_s[branch.link, s]), 0.0) for branch in junction.branches]
            passed = 0.0
            for number, branch in enumerate(junction.branches):
                onward = sum(flows[number + 1 :])
                if number == len(junction.branches) - 1:
                    drops[branch.place, s] = passed
                    break
                density = float(density_kg_m3[branch.place, s])
                whole = flows[number] + onward
                dynamic = 0.5 * whole**2 / (density * area**2)
                run, side = _coefficients(junction, branch.bore_m, onward / density, flows[number] / density)
                drops[branch.place, s] = passed + side * dynamic
                passed += run * dynamic
    return drops


def _coefficients(junction: Tee, bore_m: float, run_m3_s: float, branch_m3_s: float) -> tuple[float, float]:
    """Loss coefficients of one tee: straight on, and into or out of the branch."""
    if branch_m3_s < MIN_KG_S / 1000.0:
        return 0.0, 0.0
    bore_m = min(bore_m, junction.bore_m)
    run, branch = K_run_converging_Crane, K_branch_converging_Crane
    if junction.dividing:
        run, branch = K_run_diverging_Crane, K_branch_diverging_Crane
    run_m3_s = max(run_m3_s, MIN_KG_S / 1000.0)
    bores_and_flows = (junction.bore_m, bore_m, run_m3_s, branch_m3_s)
    return float(run(*bores_and_flows)), float(branch(*bores_and_flows))
