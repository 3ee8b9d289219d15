"""Size the loops of a survey, balance them and set their valves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.input_errors import InputError
from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.hydraulics.analysis.output_range import variants
from heatloop.hydraulics.from_survey import (
    fluid_from,
    has_presetting,
    network_from,
    pumps_from,
    supply_temp_c,
)
from heatloop.hydraulics.loop_paths import (
    ProfileCharacteristics,
    RatingAssumptions,
    loop_paths,
    profile_characteristics,
)
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.trunk_loss import temperature_at_loops_c, with_mixed_draw_off
from heatloop.hydraulics.pumps import ConstantHead, pump_as_commissioned
from heatloop.hydraulics.sizing.balancing import balance_system
from heatloop.hydraulics.sizing.flow_iteration import LoopDuty
from heatloop.hydraulics.sizing.flows import LoopSizing, size_loops
from heatloop.hydraulics.sizing.loop_alone import LoopFlows, temperatures_c
from heatloop.hydraulics.sizing.sized_system import PreparedSystem, SizedSystem
from heatloop.hydraulics.sizing.trial_solution import effective_length_m, loops_network
from heatloop.hydraulics.sizing.valve_settings import nearest_settings
from heatloop.hydraulics.solver.operating_state import SystemState, circuit_temps_c
from heatloop.hydraulics.solver.problem import InitialTemperatures, OperatingProblem
from heatloop.hydraulics.solver.scenarios import solve_settings
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, floor_areas_m2
from heatloop.physics.friction import NO_CURVES
from heatloop.survey.survey import SurveyData

Array = NDArray[np.float64]

MAX_SIZINGS = 20

ARRIVED_K = 1e-7
"""Tolerance of the flow temperature that loops are sized for."""


def prepare_system(survey: SurveyData, initial_guess: PreparedSystem | None = None) -> PreparedSystem:
    """Build the layout and calculate heat losses, rating constants and water paths of a survey.

    `initial_guess`: another prepared survey; what is equal is taken from it. Raises InputError, with one line for each
    error, where the layout is impossible.
    """
    if initial_guess is not None and _differ_only_in_duty(initial_guess.survey, survey):
        return replace(initial_guess, survey=survey)
    layout = build_layout(survey)
    losses = room_losses(survey, floor_areas_m2(layout))
    same = initial_guess is not None and _ratings_read(initial_guess.survey, initial_guess.layout) == _ratings_read(
        survey, layout
    )
    constants = initial_guess.constants if initial_guess is not None and same else _constants(survey, layout)
    paths = tuple(loop_paths(survey, layout, constants[0]))
    network = network_from(survey, paths, NO_CURVES if initial_guess is None else initial_guess.network.elements.table)
    return PreparedSystem(
        survey,
        layout,
        losses,
        fluid_from(survey),
        constants,
        paths,
        network,
        loops_network(paths, network.elements.table),
    )


def _differ_only_in_duty(before: SurveyData, survey: SurveyData) -> bool:
    """Whether two surveys differ at most in flow temperature and how their loops are sized.

    Nothing that is prepared depends on these.
    """
    project = survey.project
    same = replace(
        before.project, flow_temp_c=project.flow_temp_c, delta_t_k=project.delta_t_k, size_by=project.size_by
    )
    return replace(before, project=same) == survey


def _ratings_read(survey: SurveyData, layout: Layout) -> tuple[object, ...]:
    """The inputs on which the constants of profiles depend."""
    has_floor_section = any(piece.floor_section is not None for loop in layout.loops for piece in loop.pieces)
    return survey.profiles, survey.project.water_film, has_floor_section


def _constants(survey: SurveyData, layout: Layout) -> tuple[ProfileCharacteristics, ...]:
    """Constants of the profiles as designed and with each input of the output range varied, all calculated together."""
    design = RatingAssumptions(survey.project.water_film)
    try:
        return tuple(profile_characteristics(survey, layout, [design, *(variant.case for variant in variants(survey))]))
    except InputError:
        profile_characteristics(
            survey, layout, [design]
        )  # a rating that has no constant as designed is reported by itself
        raise


def size_system(prepared: PreparedSystem, initial_guess: SizedSystem | None = None) -> SizedSystem:
    """Size the loops, balance them and set their valves.

    The flow of bypasses, mixed circuits and mixed loops (at first their whole flow) affects the temperature in trunks
    with heat loss. Loops are therefore sized again until the supply temperatures equal those of the sizing. A loop
    without a valve for its surplus head carries more than its sized flow, so trunks stay warmer than at the sized
    flows. Sizing then ends when another sizing would give the same result. `initial_guess`: a system of the same loops
    sized in other conditions, which makes the calculation faster.

    Raises TemperatureDropNotReachable, FlowReversed where flow is reversed in a loop, and ArithmeticError where the
    temperatures at the ends of the trunks do not converge.
    """
    survey, losses, paths, fluid = prepared.survey, prepared.room_losses, prepared.paths, prepared.fluid
    shared_pipework, duties = prepared.network.shared_pipework, loop_duties(survey, losses, paths)
    trunk_losses = prepared.network.solver_index.losses
    supply_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops], float)
    circuit_c = circuit_temps_c(shared_pipework, survey.project.flow_temp_c)
    joins = np.array([shared_pipework.join[loop.trunk][0] for loop in survey.loops], dtype=np.intp)
    bypass_kg_s, share = np.zeros(len(shared_pipework.bypasses)), np.ones(len(shared_pipework.circuits) - 1)
    loop_share = np.ones(supply_c.size)

    def arriving(loop_kg_s: Array) -> Array:
        streams = with_mixed_draw_off(shared_pipework, np.concatenate([loop_share * loop_kg_s, bypass_kg_s]), share)
        return temperature_at_loops_c(trunk_losses, streams, circuit_c, joins, supply_c, fluid)

    sized = None
    if initial_guess is not None and _loop_names(initial_guess.prepared) == _loop_names(prepared):
        sized = initial_guess.sizing
        if [part.size for part in _draw_offs(initial_guess.state)] == [bypass_kg_s.size, loop_share.size, share.size]:
            bypass_kg_s, loop_share, share = _draw_offs(initial_guess.state)
    before_c = np.full(supply_c.size, np.inf)
    for _ in range(MAX_SIZINGS):
        sized = size_loops(
            prepared.loops_network, duties, supply_c, fluid, None if trunk_losses is None else arriving, sized
        )
        sized_c = np.array([loop.alone.supply_c for loop in sized.loops])
        system = balance_and_preset(prepared, sized, supply_c)
        if min(np.abs(system.state.supply_c - sized_c).max(), np.abs(before_c - sized_c).max()) < ARRIVED_K:
            return system
        before_c = sized_c
        bypass_kg_s, loop_share, share = _draw_offs(system.state)
    raise ArithmeticError(f"the temperatures at the ends of the trunks did not converge in {MAX_SIZINGS} sizings")


def _loop_names(prepared: PreparedSystem) -> list[str]:
    return [loop.name for loop in prepared.survey.loops]


def _draw_offs(state: SystemState) -> tuple[Array, Array, Array]:
    """Flow of bypasses in kg/s, and the share of its flow that each loop and each mixed circuit draws.

    The share of a circuit without flow is 1, as at the start.
    """
    flow_kg_s = state.circuit_flow_kg_s[1:]
    share = np.divide(state.drawn_kg_s, flow_kg_s, out=np.ones_like(flow_kg_s), where=flow_kg_s > 0.0)
    return state.bypass_kg_s, state.loop_draw_share, share


def balance_and_preset(prepared: PreparedSystem, sizing: LoopSizing, supply_c: Array) -> SizedSystem:
    """Calculate heads and presettings of sized loops; solve the system with exact and with nearest settings.

    supply_c (L): maximum supply temperature of loops.
    """
    survey, fluid, sized, network = prepared.survey, prepared.fluid, sizing.loops, prepared.network
    source_c = survey.project.flow_temp_c
    balanced = balance_system(network, sized, supply_c, fluid, source_c=source_c, presettable=has_presetting(survey))
    presets = nearest_settings(network, balanced.kv_m3_h, survey.catalogue)

    problem = OperatingProblem(
        supply_c=supply_c[:, None],
        circuit_c=circuit_temps_c(network, source_c),
        pumps=tuple(ConstantHead(head) for head in balanced.heads_pa),
    )
    nearest = {place: preset.kv_m3_h for place, preset in presets.items()}
    flows_kg_s = np.array([loop_sized.flow_kg_s for loop_sized in sized])
    sized_flows = LoopFlows(
        np.array([loop_sized.alone.supply_c for loop_sized in sized]),
        np.array([flow_kg_s for loop_sized in sized for flow_kg_s in loop_sized.arm_flow_kg_s]),
        (),
        sizing.heats,
    )
    temperatures = InitialTemperatures(temperatures_c(network, sized_flows, flows_kg_s, fluid), sizing.heats)
    exact, achieved = solve_settings(
        network, [balanced.kv_m3_h, nearest], problem, fluid, flows_kg_s, initial_temperatures=temperatures
    )
    density = fluid.density_kg_m3(exact.circuit_c)
    pumps = tuple(
        pump_as_commissioned(pump, float(flow / rho), float(head))
        for pump, flow, rho, head in zip(
            pumps_from(survey, network), exact.circuit_flow_kg_s, density, balanced.heads_pa, strict=True
        )
    )
    return SizedSystem(prepared, sizing, balanced, exact, presets, achieved, pumps)


def loop_duties(survey: SurveyData, losses: Sequence[RoomLoss], paths: Sequence[LoopPath]) -> list[LoopDuty]:
    """Duty of each loop: its design drop or, by loss, the heat required from a metre of skirting in W/m."""
    drops = [survey.project.delta_t_k if loop.delta_t_k is None else loop.delta_t_k for loop in survey.loops]
    if survey.project.size_by == "drop":
        return [LoopDuty(drop) for drop in drops]
    metres = effective_length_m(arm for path in paths for arm in path.arms)
    owed = {loss.room: loss.total_w / metres[loss.room] for loss in losses if metres.get(loss.room, 0.0) > 0}
    alone = _owed_by_emitters_w(survey, {loss.room: loss.total_w for loss in losses if loss.room not in owed})
    duties = []
    for drop, path in zip(drops, paths, strict=True):
        by_metre = {room: owed[room] for room in effective_length_m(path.arms)}
        emitters = alone[path.loop.name]
        # other emitters alone, in rooms with skirting of another loop: no heat is required, the design drop applies
        duties.append(LoopDuty(drop, by_metre, emitters) if by_metre or emitters else LoopDuty(drop))
    return duties


def _owed_by_emitters_w(survey: SurveyData, losses_w: dict[str, float]) -> dict[str, dict[str, float]]:
    """By loop: heat that its emitters must give to the rooms of `losses_w`, which have no skirting.

    Several emitters in one room share it by their rated output.
    """
    rated: dict[tuple[str, str], float] = {}
    for loop in survey.loops:
        for item in loop.emitters:
            if item.room in losses_w:
                key = loop.name, item.room
                rated[key] = rated.get(key, 0.0) + survey.catalogue.emitter(item.emitter).output_w
    whole = {room: sum(heat_w for (_, other), heat_w in rated.items() if other == room) for room in losses_w}
    owed: dict[str, dict[str, float]] = {loop.name: {} for loop in survey.loops}
    for (loop_name, room), heat_w in rated.items():
        owed[loop_name][room] = losses_w[room] * heat_w / whole[room]
    return owed
