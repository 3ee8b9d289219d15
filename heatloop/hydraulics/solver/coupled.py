"""Heat and flow solved together: alternating steps of the network and of the temperatures until both converge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.solver.convergence import TOLERANCE, has_converged
from heatloop.hydraulics.solver.distribution_state import DistributionState
from heatloop.hydraulics.solver.flow_state import FlowState
from heatloop.hydraulics.solver.heat_state import HeatState
from heatloop.hydraulics.solver.problem import CLOSED_KG_S, InitialTemperatures, OperatingProblem, OperatingSolution
from heatloop.hydraulics.solver.pump_boundary import node_outflow
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

ROUNDS = 240

RELAXED_AFTER = {40: 0.5, 90: 0.25, 150: 0.1}
"""From these rounds on flows follow only a part of each change of temperature. In parallel channels a slow flow cools,
its viscosity rises and it slows further, so that whole steps may oscillate about the solution."""

PLAIN_AFTER = 30
"""Rounds after which the slopes of the network no longer include the effect of flow on water temperature: by then the
estimate slows convergence."""

ROUNDED, ROUNDED_AFTER = 1e-10, 60
"""Changes below this, after so many rounds, are those of rounding: they do not decrease further."""

MIN_EXCESS_K = 1.0


class FlowReversed(ArithmeticError):
    """The other pumps, or buoyancy, drive the water of a loop from its return tail to its flow tail."""

    def __init__(self, loop: str) -> None:
        self.loop = loop
        super().__init__(f'loop "{loop}": flow is reversed; must be from the flow tail to the return tail')


def solve_heat_and_flow(
    network: PipeNetwork,
    problem: OperatingProblem,
    fluid: Fluid,
    initial_guess_kg_s: Array | None = None,
    tolerance: float = TOLERANCE,
    initial_temperatures: InitialTemperatures | None = None,
) -> OperatingSolution:
    """Solve all scenarios. initial_guess_kg_s (L, S): likely loop flows.

    `initial_temperatures`: those of a similar state of the same network, for all scenarios.

    Raises FlowReversed where flow is reversed in a loop; ArithmeticError where heat and flow do not converge, or flow
    is reversed in a channel.
    """
    known = initial_temperatures
    shared = DistributionState(network, problem, fluid)
    heat = HeatState(network, problem, fluid, () if known is None else known.heats)
    excess_k = np.maximum(np.abs(problem.supply_c - heat.coldest_c).max(axis=0), MIN_EXCESS_K)
    flow = FlowState(network, problem, fluid, excess_k, initial_guess_kg_s)
    temp_c = np.broadcast_to(problem.source_c, (network.temperatures.size, problem.scenarios))
    if known is not None:
        temp_c = np.repeat(known.temp_c[:, None], problem.scenarios, axis=1)
        shared.start_from(temp_c)
    followed_c, share = temp_c, 1.0
    moved = before = np.full(problem.scenarios, np.inf)
    for rounds in range(1, ROUNDS + 1):
        share = RELAXED_AFTER.get(rounds, share)
        followed_c = temp_c if share == 1.0 else followed_c + share * (temp_c - followed_c)
        flow_moved = flow.step(followed_c, shared, rounds < PLAIN_AFTER)
        before_c = temp_c
        temp_c, moved_k, inside_k = _heat_step(network, flow.link_kg_s, heat, shared, temp_c)
        if problem.cell_number is None or not np.isfinite(inside_k):
            moved_k = np.maximum(moved_k, inside_k)
        first, before, moved = before, moved, np.maximum(flow_moved, moved_k / excess_k)
        if has_converged(first, before, moved, tolerance) or (rounds > ROUNDED_AFTER and moved.max() < ROUNDED):
            if problem.cell_number is not None or heat.is_fine():
                return _answer(flow, heat, shared, temp_c, moved, rounds)
            moved = np.full(problem.scenarios, np.inf)
        if np.isnan(moved).any():
            break
    _check_directions(network, flow.link_kg_s)
    change_k = np.abs(temp_c - before_c)[network.temperatures.loop_return].max(axis=1)
    name = network.loops[int(np.argmax(change_k))].loop.name
    raise ArithmeticError(f'loop "{name}": heat and flow did not converge in {rounds} rounds, it moved most')


def _heat_step(
    network: PipeNetwork, link_kg_s: Array, heat: HeatState, shared: DistributionState, before_c: Array
) -> tuple[Array, Array, float]:
    """Take one step of all temperatures at these flows.

    Returns the vector of temperatures (T, S), the largest change in K (S), and the largest change within the groups of
    arms in any scenario.
    """
    loop_kg_s = link_kg_s.take(network.loop_link, axis=0)
    shared.go_out(link_kg_s)
    kelvin = heat.step(link_kg_s, loop_kg_s, shared.supply_c)
    shared.water_returns(link_kg_s, loop_kg_s, heat.back_c)
    temp_c = np.empty(before_c.shape)
    heat.write(temp_c)
    shared.write(temp_c)
    return temp_c, np.abs(temp_c - before_c).max(axis=0), kelvin


def _answer(
    flow: FlowState, heat: HeatState, shared: DistributionState, temp_c: Array, moved: Array, rounds: int
) -> OperatingSolution:
    """The converged state as a value. Raises FlowReversed where flow is reversed in a loop."""
    network, inflow = flow.network, shared.inflow_kg_s
    iterate, mass, head = flow.finish(temp_c, shared)
    _check_directions(network, iterate.flow)
    return OperatingSolution(
        flow_kg_s=iterate.flow,
        pressure_pa=iterate.pressure,
        link_drop_pa=iterate.drop,
        tee_drop_pa=flow.tee_drop_pa,
        temp_c=temp_c,
        density_kg_m3=flow.density,
        viscosity_pa_s=flow.viscosity,
        stream_kg_s=shared.stream_kg_s,
        loop_draw_share=np.ones(heat.shut.shape) if shared.loop_share is None else shared.loop_share,
        circuit_c=shared.circuit_c,
        circuit_return_c=shared.circuit_return_c,
        circuit_flow_kg_s=np.array([node_outflow(network, iterate, inflow, p) for p in range(len(network.circuits))]),
        heats=tuple(group.finish() for group in heat.groups),
        checks_w=tuple(group.check_w for group in heat.groups),
        held=flow.throttling,
        shut=heat.shut,
        residual_mass=mass,
        residual_head=head,
        moved=moved,
        rounds=rounds,
    )


def _check_directions(network: PipeNetwork, link_kg_s: Array) -> None:
    """Raise an error where flow is reversed in a loop or a channel, at flows of links (links, S)."""
    reversed_loops = np.flatnonzero((link_kg_s[network.loop_link] < -CLOSED_KG_S).any(axis=1))
    if reversed_loops.size:
        raise FlowReversed(network.loops[reversed_loops[0]].loop.name)
    for loop, links in zip(network.arm_loop, network.channel_link, strict=True):
        if (link_kg_s[links] < -CLOSED_KG_S).any():
            raise ArithmeticError(
                f'loop "{network.loops[loop].loop.name}": flow is reversed in one of its channels; '
                "requires a flow above that of buoyancy, or equal channels"
            )
