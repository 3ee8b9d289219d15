"""Pressure drop against flow as a table on a fixed grid; rows of pipes add drops, branches add flows.

Friction factor: Churchill 1977, one formula for laminar, transitional and turbulent flow (Chemical Engineering 84 (24),
pages 91 and 92; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.helpers.second_site import water

FLOW_KG_S = np.geomspace(1e-6, 20.0, 480)
"""Flows at which every drop is tabulated, kg/s."""

DROP_PA = np.geomspace(1e-5, 1e8, 700)
"""Drops at which the flows of branches are added, Pa."""

LOG_FLOW, LOG_DROP = np.log(FLOW_KG_S), np.log(DROP_PA)


def friction_factor(reynolds, relative_roughness):
    """Darcy friction factor by Churchill's formula, for any Reynolds number."""
    a = (2.457 * np.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * relative_roughness))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


@dataclass(frozen=True)
class Row:
    """Pipes, fittings and valves in a row, E of them: lengths and roughness in m, areas in m2, Kv in m3/h (inf: no
    valve); `friction` a factor on friction, `fittings` one on the zeta."""

    length_m: np.ndarray
    area_m2: np.ndarray
    diameter_m: np.ndarray
    roughness_m: np.ndarray
    zeta: np.ndarray
    kv_m3_h: np.ndarray
    friction: float = 1.0
    fittings: float = 1.0

    def drop_pa(self, temp_c):
        """Drop in Pa at every flow of the grid, water at one temperature."""
        if not self.length_m.size:
            return np.full(FLOW_KG_S.size, 1e-9)
        rho, mu = water.density_kg_m3(temp_c), water.viscosity_pa_s(temp_c)
        flow = FLOW_KG_S[:, None]
        dynamic = 0.5 * rho * (flow / (rho * self.area_m2)) ** 2
        total = (self.fittings * self.zeta * dynamic).sum(axis=1)
        total += (1e5 * (3600.0 * flow / rho / self.kv_m3_h) ** 2 * rho / 1000.0).sum(axis=1)
        for diameter, area, roughness in {*zip(self.diameter_m, self.area_m2, self.roughness_m, strict=True)}:
            same = (self.diameter_m == diameter) & (self.area_m2 == area)
            per_m = friction_factor(FLOW_KG_S * diameter / (area * mu), roughness / diameter) / diameter
            total += self.friction * per_m * self.length_m[same].sum() * 0.5 * FLOW_KG_S**2 / (rho * area**2)
        return total + 1e-9


def flow_at(drop_table, drop_pa):
    """Flow in kg/s through a branch at this drop."""
    return np.exp(np.interp(np.log(np.maximum(drop_pa, 1e-9)), np.log(drop_table), LOG_FLOW))


def drop_at(drop_table, flow_kg_s):
    """Drop in Pa of a branch at this flow."""
    return float(np.exp(np.interp(np.log(max(flow_kg_s, 1e-9)), LOG_FLOW, np.log(drop_table))))


def side_by_side(drop_tables, drawn_kg_s=0.0):
    """Drop of branches between the same two points against their whole flow, and a flow that is drawn there too."""
    drawn = drawn_kg_s * np.linspace(1.0, 1.0 + 1e-4, DROP_PA.size)  # rising, so that the table has an inverse
    whole = sum((flow_at(table, DROP_PA) for table in drop_tables), drawn + 1e-12)
    return np.exp(np.interp(LOG_FLOW, np.log(whole), LOG_DROP))
