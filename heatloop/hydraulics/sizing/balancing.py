"""Pump heads, index loop and presettings that give each loop its sized flow.

The head of a circuit is the head that its most demanding loop requires with open valves. In every other loop the
balancing valve takes the difference. The balancing valve is the valve on the flow if it has a presetting in its body,
else the one on the return, else those of the arms, else the one on the flow.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.model import PathElement
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.network.tee_losses import tee_drops_pa
from heatloop.hydraulics.network.trunk_loss import solve_trunk_temperatures
from heatloop.hydraulics.pumps import HOUR_S
from heatloop.hydraulics.sizing.flows import SizedLoop
from heatloop.hydraulics.sizing.loop_alone import throttled_kv
from heatloop.hydraulics.solver.operating_state import circuit_temps_c
from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.valves import flow_from_pressure_drop_m3_h
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

BYPASS_TOLERANCE = 1e-13
"""Relative change of bypass flows at which heads have converged."""

STARTING_SHARE = 0.5
"""Minimum head of a circuit, as a share of the friction of each of its loops. Buoyancy acts on a loop only after its
water flows: at a lower head, both still and flowing water would be a solution. Convention of this program; no
published rule is known."""


@dataclass(frozen=True)
class Balance:
    """Heads, index loop, bypass flows and valve settings of a balanced system.

    Attributes
    ----------
    heads_pa : array (P)
        Head at the pump of each circuit in Pa, the circuit of the source first.
    index : int
        Position of the index loop in the network: that of the first circuit that has loops.
    index_of_circuit : tuple of int (P)
        Position of the index loop of each circuit; -1 for a circuit without loops.
    bypass_kg_s : array (B)
        Flow of each bypass in kg/s.
    kv_m3_h : dict
        Kv of each valve in m³/h, by the position of its element in the network.
    """

    heads_pa: Array
    index: int
    index_of_circuit: tuple[int, ...]
    bypass_kg_s: Array
    kv_m3_h: dict[int, float]

    @property
    def head_pa(self) -> float:
        """Head at the pump of the source."""
        return float(self.heads_pa[0])


def balance_system(
    network: PipeNetwork,
    sized: Sequence[SizedLoop],
    supply_c: Array,
    fluid: Fluid,
    *,
    source_c: float | None = None,
    presettable: Collection[str] = (),
) -> Balance:
    """Calculate heads, index loops and exact presettings for these loop flows.

    Where water rises, buoyancy adds to or reduces the head of each loop. Heads and flows of bypasses depend on each
    other; they are iterated at most 60 times, and those of the last iteration are returned even if they still change.

    Parameters
    ----------
    network : PipeNetwork
        The network, which has at least one loop.
    sized : sequence of SizedLoop (L)
        The sized loops in the order of the network.
    supply_c : array (L)
        Flow temperature of each loop in °C.
    fluid : Fluid
        Properties of the water.
    source_c : float, optional
        Flow temperature of the source in °C; None: that of the warmest loop.
    presettable : collection of str
        Names of valves on the flow with a presetting in their body.

    Returns
    -------
    Balance
    """
    loops = len(sized)
    temps_c = circuit_temps_c(network, float(supply_c.max()) if source_c is None else source_c)
    alone, lifts = np.array([loop_sized.alone.head_pa for loop_sized in sized]), _lifts_pa(network, sized)
    bypass = np.zeros(len(network.bypasses))
    for _ in range(60):
        drops, bypass_c = _stream_drops_pa(network, sized, bypass, temps_c, fluid)
        friction = alone + drops[:loops]
        need = friction - lifts
        heads = _heads(network, np.maximum(need, STARTING_SHARE * friction), drops)
        before, bypass = bypass, _bypass_flows(network, heads, drops, bypass_c, fluid)
        if np.all(np.abs(bypass - before) <= BYPASS_TOLERANCE * np.maximum(bypass, 1e-12)):
            break
    index = [_index(network, need, p) for p in range(len(heads))]
    surplus = np.maximum(heads[network.loop_circuit] - need, 0.0)
    return Balance(
        heads_pa=heads,
        index=next(i for i in index if i >= 0),
        index_of_circuit=tuple(index),
        bypass_kg_s=bypass,
        kv_m3_h=_presettings(network, sized, surplus, presettable),
    )


def _heads(network: PipeNetwork, need: Array, drops: Array) -> Array:
    """Head of the pump of each circuit: for its index loop, and for the supply of the circuits that it feeds."""
    heads = np.zeros(len(network.circuits))
    np.maximum.at(heads, network.loop_circuit, need)
    draws = drops[network.shared_pipework.draw_streams]
    for circuit, drop in zip(network.circuits[1:], draws, strict=True):
        heads[circuit.parent] = max(heads[circuit.parent], drop)
    return heads


def _index(network: PipeNetwork, need: Array, p: int) -> int:
    """Loop of a circuit that requires the highest head; -1 where the circuit has no loop."""
    own = np.flatnonzero(network.loop_circuit == p)
    return int(own[np.argmax(need[own])]) if own.size else -1


def _presettings(
    network: PipeNetwork, sized: Sequence[SizedLoop], surplus: Array, presettable: Collection[str]
) -> dict[int, float]:
    kv: dict[int, float] = {}
    for loop, loop_sized in enumerate(sized):
        places = _own_places(network, loop)
        for here_place, alone_place in zip(places, range(loop_sized.alone.kv_m3_h.size), strict=True):
            if network.locations[here_place].element.kind == "valve":
                kv[here_place] = float(loop_sized.alone.kv_m3_h[alone_place])
        for place in balancing_places(network, loop, presettable):
            at = places.index(place)
            kv[place] = throttled_kv(
                kv[place],
                float(loop_sized.alone.flow_kg_s[at]),
                float(surplus[loop]),
                float(loop_sized.alone.density_kg_m3[at]),
            )
    return kv


def _own_places(network: PipeNetwork, loop: int) -> list[int]:
    """Indices of the elements of a loop, in the order of `SizedLoop.alone`."""
    return [i for i, place in enumerate(network.locations) if place.loop == loop and place.element.kind != "tee"]


def balancing_places(network: PipeNetwork, loop: int, presettable: Collection[str] = ()) -> list[int]:
    """Indices of the valves that take the surplus head of a loop; empty where it has no valve."""
    locations = network.locations
    valves = {i: p.element for i, p in enumerate(locations) if p.loop == loop and p.element.kind == "valve"}
    return balancing_among(valves, len(network.loops[loop].arms), presettable)


def balancing_among(valves: Mapping[int, PathElement], arms: int, presettable: Collection[str] = ()) -> list[int]:
    """The keys of those valves of a loop that take its surplus head; `valves` in water order, `arms`: their number."""
    of_loop = [i for i, valve in valves.items() if valve.arm == 0]
    in_body = [i for i in of_loop if valves[i].valve in presettable]
    if in_body:
        return in_body[:1]
    on_return = [i for i in of_loop if valves[i].direction == "return"]
    if on_return:
        return on_return[-1:]
    by_arm = {valve.arm: i for i, valve in valves.items() if valve.arm > 0}
    if len(by_arm) == arms and by_arm:
        return list(by_arm.values())
    return of_loop[:1]


def _stream_drops_pa(
    network: PipeNetwork, sized: Sequence[SizedLoop], bypass_kg_s: Array, circuit_c: Array, fluid: Fluid
) -> tuple[Array, Array]:
    """Pressure drop of shared pipework on the way of each stream (N) in Pa, and water temperature in bypasses (B).

    The drop is that of the way out and back, at the sized flows.
    """
    shared_pipework = network.shared_pipework
    streams = np.zeros(shared_pipework.on_link.shape[1])
    streams[shared_pipework.loop_streams] = [loop_sized.flow_kg_s for loop_sized in sized]
    streams[shared_pipework.bypass_streams] = bypass_kg_s
    back = np.zeros_like(streams)
    back[shared_pipework.loop_streams] = [loop_sized.alone.return_c for loop_sized in sized]
    back[shared_pipework.bypass_streams] = circuit_c[
        [shared_pipework.circuit_of[bypass.trunk] for bypass in network.bypasses], 0
    ]
    if not shared_pipework.links:
        return streams * 0.0, circuit_c[[0] * bypass_kg_s.size, 0]
    loop_c = np.array([loop_sized.alone.supply_c for loop_sized in sized])
    trunks = solve_trunk_temperatures(shared_pipework, streams, back, circuit_c, loop_c, fluid)
    streams = trunks.stream_kg_s
    main = np.array([place.main for place in network.locations])
    flow, element_c = np.zeros(main.size), np.full(main.size, float(circuit_c[0, 0]))
    main_flow = shared_pipework.on_link @ streams
    flow[main >= 0] = main_flow[main[main >= 0]]
    element_c[main >= 0] = ((trunks.inlet_c + trunks.outlet_c) / 2.0)[main[main >= 0]]
    for i, place in enumerate(network.locations):
        if place.element.kind == "tee" and place.loop >= 0:
            alone = sized[place.loop].alone
            element_c[i] = alone.supply_c if place.element.direction == "flow" else alone.return_c
    density, _, viscosity, _, _ = fluid.properties(element_c)
    drop, _, _ = network.elements.drop(flow, density, viscosity)
    tees = _tee_drops(network, streams, main_flow, density)
    by_main = np.bincount(main[main >= 0], (drop + tees)[main >= 0], len(shared_pipework.links))
    own = np.zeros(streams.size)
    for i in np.flatnonzero(tees).tolist():
        place = network.locations[i]
        stream = (
            place.loop
            if place.loop >= 0
            else shared_pipework.bypass_streams.start + place.bypass
            if place.bypass >= 0
            else -1
        )
        if stream >= 0:
            own[stream] += tees[i]
    hang = [shared_pipework.join[bypass.trunk][0] for bypass in network.bypasses]
    return np.asarray(shared_pipework.on_link.T @ by_main + own), trunks.node_c[hang]


def _tee_drops(network: PipeNetwork, streams: Array, main_flow: Array, density: Array) -> Array:
    """Pressure drop at every tee (E) in Pa, at the sized flows."""
    links = np.zeros((network.graph.start.size, 1))
    links[network.main_link, 0] = main_flow
    links[network.bypass_link, 0] = streams[network.shared_pipework.bypass_streams]
    for i, place in enumerate(network.locations):
        if place.loop >= 0 and place.element.kind in ("tee", "tail"):
            links[network.elements.link[i], 0] = streams[place.loop]
    return tee_drops_pa(network.tees, links, density[:, None])[:, 0]


def _bypass_flows(network: PipeNetwork, heads: Array, drops: Array, bypass_c: Array, fluid: Fluid) -> Array:
    """Flow of each bypass by its Kv and the pressure difference across it, (B) kg/s."""
    flows = np.zeros(len(network.bypasses))
    for b, bypass in enumerate(network.bypasses):
        circuit = network.shared_pipework.circuit_of[bypass.trunk]
        density = float(fluid.density_kg_m3(bypass_c[b]))
        spare = (
            heads[circuit] - drops[network.shared_pipework.bypass_streams][b] - 1000.0 * (bypass.opens_at_kpa or 0.0)
        )
        flow_m3_h = flow_from_pressure_drop_m3_h(max(spare, 0.0), bypass.kv_m3_h, density)
        flows[b] = flow_m3_h / HOUR_S * density
    return flows


def _lifts_pa(network: PipeNetwork, sized: Sequence[SizedLoop]) -> Array:
    """Head in Pa that buoyancy adds to each loop, (L)."""
    lifts = np.zeros(len(sized))
    for loop, loop_sized in enumerate(sized):
        places = _own_places(network, loop)
        weight = (
            network.rise_m[places] * loop_sized.alone.density_kg_m3 * loop_sized.alone.flow_kg_s / loop_sized.flow_kg_s
        )
        lifts[loop] = -GRAVITY_M_S2 * float(weight.sum())
    return lifts
