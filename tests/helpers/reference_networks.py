"""Heating networks as plain numbers, and the same network built for this library and for others.

A plan has pairs of trunk pipes in a tree and loops of one plain pipe each. Water is the same everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from hypothesis import strategies as st
from scipy.optimize import brentq

from heatloop.hydraulics.network.flow_solver import solve_network
from heatloop.hydraulics.network.links import ElementArrays, NetworkGraph
from heatloop.physics.friction import friction_table

DENSITY_KG_M3 = 988.0
VISCOSITY_PA_S = 5.4e-4
"""About those of water at 50 °C."""


@dataclass(frozen=True)
class Pipe:
    """One way of a trunk, or a whole loop: it starts at the end of trunk `parent`, -1 for the source."""

    parent: int
    length_m: float
    bore_m: float
    roughness_m: float = 1.5e-6
    zeta: float = 0.0


@dataclass(frozen=True)
class Plan:
    trunks: tuple[Pipe, ...]
    loops: tuple[Pipe, ...]

    def pipes(self):
        """(start node, end node, pipe) of all, trunk flows, trunk returns, loops; nodes 0 return, 1 flow."""
        flow = {-1: 1, **{i: 2 + 2 * i for i in range(len(self.trunks))}}
        back = {-1: 0, **{i: 3 + 2 * i for i in range(len(self.trunks))}}
        yield from ((flow[t.parent], flow[i], t) for i, t in enumerate(self.trunks))
        yield from ((back[i], back[t.parent], t) for i, t in enumerate(self.trunks))
        yield from ((flow[loop.parent], back[loop.parent], loop) for loop in self.loops)

    @property
    def nodes(self):
        return 2 + 2 * len(self.trunks)


@dataclass(frozen=True)
class Solved:
    """flow_kg_s and reynolds of every pipe in the order of `Plan.pipes`."""

    flow_kg_s: np.ndarray
    reynolds: np.ndarray


@lru_cache(maxsize=4)
def network_of(plan):
    start, end, pipes = zip(*plan.pipes(), strict=True)
    bore = np.array([pipe.bore_m for pipe in pipes])
    curves = {}
    which = [curves.setdefault(pipe.roughness_m / pipe.bore_m, len(curves)) for pipe in pipes]
    places = np.arange(bore.size)
    elements = ElementArrays(
        link=places,
        first_element=places,
        area_m2=np.pi * bore**2 / 4.0,
        hydraulic_diameter_m=bore,
        length_m=np.array([pipe.length_m for pipe in pipes]),
        zeta=np.array([pipe.zeta for pipe in pipes]),
        kv_m3_h=np.full(bore.size, np.inf),
        friction=np.array(which),
        table=friction_table(tuple(curves), (64.0,) * len(curves)),
    )
    return NetworkGraph(plan.nodes, np.array(start), np.array(end), np.array([0, 1])), elements


def solved(plan, head_pa):
    """The plan by this library."""
    network, elements = network_of(plan)
    density = np.full(elements.link.size, DENSITY_KG_M3)
    viscosity = np.full(elements.link.size, VISCOSITY_PA_S)
    state = solve_network(
        network,
        np.array([0.0, head_pa]),
        lambda flow: elements.drop(flow, density, viscosity)[:2],
        np.full(density.size, 0.02),
    )
    assert state.mass_residual < 1e-10
    assert state.head_residual < 1e-10
    return Solved(state.flow_kg_s, elements.drop(state.flow_kg_s, density, viscosity)[2])


def head_for(plan, measure, reynolds):
    """Head in Pa at which `measure` (min or max) of all Reynolds numbers is `reynolds`."""

    def miss(log_head):
        return measure(solved(plan, np.exp(log_head)).reynolds) / reynolds - 1.0

    low = high = np.log(1e4)
    while miss(low) > 0:
        low -= 3.0
    while miss(high) < 0:
        high += 3.0
    return float(np.exp(brentq(miss, low, high, xtol=1e-4)))


@st.composite
def plans(draw, loops=(1, 40), zeta=True):
    """A random heating network: a manifold (all loops on one trunk) or a tree of trunks."""
    count = draw(st.integers(*loops))
    trunks = 1 if draw(st.booleans()) else draw(st.integers(1, 8))
    parents = [-1, *(draw(st.integers(-1, i - 1)) for i in range(1, trunks))]
    homes = [*range(trunks), *(draw(st.integers(-1, trunks - 1)) for _ in range(max(count - trunks, 0)))]
    lost = st.floats(0.0, 30.0) if zeta else st.just(0.0)
    bores = st.sampled_from([0.0202, 0.0262, 0.0326, 0.0396])
    lengths = st.floats(1.0, 15.0)
    return Plan(
        tuple(Pipe(p, draw(lengths), draw(bores), zeta=draw(lost)) for p in parents),
        tuple(Pipe(h, draw(st.floats(8.0, 60.0)), draw(st.floats(0.008, 0.016)), zeta=draw(lost)) for h in homes),
    )


HOUSE = Plan(
    trunks=(Pipe(-1, 4.5, 0.0262, zeta=2.0), Pipe(0, 5.0, 0.0202, zeta=1.5)),
    loops=(
        Pipe(0, 38.0, 0.013, zeta=21.0),
        Pipe(0, 31.0, 0.013, zeta=18.0),
        Pipe(0, 26.5, 0.0136, zeta=12.0),
        Pipe(1, 40.0, 0.013, zeta=16.0),
        Pipe(1, 33.0, 0.012, zeta=24.0),
    ),
)
"""Two trunks and five loops, as a small house has them."""
