"""Loops that work between laminar and turbulent flow: their pressure drop both ways.

From Re 2000 to 4000 no friction value is agreed, and it is an ordinary working range for skirting. The
solver bridges it; here the same flows are given the laminar and the turbulent friction instead.
"""

from __future__ import annotations

import numpy as np
from fluids.friction import Colebrook
from numpy.typing import NDArray

from heatloop.circuit.solve import Operation
from heatloop.physics.friction import LAMINAR_END_RE, TURBULENT_START_RE

Array = NDArray[np.float64]


def drops_both_ways_pa(state: Operation) -> tuple[Array, Array]:
    """What each loop's drop changes by, (L) Pa, were its flow between Re 2000 and 4000 laminar, or turbulent.

    Flows stay as they are. Where channels or arms run in parallel, each counts by its share of the loop's
    water. Laminar: the duct's own constant over Re. Turbulent: Colebrook (1939) by the library fluids.
    """
    system = state.assembly
    elements, re = system.elements, state.reynolds
    loop = np.array([place.loop for place in system.places])
    between = np.flatnonzero(
        (re > LAMINAR_END_RE) & (re < TURBULENT_START_RE) & (elements.length_m > 0.0) & (loop >= 0)
    )
    curve = elements.friction[between]
    roughness = np.asarray(elements.table.relative_roughness)[curve]
    factors = {
        "now": elements.table.factor_and_slope(re[between], curve)[0],
        "laminar": np.asarray(elements.table.laminar_f_re)[curve] / re[between],
        "turbulent": np.array([Colebrook(r, e) for r, e in zip(re[between], roughness, strict=True)]),
    }
    flow = state.flow_kg_s[between]
    per_factor = (
        elements.length_m[between]
        / elements.hydraulic_diameter_m[between]
        * flow**2
        / (2.0 * state.density_kg_m3[between] * elements.area_m2[between] ** 2)
    )
    share = flow / np.maximum(state.loop_flow_kg_s[loop[between]], 1e-300)
    laminar, turbulent = (
        np.bincount(loop[between], share * per_factor * (factors[way] - factors["now"]), len(system.loops))
        for way in ("laminar", "turbulent")
    )
    return np.asarray(laminar), np.asarray(turbulent)
