"""The dwelling of the benchmarks as a net of pandapipes."""

from __future__ import annotations

import numpy as np
import pandapipes
from pandapipes.properties.fluids import create_constant_fluid

from tests.helpers.dwelling import LAW, MIN_LENGTH_M, ROOM_C, SUPPLY_C, Peer, zeta_of


def pandapipes_dwelling(peer: Peer, head_pa: float, water_at: tuple[float, float, float]):
    """A pandapipes net of the peer, its water with the properties (density, heat capacity, viscosity) given.

    Pieces lose what the characteristic gives at their excess of 25 K, in proportion to the excess.
    """
    density, heat_capacity, viscosity = water_at
    net = pandapipes.create_empty_network(
        fluid=create_constant_fluid(
            "water", "liquid", density=density, viscosity=viscosity, heat_capacity=heat_capacity, molar_mass=18.0
        )
    )
    supply_k = SUPPLY_C + 273.15
    for _ in range(peer.nodes):
        pandapipes.create_junction(net, pn_bar=2.0, tfluid_k=supply_k)
    pandapipes.create_ext_grid(net, 0, p_bar=2.0, t_k=supply_k, type="p")
    pandapipes.create_ext_grid(net, 1, p_bar=2.0 + head_pa / 1e5, t_k=supply_k, type="pt")
    for start, end, element in zip(peer.start, peer.end, peer.elements, strict=True):
        bore_m = element.duct.hydraulic_diameter_m
        linear_w_mk = LAW.k_w_mkn / 2.0 * 25.0 ** (LAW.exponent - 1.0) if element.kind == "piece" else 0.0
        pandapipes.create_pipe_from_parameters(
            net, int(start), int(end), max(element.length_m, MIN_LENGTH_M) / 1000.0, bore_m * 1000.0,
            k_mm=element.roughness_m * 1000.0, loss_coefficient=zeta_of(element),
            u_w_per_m2k=linear_w_mk / (np.pi * bore_m), text_k=ROOM_C + 273.15,
        )  # fmt: skip
    return net
