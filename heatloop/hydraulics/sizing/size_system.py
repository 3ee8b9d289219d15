"""Size the loops of a survey, balance them and set their valves."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.hydraulics.analysis.loop_isolation import isolate_each_loop
from heatloop.hydraulics.analysis.thermostat_control import ThermostaticValves, apply_thermostats
from heatloop.hydraulics.from_survey import (
    fluid_from,
    has_presetting,
    network_from,
    pumps_from,
    rooms_on_sensor,
    sensor_demands_from,
    shared_pipework_from,
    supply_temp_c,
)
from heatloop.hydraulics.loop_paths import RatingAssumptions, loop_paths, profile_laws
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.trunk_loss import temperature_at_loops_c, with_mixed_draw_off
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic, pump_as_commissioned
from heatloop.hydraulics.sizing.balancing import balance_system
from heatloop.hydraulics.sizing.flow_iteration import LoopDuty
from heatloop.hydraulics.sizing.flows import SizedLoop, size_loops
from heatloop.hydraulics.sizing.sized_system import PreparedSystem, SizedSystem
from heatloop.hydraulics.sizing.trial_solution import effective_length_m
from heatloop.hydraulics.sizing.valve_settings import nearest_settings
from heatloop.hydraulics.solver.operating_state import SystemState, circuit_temps_c, solve_state
from heatloop.layout.build import build_layout
from heatloop.layout.model import floor_areas_m2
from heatloop.physics.friction import NO_CURVES
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData

Array = NDArray[np.float64]

SENSED = 1e-3
"""Tolerance for rooms controlled by a sensor in another room, as a share of the loss of the sensor's room."""

MAX_SIZINGS = 20

ARRIVED_K = 1e-7
"""Tolerance of the flow temperature that loops are sized for."""


def prepare_system(survey: SurveyData) -> PreparedSystem:
    """Build the layout and calculate heat losses, rating constants and water paths of a survey.

    Raises InputError, one line a fault, where the layout is impossible.
    """
    layout = build_layout(survey)
    losses = room_losses(survey, floor_areas_m2(layout))
    constants = profile_laws(survey, layout, [RatingAssumptions(survey.project.water_film)])[0]
    paths = tuple(loop_paths(survey, layout, constants))
    return PreparedSystem(survey, layout, losses, fluid_from(survey), constants, paths)


def size_system(prepared: PreparedSystem) -> SizedSystem:
    """Size the loops, balance them and set their valves.

    What bypasses pass and mixed circuits and mixed loops draw (at first all they carry) warms lossy
    trunks, so that loops are sized again until what reaches them is what they were sized for. Where a loop has no
    valve to take its surplus of head it carries more than it was sized for, and the trunks are warmer than at the
    sized flows for good: then sizing ends when another one would give the same.

    Raises TemperatureDropNotReachable, and ArithmeticError where the temperatures at the ends of the trunks do not
    converge.
    """
    survey, losses, paths, fluid = prepared.survey, prepared.room_losses, prepared.paths, prepared.fluid
    shared_pipework, duties = shared_pipework_from(survey, paths), _duties(survey, losses, paths)
    supply_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops])
    circuit_c = circuit_temps_c(shared_pipework, survey.project.flow_temp_c)
    joins = np.array([shared_pipework.join[loop.trunk][0] for loop in survey.loops], dtype=np.intp)
    bypass_kg_s, share = np.zeros(len(shared_pipework.bypasses)), np.ones(len(shared_pipework.circuits) - 1)
    loop_share = np.ones(supply_c.size)

    def arriving(loop_kg_s: Array) -> Array:
        streams = with_mixed_draw_off(shared_pipework, np.concatenate([loop_share * loop_kg_s, bypass_kg_s]), share)
        return temperature_at_loops_c(shared_pipework, streams, circuit_c, joins, supply_c, fluid)

    lossy = any(link.loss_w_k > 0.0 for link in shared_pipework.links)
    sized: tuple[SizedLoop, ...] = ()
    before_c = np.full(supply_c.size, np.inf)
    for _ in range(MAX_SIZINGS):
        sized = size_loops(paths, duties, supply_c, fluid, arriving if lossy else None, sized)
        sized_c = np.array([float(one.alone.supply_c[0]) for one in sized])
        found = balance_and_preset(prepared, sized, supply_c)
        if min(np.abs(found.state.supply_c - sized_c).max(), np.abs(before_c - sized_c).max()) < ARRIVED_K:
            return found
        before_c = sized_c
        bypass_kg_s, loop_share = found.state.bypass_kg_s, found.state.loop_draw_share
        share = found.state.drawn_kg_s / found.state.circuit_flow_kg_s[1:]
    raise ArithmeticError(f"the temperatures at the ends of the trunks did not settle in {MAX_SIZINGS} sizings")


def balance_and_preset(prepared: PreparedSystem, sized: tuple[SizedLoop, ...], supply_c: Array) -> SizedSystem:
    """Heads and presettings for sized loops; the system solved with them, with valves at their nearest settings, and
    with each loop shut in turn, pumps as commissioned. supply_c (L): the most that loops may have."""
    survey, fluid = prepared.survey, prepared.fluid
    network = network_from(survey, prepared.paths, sized[0].alone.network.elements.table if sized else NO_CURVES)
    source_c = survey.project.flow_temp_c
    balanced = balance_system(network, sized, supply_c, fluid, source_c=source_c, presettable=has_presetting(survey))
    presets = nearest_settings(network, balanced.kv_m3_h, survey.catalogue)

    def at(kv_m3_h: Mapping[int, float]) -> SystemState:
        return solve_state(
            network.with_kv(kv_m3_h),
            supply_c,
            fluid,
            pumps=[ConstantHead(head) for head in balanced.heads_pa],
            source_c=source_c,
            initial_guess_kg_s=np.array([one.flow_kg_s for one in sized]),
        )

    exact = at(balanced.kv_m3_h)
    achieved = at({place: preset.kv_m3_h for place, preset in presets.items()})
    density = fluid.density_kg_m3(exact.circuit_c)
    pumps = tuple(
        pump_as_commissioned(pump, float(flow / rho), float(head))
        for pump, flow, rho, head in zip(
            pumps_from(survey, network), exact.circuit_flow_kg_s, density, balanced.heads_pa, strict=True
        )
    )
    shut = isolate_each_loop(achieved, pumps, density)
    sensed = _sensed(survey, prepared.room_losses, achieved, pumps, fluid)
    return SizedSystem(prepared, sized, balanced, exact, presets, achieved, shut, pumps, sensed)


def _sensed(
    survey: SurveyData,
    losses: Sequence[RoomLoss],
    achieved: SystemState,
    pumps: Sequence[PumpCharacteristic],
    fluid: Fluid,
) -> SystemState | None:
    """The system with its thermostatic valves in control, if any of them serves a room without its sensor; None also
    where the thermostat iteration did not converge."""
    governors = sensor_demands_from(survey, losses)
    if not any(set(rooms_on_sensor(survey.loops[loop])) - {one.room} for loop, one in governors.items()):
        return None
    max_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops])
    with contextlib.suppress(ArithmeticError):
        return apply_thermostats(
            achieved.network,
            max_c,
            fluid,
            pumps=pumps,
            source_c=survey.project.flow_temp_c,
            valves=ThermostaticValves(governors),
            initial_guess_kg_s=achieved.loop_flow_kg_s,
            settled=SENSED,
        )
    return None


def _duties(survey: SurveyData, losses: Sequence[RoomLoss], paths: Sequence[LoopPath]) -> list[LoopDuty]:
    """Each loop's design drop; by loss, the heat required from a metre of skirting, W/m."""
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
        # other emitters alone in rooms with skirting of another loop owe them nothing: they take the design drop
        duties.append(LoopDuty(drop, by_metre, emitters) if by_metre or emitters else LoopDuty(drop))
    return duties


def _owed_by_emitters_w(survey: SurveyData, losses_w: dict[str, float]) -> dict[str, dict[str, float]]:
    """By loop, what its emitters owe the rooms of `losses_w`, which have no skirting: by their rated output where
    several heat one room."""
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
