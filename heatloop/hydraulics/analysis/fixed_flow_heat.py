"""Heat of a solved system at unchanged flows, with other constants of its profiles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmHeatOutput, group_similar_arms
from heatloop.hydraulics.heat.arm_results import arm_results
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.heat.mixing import mixed_temperature_c
from heatloop.hydraulics.heat.other_emitters import EmitterTemperatures
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.hydraulics.solver.tail_loss import tail_loss_w, tail_passed
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


def heat_at_fixed_flows(
    state: SystemState, cases: Sequence[Sequence[LoopPath]], fluid: Fluid
) -> tuple[SystemState, ...]:
    """Recalculate the heat of a solved system at its flows, with the cells and other emitters of other paths.

    The paths of each case are the loops of the system with other constants. Calculated anew: heat, and the temperatures
    of skirting, tails and other emitters. Pressures, elements and the return temperature at the source are not changed.
    All cases are solved together.
    """
    network = state.network
    arms_of = [tuple(arm for path in paths for arm in path.arms) for paths in cases]
    link_flow = np.zeros(network.graph.start.size)
    link_flow[network.elements.link] = state.flow_kg_s
    systems = [_with_emitters(network, paths) for paths in cases]
    head_c = [tail_passed(varied, state.loop_flow_kg_s, state.supply_c, fluid, "flow").outlet_c for varied in systems]
    outputs: list[dict[int, ArmHeatOutput]] = [{} for _ in cases]
    count = len(network.arms)
    known = {heat.group.runs.direction: heat for heat in state.heats}
    for group in group_similar_arms([arm for arms in arms_of for arm in arms]):
        own = [place % count for place in group.arms]
        flow = np.stack([link_flow[network.channel_link[a]] for a in own], axis=1)
        inlet_c = np.array([head_c[place // count][network.arm_loop[place % count]] for place in group.arms])
        solved = solve_group(group, flow, inlet_c, fluid, known.get(group.runs.direction))
        for place, result in zip(group.arms, arm_results(solved), strict=True):
            outputs[place // count][place % count] = result
    return tuple(
        _state_from_arms(
            state, replace(varied, loops=tuple(paths), arms=arms), [heats[a] for a in range(count)], link_flow, fluid
        )
        for varied, paths, arms, heats in zip(systems, cases, arms_of, outputs, strict=True)
    )


def _with_emitters(network: PipeNetwork, paths: Sequence[LoopPath]) -> PipeNetwork:
    """The system with the other emitters of these paths, at the positions of its own."""
    tails = (element for path in paths for element in (*path.tail_flow, *path.tail_return))
    k_w_kn = np.array([element.emits.k_w_kn for element in tails if element.emits is not None])
    return replace(network, emitters=replace(network.emitters, k_w_kn=k_w_kn))


def _state_from_arms(
    state: SystemState, network: PipeNetwork, heats: Sequence[ArmHeatOutput], link_flow: Array, fluid: Fluid
) -> SystemState:
    """The system with its arms solved: return temperatures in the tails, and the heat of all elements."""
    flow, loops, arms = state.loop_flow_kg_s, len(network.loops), network.arms
    ahead = tail_passed(network, flow, state.supply_c, fluid, "flow")
    out = [np.asarray(arm.directions) > 0 for arm in arms]
    arm_flow = np.array([link_flow[links][way].sum() for links, way in zip(network.channel_link, out, strict=True)])
    member = (network.arm_loop[None, :] == np.arange(loops)[:, None]).astype(float)
    foot_c = mixed_temperature_c(fluid, member, arm_flow[:, None], np.array([[heat.return_c] for heat in heats]))[:, 0]
    back = tail_passed(network, flow, foot_c, fluid, "return")
    tail_end_c, tail_start_c = ahead.outlet_c.copy(), foot_c.copy()
    for step in reversed(ahead.steps):
        tail_end_c[step.rows] = step.inlet_c
    for step in back.steps:
        tail_start_c[step.rows] = step.outlet_c
    tails = tail_loss_w(network, state.supply_c, tail_end_c, "flow")
    tails = tails + tail_loss_w(network, tail_start_c, back.outlet_c, "return")
    return replace(
        state,
        network=network,
        arms=tuple(heats),
        return_c=back.outlet_c,
        tail_loss_w=tails,
        emitter_w=_emitter_w(state, (*ahead.steps, *back.steps), fluid),
    )


def _emitter_w(state: SystemState, steps: Sequence[EmitterTemperatures], fluid: Fluid) -> Array:
    heat_w = np.zeros_like(state.emitter_w)
    for step in steps:
        enthalpy_drop_j_kg = fluid.enthalpy_j_kg(step.inlet_c) - fluid.enthalpy_j_kg(step.outlet_c)
        heat_w[step.emitter] = state.loop_flow_kg_s[step.rows] * enthalpy_drop_j_kg
    return heat_w
