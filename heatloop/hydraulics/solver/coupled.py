"""Heat and flow solved together: steps of the network and of the temperatures by turns, until both have settled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.solver.distribution_state import DistributionState
from heatloop.hydraulics.solver.flow_state import FlowState
from heatloop.hydraulics.solver.heat_state import HeatState
from heatloop.hydraulics.solver.problem import CLOSED_KG_S, OperatingProblem, OperatingSolution
from heatloop.hydraulics.solver.pump_boundary import node_outflow
from heatloop.hydraulics.solver.settling import SETTLED, has_converged
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

ROUNDS = 100

PLAIN_AFTER = 30
"""Rounds after which the slopes of the network no longer count on water getting warmer with flow: an estimate that
has not helped by then hinders."""

MIN_EXCESS_K = 1.0


def solve_heat_and_flow(
    assembly: PipeNetwork,
    question: OperatingProblem,
    water: Fluid,
    guess_kg_s: Array | None = None,
    settled: float = SETTLED,
) -> OperatingSolution:
    """Solve all scenarios. guess_kg_s (L, S): likely loop flows.

    Raises ArithmeticError where heat and flow do not settle, or water would have to run backwards through a loop.
    """
    shared, heat = DistributionState(assembly, question, water), HeatState(assembly, question, water)
    excess_k = np.maximum(np.abs(question.supply_c - heat.coldest_c).max(axis=0), MIN_EXCESS_K)
    flow = FlowState(assembly, question, water, excess_k, guess_kg_s)
    temp_c = np.broadcast_to(question.source_c, (assembly.temperatures.size, question.scenarios))
    moved = before = np.full(question.scenarios, np.inf)
    for rounds in range(1, ROUNDS + 1):
        flow_moved = flow.step(temp_c, shared.circuit_c, shared.inflow_kg_s, rounds < PLAIN_AFTER)
        temp_c, moved_k = _heat_step(assembly, flow.link_kg_s, heat, shared, temp_c)
        first, before, moved = before, moved, np.maximum(flow_moved, moved_k / excess_k)
        if has_converged(first, before, moved, settled):
            if question.cell_number is not None or heat.is_fine():
                return _answer(flow, heat, shared, temp_c, moved, rounds)
            moved = np.full(question.scenarios, np.inf)
    raise ArithmeticError(f"heat and flow did not settle in {ROUNDS} rounds (last change {moved.max():.1e})")


def _heat_step(
    assembly: PipeNetwork, link_kg_s: Array, heat: HeatState, shared: DistributionState, before_c: Array
) -> tuple[Array, Array]:
    """One step of all temperatures at these flows: the vector of them, (T, S), and the greatest change in K, (S)."""
    loop_kg_s = link_kg_s.take(assembly.loop_link, axis=0)
    shared.go_out(link_kg_s)
    kelvin = heat.step(link_kg_s, loop_kg_s, shared.supply_c)
    shared.come_home(link_kg_s, loop_kg_s, heat.back_c)
    temp_c = np.empty(before_c.shape)
    heat.write(temp_c)
    shared.write(temp_c)
    change = np.abs(temp_c - before_c).max(axis=0)
    alone = change.size == 1 or not np.isfinite(kelvin)
    return temp_c, np.asarray(np.maximum(change, kelvin) if alone else change)


def _answer(
    flow: FlowState, heat: HeatState, shared: DistributionState, temp_c: Array, moved: Array, rounds: int
) -> OperatingSolution:
    """The settled state as a value. Raises ArithmeticError where water runs backwards through a loop."""
    assembly, inflow = flow.assembly, shared.inflow_kg_s
    now, mass, head = flow.finish(temp_c, shared.circuit_c, inflow)
    backwards = now.flow[assembly.loop_link] < -CLOSED_KG_S
    if backwards.any():
        loop = int(np.flatnonzero(backwards.any(axis=1))[0])
        raise ArithmeticError(
            f'loop "{assembly.loops[loop].loop.name}": water would run backwards through it, '
            "wanted flow from the flow tail to the return tail"
        )
    return OperatingSolution(
        flow_kg_s=now.flow,
        pressure_pa=now.pressure,
        link_drop_pa=now.drop,
        tee_drop_pa=flow.tee_drop_pa,
        temp_c=temp_c,
        density_kg_m3=flow.density,
        viscosity_pa_s=flow.viscosity,
        stream_kg_s=shared.stream_kg_s,
        circuit_c=shared.circuit_c,
        circuit_return_c=shared.circuit_return_c,
        circuit_flow_kg_s=np.array([node_outflow(assembly, now, inflow, p) for p in range(len(assembly.circuits))]),
        heats=tuple(group.finish() for group in heat.groups),
        checks_w=tuple(group.check_w for group in heat.groups),
        held=flow.throttling,
        shut=heat.shut,
        residual_mass=mass,
        residual_head=head,
        moved=moved,
        rounds=rounds,
    )
