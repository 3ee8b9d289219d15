"""Heat and flow together: what a system does at a given differential, flow or pump.

Flows set temperatures, temperatures set density and viscosity: both are repeated until neither moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.circuit.assembly import RETURN_NODE, SUPPLY_NODE, Assembly
from heatloop.circuit.heat import (
    ArmHeat,
    GroupHeat,
    arm_results,
    mean_heat_capacity,
    mixed_c,
    mixed_return_c,
    solve_group,
)
from heatloop.circuit.network import Network, NetworkState, solve_network
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

ROUNDS = 60
SETTLED = 1e-11
"""Relative change of flows, and of temperatures against the greatest excess, at which a solve ends."""


@dataclass(frozen=True)
class Operation:
    """A solved system. Per element (E): flow_kg_s, temp_in_c, temp_out_c, drop_pa, reynolds, density_kg_m3.

    Per loop (L): loop_flow_kg_s, supply_c, return_c, tail_loss_w. `arms` per arm. pressure_pa per node;
    source_return_c mixed; residuals relative: mass, head, energy, inlet (see `summary` of a design).
    """

    assembly: Assembly
    flow_kg_s: Array
    temp_in_c: Array
    temp_out_c: Array
    drop_pa: Array
    reynolds: Array
    density_kg_m3: Array
    loop_flow_kg_s: Array
    supply_c: Array
    return_c: Array
    arms: tuple[ArmHeat, ...]
    tail_loss_w: Array
    pressure_pa: Array
    source_return_c: float
    residual_mass: float
    residual_head: float
    residual_energy: float
    residual_inlet: float
    iterations: int

    @property
    def head_pa(self) -> float:
        """Differential between flow and return at the source."""
        return float(self.pressure_pa[SUPPLY_NODE] - self.pressure_pa[RETURN_NODE])

    @property
    def total_flow_kg_s(self) -> float:
        return float(self.loop_flow_kg_s.sum())


def operate(
    assembly: Assembly,
    supply_c: Array,
    water: Fluid,
    *,
    head_pa: float | None = None,
    flow_kg_s: float | None = None,
    guess_kg_s: Array | None = None,
) -> Operation:
    """Solve flows and temperatures with a differential `head_pa` at the source, or a total `flow_kg_s`.

    supply_c (L) is the flow temperature of each loop. `guess_kg_s` (L) may hold likely loop flows.
    Raises ArithmeticError if heat and flow do not settle together.
    """
    if (head_pa is None) == (flow_kg_s is None):
        raise ValueError("give either head_pa or flow_kg_s")
    network, fixed, inflow = assembly.network, np.array([0.0, head_pa or 0.0]), None
    if flow_kg_s is not None:
        network = Network(network.nodes, network.start, network.end, np.array([RETURN_NODE]))
        fixed = np.zeros(1)
        inflow = np.zeros(network.nodes)
        inflow[SUPPLY_NODE] = flow_kg_s
    elements = assembly.elements
    link_flow = _first_flows(assembly, guess_kg_s)
    heats: list[GroupHeat | None] = [None] * len(assembly.groups)
    pool = _first_pool(assembly, supply_c)
    excess = max(float(np.ptp(pool)), 1.0)
    for round_number in range(1, ROUNDS + 1):
        mean = assembly.pool_mean @ pool
        density, _, viscosity, _, _ = water.properties(mean)

        def link_drop(flow: Array, density: Array = density, viscosity: Array = viscosity) -> tuple[Array, Array]:
            drop, slope, _ = elements.drop(flow[elements.link], density, viscosity)
            return np.add.reduceat(drop, elements.first), np.add.reduceat(slope, elements.first)

        state = solve_network(network, fixed, link_drop, link_flow, inflow)
        moved = float(np.abs(state.flow_kg_s - link_flow).max() / max(np.abs(state.flow_kg_s).max(), 1e-300))
        link_flow = state.flow_kg_s
        old = pool
        heats, pool = _heat(assembly, link_flow, supply_c, water, heats)
        moved = max(moved, float(np.abs(pool - old).max()) / excess)
        if moved < SETTLED:
            return _operation(assembly, state, heats, pool, supply_c, water, round_number)
    raise ArithmeticError(f"heat and flow did not settle in {ROUNDS} rounds (last change {moved:.1e})")


def loop_flows(assembly: Assembly, link_flow: Array) -> Array:
    """Flow of each loop in kg/s from the flows of the links, (L)."""
    return np.array([link_flow[links].sum() for links in assembly.loop_flow_links])


def _first_flows(assembly: Assembly, guess: Array | None) -> Array:
    loops = np.full(len(assembly.loops), 0.02) if guess is None else guess
    flow = np.full(assembly.network.start.size, float(loops.mean()))
    for links, value in zip(assembly.loop_flow_links, loops, strict=True):
        flow[links] = value
    for arm, links in enumerate(assembly.channel_link):
        flow[links] = loops[assembly.arm_loop[arm]]
    trunk_flow = assembly.on_trunk @ loops
    for links, value in zip(assembly.trunk_links, trunk_flow, strict=True):
        flow[links] = value
    return flow


def _first_pool(assembly: Assembly, supply_c: Array) -> Array:
    pool = np.full(assembly.pool_mean.shape[1], float(supply_c.mean()))
    return pool


def _heat(
    assembly: Assembly, link_flow: Array, supply_c: Array, water: Fluid, near: list[GroupHeat | None]
) -> tuple[list[GroupHeat | None], Array]:
    """Heat of all arms at these flows, and the temperature pool."""
    arm_return = np.zeros(len(assembly.arms))
    arm_flow = np.zeros(len(assembly.arms))
    flow_l = loop_flows(assembly, link_flow)
    head_c = tail_outlet_c(assembly, flow_l, supply_c, water, "flow")
    parts: list[Array] = []
    solved: list[GroupHeat | None] = []
    for group, before in zip(assembly.groups, near, strict=True):
        flow = np.maximum(np.array([link_flow[assembly.channel_link[a]] for a in group.arms]).T, 1e-9)
        inlet = head_c[assembly.arm_loop[list(group.arms)]]
        heat = solve_group(group, flow, inlet, water, before)
        solved.append(heat)
        index = list(group.arms)
        arm_return[index] = mixed_return_c(heat)
        arm_flow[index] = flow[np.asarray(group.runs.direction) > 0].sum(axis=0)
        nodes, means = _coarse(heat)
        parts += [nodes.ravel(), means.ravel()]
    loops = len(assembly.loops)
    weight = np.bincount(assembly.arm_loop, arm_flow, loops)
    foot_c = _mix(water, assembly.arm_loop, arm_flow / weight[assembly.arm_loop], arm_return, loops)
    loop_return = tail_outlet_c(assembly, flow_l, foot_c, water, "return")
    trunk_flow = assembly.on_trunk @ flow_l
    trunk_return = mixed_c(water, assembly.on_trunk * flow_l / np.maximum(trunk_flow, 1e-300)[:, None], loop_return)
    trunk_supply = np.array(
        [supply_c[row > 0].max() if np.any(row > 0) else supply_c.max() for row in assembly.on_trunk]
    )
    ends = [supply_c, loop_return, head_c, foot_c, arm_return, trunk_supply, trunk_return]
    return solved, np.concatenate([*ends, *parts])


def tail_outlet_c(
    assembly: Assembly,
    flow_kg_s: Array,
    inlet_c: Array,
    water: Fluid,
    side: str,
    loops: NDArray[np.intp] | slice = slice(None),
) -> Array:
    """Temperature at the end of the flow or return tails of `loops`: its exponential approach to the
    surroundings, with the mean heat capacity between its ends. Flow and inlet have one value per loop."""
    loss, around = (values[loops] for values in _tails(assembly, side))
    outlet = inlet_c
    for _ in range(3):
        capacity = np.maximum(flow_kg_s, 1e-9) * mean_heat_capacity(water, inlet_c, outlet)
        outlet = around + (inlet_c - around) * np.exp(-loss / capacity)
    return np.asarray(outlet)


def tail_loss_w(assembly: Assembly, from_c: Array, to_c: Array, side: str) -> Array:
    """Heat lost by each loop's flow or return tail, (L) W: its conductance times its log mean excess."""
    loss, around = _tails(assembly, side)
    first, last = from_c - around, to_c - around
    ratio = np.where(last == 0.0, 1.0, first / np.where(last == 0.0, 1.0, last))
    uneven = np.abs(ratio - 1.0) > 1e-12
    log = np.log(np.where(uneven & (ratio > 0), ratio, np.e))
    return np.asarray(loss * np.where(uneven, (first - last) / log, first))


def _tails(assembly: Assembly, side: str) -> tuple[Array, Array]:
    losses = [path.tail_loss for path in assembly.loops]
    loss = np.array([one.flow_w_k if side == "flow" else one.return_w_k for one in losses])
    return loss, np.array([one.around_c for one in losses])


def _coarse(heat: GroupHeat) -> tuple[Array, Array]:
    """Temperatures at the nodes and means of the cells that the path was built of."""
    offsets = np.concatenate([[0], np.cumsum(heat.parts)])
    runs = heat.group.runs
    index = np.arange(runs.start.size - 1)
    cell_start = offsets[:-1]
    left = cell_start + runs.run_of_cell
    nodes = np.empty(runs.length_m.size + index.size, dtype=np.intp)
    nodes[runs.left_node] = left
    nodes[runs.start[1:] + index] = offsets[runs.start[1:]] + index
    weighted = np.add.reduceat(heat.channels.middle_c * heat.fine.length_m, cell_start, axis=1)
    return heat.channels.temp_c[:, nodes], weighted / runs.length_m


def _mix(water: Fluid, group: NDArray[np.intp], share: Array, temp_c: Array, count: int) -> Array:
    """Mixed temperature of streams by group, from their enthalpies; shares sum to 1 in each group."""
    rows = np.zeros((count, temp_c.size))
    rows[group, np.arange(temp_c.size)] = share
    return mixed_c(water, rows, temp_c)


def _operation(
    assembly: Assembly,
    state: NetworkState,
    heats: list[GroupHeat | None],
    pool: Array,
    supply_c: Array,
    water: Fluid,
    rounds: int,
) -> Operation:
    elements = assembly.elements
    density, _, viscosity, _, _ = water.properties(assembly.pool_mean @ pool)
    flow = state.flow_kg_s[elements.link]
    drop, _, re = elements.drop(flow, density, viscosity)
    loops = len(assembly.loops)
    flow_l = loop_flows(assembly, state.flow_kg_s)
    return_c = pool[loops : 2 * loops]
    arms: list[ArmHeat | None] = [None] * len(assembly.arms)
    for heat in heats:
        if heat is None:
            continue
        for place, result in zip(heat.group.arms, arm_results(heat), strict=True):
            arms[place] = result
    done = tuple(arm for arm in arms if arm is not None)
    given = flow_l * (water.enthalpy_j_kg(supply_c) - water.enthalpy_j_kg(return_c))
    head_c, foot_c = pool[2 * loops : 3 * loops], pool[3 * loops : 4 * loops]
    tails = tail_loss_w(assembly, supply_c, head_c, "flow") + tail_loss_w(assembly, foot_c, return_c, "return")
    emitted = np.bincount(assembly.arm_loop, [arm.check_w for arm in done], loops) + tails
    energy = np.abs(given - emitted) / np.maximum(np.abs(emitted), 1e-9)
    inlet = max(arm.residual_k for arm in done) / max(float(np.ptp(pool)), 1.0)
    source_return = mixed_c(water, (flow_l / flow_l.sum())[None, :], return_c)[0]
    return Operation(
        assembly=assembly,
        flow_kg_s=flow,
        temp_in_c=pool[assembly.pool_in],
        temp_out_c=pool[assembly.pool_out],
        drop_pa=drop,
        reynolds=re,
        density_kg_m3=density,
        loop_flow_kg_s=flow_l,
        supply_c=supply_c,
        return_c=return_c,
        arms=done,
        tail_loss_w=tails,
        pressure_pa=state.pressure_pa,
        source_return_c=float(source_return),
        residual_mass=state.mass_residual,
        residual_head=state.head_residual,
        residual_energy=float(energy.max()),
        residual_inlet=float(inlet),
        iterations=rounds,
    )
