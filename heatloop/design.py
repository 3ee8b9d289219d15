"""From a survey to a finished design: the steps in order, each a function of the one before."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop import assumptions, band, tabulate, tabulate_heat, tabulate_pumps, tabulate_sensors, tabulate_valves
from heatloop.checks import design_checks, worst
from heatloop.circuit.assembly import Assembly
from heatloop.circuit.balance import balance
from heatloop.circuit.main_loss import arriving_c, with_draws
from heatloop.circuit.model import LoopPath
from heatloop.circuit.path import Case, Laws, loop_paths, profile_laws
from heatloop.circuit.presets import real_settings
from heatloop.circuit.pump import Differential, HeadLaw, commissioned
from heatloop.circuit.rooms import room_output_w
from heatloop.circuit.shutting import shut_each
from heatloop.circuit.sizing import DropOutOfReach, Duty, Sized, size_loops
from heatloop.circuit.solve import Operation, circuit_temps_c, operate
from heatloop.circuit.thermostats import govern
from heatloop.circuit.trial import open_metres
from heatloop.glazing import glazing_table
from heatloop.heat_loss import BuildingLoad, RoomLoss, building_load, room_losses
from heatloop.layout.build import lay_out
from heatloop.layout.model import Layout
from heatloop.layout.reading import validated_survey
from heatloop.physics.friction import NO_CURVES
from heatloop.physics.water import Fluid
from heatloop.plant import fluid_of, governors_of, mains_of, network_of, presettable, pumps_of, rooms_on, supply_temp_c
from heatloop.result import Design
from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import Survey
from heatloop.tabulate_valves import Balanced

Array = NDArray[np.float64]

SENSED = 1e-3
"""How near rooms on another room's sensor are told: a share of the sensor's room's loss, a thousandth is enough."""

MOST_SIZINGS = 20
ARRIVED_K = 1e-7
"""Loops are sized for the water that reaches them to this."""


def size(survey: Survey | str | Path) -> Design:
    """Choose flows and presettings for the duty of a survey, or of the survey in a file.

    Raises SurveyError, one line a fault, where the survey cannot be designed as it stands.
    """
    survey = validated_survey("size", survey)
    layout = lay_out(survey)
    losses = room_losses(survey, floor_areas_m2(layout))
    water = fluid_of(survey)
    if survey.project.flow_temp_c > water.t_max_c:
        raise SurveyError([_too_hot(survey, water)])
    laws = profile_laws(survey, layout, [Case(survey.project.water_film)])[0]
    paths = loop_paths(survey, layout, laws)
    try:
        sized, found = sized_and_balanced(survey, losses, paths, water)
    except DropOutOfReach as error:
        raise SurveyError([_out_of_reach(survey, error)]) from error
    return _design(survey, layout, losses, laws, sized, found)


def sized_and_balanced(
    survey: Survey, losses: Sequence[RoomLoss], paths: Sequence[LoopPath], water: Fluid
) -> tuple[tuple[Sized, ...], Balanced]:
    """Sized loops and their balance. What bypasses pass and mixed circuits draw (at first all they carry) warms lossy
    trunks, so that loops are sized again until what reaches them is what they were sized for."""
    mains, duties = mains_of(survey, paths), _duties(survey, losses, paths)
    supply_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops])
    circuit_c = circuit_temps_c(mains, survey.project.flow_temp_c)
    joins = np.array([mains.join[loop.trunk][0] for loop in survey.loops], dtype=np.intp)
    bypass_kg_s, share = np.zeros(len(mains.bypasses)), np.ones(len(mains.circuits) - 1)

    def arriving(loop_kg_s: Array) -> Array:
        streams = with_draws(mains, np.concatenate([loop_kg_s, bypass_kg_s]), share)
        return arriving_c(mains, streams, circuit_c, joins, supply_c, water)

    lossy = any(link.loss_w_k > 0.0 for link in mains.links)
    sized: tuple[Sized, ...] = ()
    for _ in range(MOST_SIZINGS):
        sized = size_loops(paths, duties, supply_c, water, arriving if lossy else None, sized)
        sized_c = np.array([float(one.alone.supply_c[0]) for one in sized])
        found = balance_water(survey, losses, paths, sized, supply_c, water)
        if np.abs(found.exact.supply_c - sized_c).max() < ARRIVED_K:
            return sized, found
        bypass_kg_s = found.exact.bypass_kg_s
        share = found.exact.drawn_kg_s / found.exact.circuit_flow_kg_s[1:]
    raise ArithmeticError(f"the temperatures at the ends of the trunks did not settle in {MOST_SIZINGS} sizings")


def balance_water(
    survey: Survey,
    losses: Sequence[RoomLoss],
    paths: Sequence[LoopPath],
    sized: Sequence[Sized],
    supply_c: Array,
    water: Fluid,
) -> Balanced:
    """Heads and presettings for sized loops; the system solved with them, with its valves at real settings, and
    with each loop shut in turn, pumps as commissioned. supply_c (L): the most that loops may have."""
    system = network_of(survey, paths, sized[0].alone.assembly.elements.table if sized else NO_CURVES)
    source_c, buoyancy = survey.project.flow_temp_c, survey.project.buoyancy
    balanced = balance(
        system, sized, supply_c, water, source_c=source_c, presettable=presettable(survey), buoyancy=buoyancy
    )
    presets = real_settings(system, balanced.kv_m3_h, survey.catalogue)

    def at(kv_m3_h: Mapping[int, float]) -> Operation:
        return operate(
            system.with_kv(kv_m3_h),
            supply_c,
            water,
            drives=[Differential(head) for head in balanced.heads_pa],
            source_c=source_c,
            buoyancy=buoyancy,
            guess_kg_s=np.array([one.flow_kg_s for one in sized]),
        )

    exact = at(balanced.kv_m3_h)
    achieved = at({place: preset.kv_m3_h for place, preset in presets.items()})
    density = water.density_kg_m3(exact.circuit_c)
    drives = tuple(
        commissioned(pump, float(flow / rho), float(head))
        for pump, flow, rho, head in zip(
            pumps_of(survey, system), exact.circuit_flow_kg_s, density, balanced.heads_pa, strict=True
        )
    )
    shut = shut_each(achieved, drives, density)
    return Balanced(balanced, exact, presets, achieved, shut, drives, _sensed(survey, losses, achieved, drives, water))


def _sensed(
    survey: Survey, losses: Sequence[RoomLoss], achieved: Operation, drives: Sequence[HeadLaw], water: Fluid
) -> Operation | None:
    """The system with its thermostatic valves at work, if any of them serves a room that its sensor does not stand in;
    None too where the valves find no rest."""
    governors = governors_of(survey, losses)
    if not any(set(rooms_on(survey.loops[loop])) - {one.room} for loop, one in governors.items()):
        return None
    most_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops])
    with contextlib.suppress(ArithmeticError):
        return govern(
            achieved.assembly,
            most_c,
            water,
            drives=drives,
            source_c=survey.project.flow_temp_c,
            governors=governors,
            buoyancy=survey.project.buoyancy,
            guess_kg_s=achieved.loop_flow_kg_s,
            settled=SENSED,
        )
    return None


def floor_areas_m2(layout: Layout) -> dict[str, float]:
    """Floor area of every room whose walls are known."""
    return {room.room: room.geometry.floor_area_m2 for room in layout.rooms if room.geometry is not None}


def _duties(survey: Survey, losses: Sequence[RoomLoss], paths: Sequence[LoopPath]) -> list[Duty]:
    """Each loop's design drop; by loss, the watts a metre of skirting owes its room."""
    drops = [survey.project.delta_t_k if loop.delta_t_k is None else loop.delta_t_k for loop in survey.loops]
    if survey.project.size_by == "drop":
        return [Duty(drop) for drop in drops]
    metres = open_metres(arm for path in paths for arm in path.arms)
    owed = {loss.room: loss.total_w / metres[loss.room] for loss in losses if metres.get(loss.room, 0.0) > 0}
    alone = _owed_by_emitters_w(survey, {loss.room: loss.total_w for loss in losses if loss.room not in owed})
    duties = []
    for drop, path in zip(drops, paths, strict=True):
        by_metre = {room: owed[room] for room in open_metres(path.arms)}
        emitters = alone[path.loop.name]
        # other emitters alone in rooms with skirting of another loop owe them nothing: they take the design drop
        duties.append(Duty(drop, by_metre, emitters) if by_metre or emitters else Duty(drop))
    return duties


def _too_hot(survey: Survey, water: Fluid) -> Fault:
    file = "survey" if survey.path is None else survey.path.name
    wanted = f"at most {water.t_max_c:g} degrees C, the range of {water.name}"
    return Fault(file, "project, flow_temp_c", f"{survey.project.flow_temp_c:g}", wanted)


def _owed_by_emitters_w(survey: Survey, losses_w: dict[str, float]) -> dict[str, dict[str, float]]:
    """By loop, what its emitters owe the rooms of `losses_w`, which have no skirting: by their rated output where
    several heat one room."""
    rated: dict[tuple[str, str], float] = {}
    for loop in survey.loops:
        for item in loop.emitters:
            if item.room in losses_w:
                key = loop.name, item.room
                rated[key] = rated.get(key, 0.0) + survey.catalogue.emitter(item.emitter).output_w
    whole = {room: sum(watts for (_, other), watts in rated.items() if other == room) for room in losses_w}
    owed: dict[str, dict[str, float]] = {loop.name: {} for loop in survey.loops}
    for (loop_name, room), watts in rated.items():
        owed[loop_name][room] = losses_w[room] * watts / whole[room]
    return owed


def _out_of_reach(survey: Survey, error: DropOutOfReach) -> Fault:
    file = "survey" if survey.path is None else survey.path.name
    return Fault(
        file,
        f'loop "{error.loop}", delta_t_k',
        f"a design drop of {error.wanted_k:g} K",
        f"at most {error.greatest_k:.1f} K, the greatest this loop can give whatever its flow: "
        "the channels pass heat to each other",
    )


def _design(
    survey: Survey,
    layout: Layout,
    losses: tuple[RoomLoss, ...],
    laws: Laws,
    sized: tuple[Sized, ...],
    water: Balanced,
) -> Design:
    state = water.exact
    sure = band.band_table(survey, layout, state)
    valves = tabulate_valves.valves_table(survey, water)
    density = [float(rho) for rho in fluid_of(survey).density_kg_m3(state.circuit_c)]
    frames: dict[str, pd.DataFrame] = {
        "loops": tabulate.loops_table(layout, state, sized, water, valves),
        "rooms": band.with_band(tabulate.rooms_table(layout, losses, state), sure),
        "elements": tabulate.elements_table(state),
        "valves": valves,
        "pumps": tabulate_valves.pumps_table(survey, state, water.drives, density),
        "pump_curves": tabulate_pumps.curves_table(survey, state, water.drives, density),
        "shut": tabulate_valves.shut_table(survey, water),
        "sensors": tabulate_sensors.sensors_table(survey, losses, water),
        "along": tabulate.along_table(state),
        "losses": tabulate_heat.losses_table(losses),
        "source_heat": tabulate_heat.source_heat_table(state),
        "glazing": glazing_table(survey, layout, state),
        "ratings": band.ratings_table(survey, laws),
        "band": sure,
    }
    load = building_load(survey, losses, floor_areas_m2(layout))
    facts = summary_figures(survey, load, water, frames) | _plain_water(survey)
    frames["checks"] = design_checks(survey, frames, facts)
    frames["assumptions"] = assumptions.table(survey, layout, losses, load)
    verdicts = frames["checks"]["verdict"]
    facts |= {
        "verdict": worst(verdicts),
        "checks_failed": int((verdicts == "fail").sum()),
        "checks_caution": int((verdicts == "caution").sum()),
    }
    return Design(survey, layout, losses, state, frames, facts)


def _plain_water(survey: Survey) -> dict[str, Any]:
    """Flow and head of the pump were there no antifreeze; None where there is none."""
    if survey.project.antifreeze is None:
        return {"pump_flow_plain_l_h": None, "pump_head_plain_kpa": None}
    plain = size(replace(survey, project=replace(survey.project, antifreeze=None))).summary
    return {"pump_flow_plain_l_h": plain["pump_flow_l_h"], "pump_head_plain_kpa": plain["pump_head_kpa"]}


def summary_figures(survey: Survey, load: BuildingLoad, water: Balanced, frames: Mapping[str, pd.DataFrame]) -> dict[str, Any]:
    state, balanced = water.exact, water.balance
    system = state.assembly
    density = float(fluid_of(survey).density_kg_m3(state.circuit_c[0]))
    flow_l_h = state.total_flow_kg_s / density * 3.6e6
    return {
        "project": survey.project.name,
        "loops": len(survey.loops),
        "rooms": len(survey.rooms),
        "outdoor_c": survey.project.outdoor_c,
        "flow_temp_c": survey.project.flow_temp_c,
        "return_temp_c": state.source_return_c,
        "heat_loss_w": load.sum_of_rooms_w,
        "building_load_w": load.total_w,
        "output_w": float(sum(room_output_w(state).values())),
        "trunk_loss_w": float(state.main_loss_w.sum()),
        "source_w": state.given_w,
        "pipe_loss_w": float(frames["loops"]["pipe_loss_w"].sum()),
        "down_loss_w": float(frames["loops"]["down_loss_w"].sum()),
        "back_loss_w": float(frames["rooms"]["back_loss_w"].sum()),
        "source_output_kw": survey.source.output_kw,
        "pump_flow_l_h": flow_l_h,
        "pump_head_kpa": balanced.head_pa / 1000.0,
        "pump_control": tabulate_valves.control_words(water.drives[0]),
        "pump_head_available_kpa": None
        if survey.source.pump is None
        else tabulate_valves.available_kpa(survey.source.pump, flow_l_h / 3.6e6),
        "index_loop": system.loops[balanced.index].loop.name,
        "system_water_l": _water_l(survey, system),
        "open_water_l": _open_water_l(survey, system),
        "open_flow_l_h": _open_flow_l_h(survey, water),
        "residual_mass": state.residual_mass,
        "residual_head": state.residual_head,
        "residual_energy": state.residual_energy,
        "residual_inlet": state.residual_inlet,
        "iterations": state.iterations,
    }


def _trunk_water_l(system: Assembly) -> float:
    return sum(p.element.duct.content_l_m * p.element.length_m for p in system.places if p.trunk >= 0)


def _plant_water_l(survey: Survey) -> float:
    return survey.source.water_volume_l + survey.system.other_water_l


def _water_l(survey: Survey, system: Assembly) -> float:
    """Water of source, trunks, loops and what else holds some, litres."""
    return _plant_water_l(survey) + _trunk_water_l(system) + sum(loop.water_l for loop in system.loops)


def _closing(survey: Survey) -> set[str]:
    """Names of the valves that close by themselves."""
    return {valve.name for valve in survey.catalogue.valves if valve.kvs_m3_h is not None}


def _open_flow_l_h(survey: Survey, water: Balanced) -> float:
    """Flow that no thermostatic valve can shut: the design flow of loops without one and of open bypasses, and
    what bypasses that open at a differential pass at the head of the pump without flow."""
    state, closing = water.exact, _closing(survey)
    flow_kg_s = float(state.bypass_kg_s.sum())
    for path, kg_s in zip(state.assembly.loops, state.loop_flow_kg_s, strict=True):
        if path.loop.valves.flow not in closing and path.loop.valves.return_ not in closing:
            flow_kg_s += float(kg_s)
    head_kpa = float(water.drives[0].head_pa(np.zeros(1))[0][0]) / 1000.0
    opening = sum(
        bypass.kv_m3_h * np.sqrt(max(head_kpa - bypass.opens_at_kpa, 0.0) / 100.0)
        for bypass in survey.bypasses
        if bypass.opens_at_kpa is not None
    )
    return flow_kg_s / float(state.density_kg_m3[0]) * 3.6e6 + 1000.0 * float(opening)


def _open_water_l(survey: Survey, system: Assembly) -> float:
    """Water that still circulates when every thermostatic valve has closed, litres."""
    closing = _closing(survey)
    free = [
        loop
        for loop in system.loops
        if loop.loop.valves.flow not in closing and loop.loop.valves.return_ not in closing
    ]
    return _plant_water_l(survey) + (_trunk_water_l(system) if free else 0.0) + sum(loop.water_l for loop in free)
