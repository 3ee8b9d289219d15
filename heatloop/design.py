"""From a survey to a finished design: the steps in order, each a function of the one before."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop import assumptions, tabulate
from heatloop.checks import design_checks, worst
from heatloop.circuit.assembly import Assembly
from heatloop.circuit.balance import Balance, balance
from heatloop.circuit.model import LoopPath
from heatloop.circuit.path import loop_paths
from heatloop.circuit.pump import Differential
from heatloop.circuit.sizing import DropOutOfReach, Duty, Sized, size_loops
from heatloop.circuit.solve import Operation, operate
from heatloop.circuit.trial import open_metres
from heatloop.heat_loss import RoomLoss, room_losses
from heatloop.layout.build import lay_out
from heatloop.layout.model import Layout
from heatloop.plant import fluid_of, network_of, presettable, supply_temp_c
from heatloop.result import Design
from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import Survey
from heatloop.survey.read import read_survey

Array = NDArray[np.float64]


def size(survey: Survey | str | Path) -> Design:
    """Choose flows and presettings for the duty of a survey, or of the survey in a file.

    Raises SurveyError, one line a fault, where the survey cannot be designed as it stands.
    """
    if not isinstance(survey, Survey):
        survey = read_survey(survey)
    layout = lay_out(survey)
    losses = room_losses(survey, floor_areas_m2(layout))
    water = fluid_of(survey)
    paths = loop_paths(survey, layout, water)
    supply_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops])
    try:
        sized = size_loops(paths, _duties(survey, losses, paths), supply_c, water)
    except DropOutOfReach as error:
        raise SurveyError([_out_of_reach(survey, error)]) from error
    system = network_of(survey, paths)
    source_c, buoyancy = survey.project.flow_temp_c, survey.project.buoyancy
    balanced = balance(
        system, sized, supply_c, water, source_c=source_c, presettable=presettable(survey), buoyancy=buoyancy
    )
    state = operate(
        system.with_kv(balanced.kv_m3_h),
        supply_c,
        water,
        drives=[Differential(head) for head in balanced.heads_pa],
        source_c=source_c,
        buoyancy=buoyancy,
        guess_kg_s=np.array([one.flow_kg_s for one in sized]),
    )
    return _design(survey, layout, losses, sized, balanced, state)


def floor_areas_m2(layout: Layout) -> dict[str, float]:
    """Floor area of every room whose walls are known."""
    return {room.room: room.geometry.floor_area_m2 for room in layout.rooms if room.geometry is not None}


def _duties(survey: Survey, losses: tuple[RoomLoss, ...], paths: tuple[LoopPath, ...]) -> list[Duty]:
    """Each loop's design drop; by loss, the watts a metre of skirting owes its room."""
    drops = [survey.project.delta_t_k if loop.delta_t_k is None else loop.delta_t_k for loop in survey.loops]
    if survey.project.size_by == "drop":
        return [Duty(drop) for drop in drops]
    metres = open_metres(arm for path in paths for arm in path.arms)
    owed = {loss.room: loss.total_w / metres[loss.room] for loss in losses if metres.get(loss.room, 0.0) > 0}
    return [
        Duty(drop, {room: owed[room] for room in open_metres(path.arms)})
        for drop, path in zip(drops, paths, strict=True)
    ]


def _out_of_reach(survey: Survey, error: DropOutOfReach) -> Fault:
    file = "survey" if survey.path is None else survey.path.name
    greatest = np.floor(error.greatest_k * 10.0) / 10.0
    return Fault(
        file,
        f'loop "{error.loop}", delta_t_k',
        f"a design drop of {error.wanted_k:g} K",
        f"at most {greatest:.1f} K, the greatest this loop can give whatever its flow: "
        "the channels pass heat to each other",
    )


def _design(
    survey: Survey,
    layout: Layout,
    losses: tuple[RoomLoss, ...],
    sized: tuple[Sized, ...],
    balanced: Balance,
    state: Operation,
) -> Design:
    valves = tabulate.valves_table(survey, state)
    frames: dict[str, pd.DataFrame] = {
        "loops": tabulate.loops_table(survey, layout, state, sized, balanced, valves),
        "rooms": tabulate.rooms_table(layout, losses, state),
        "elements": tabulate.elements_table(state),
        "valves": valves,
        "along": tabulate.along_table(state),
    }
    facts = _facts(survey, losses, state, balanced)
    frames["checks"] = design_checks(survey, frames, facts)
    frames["assumptions"] = assumptions.table(survey, layout, losses)
    verdicts = frames["checks"]["verdict"]
    facts |= {
        "verdict": worst(verdicts),
        "checks_failed": int((verdicts == "fail").sum()),
        "checks_caution": int((verdicts == "caution").sum()),
    }
    return Design(survey, layout, losses, state, frames, facts)


def _facts(survey: Survey, losses: tuple[RoomLoss, ...], state: Operation, balanced: Balance) -> dict[str, Any]:
    system = state.assembly
    density = float(fluid_of(survey).density_kg_m3(state.source_return_c))
    flow_l_h = state.total_flow_kg_s / density * 3.6e6
    return {
        "project": survey.project.name,
        "loops": len(survey.loops),
        "rooms": len(survey.rooms),
        "outdoor_c": survey.project.outdoor_c,
        "flow_temp_c": survey.project.flow_temp_c,
        "return_temp_c": state.source_return_c,
        "heat_loss_w": float(sum(loss.total_w for loss in losses)),
        "output_w": float(sum(tabulate.room_output_w(state).values())),
        "source_w": float(sum(float(arm.given_w) for arm in state.arms) + state.tail_loss_w.sum()),
        "source_output_kw": survey.source.output_kw,
        "pump_flow_l_h": flow_l_h,
        "pump_head_kpa": balanced.head_pa / 1000.0,
        "pump_head_available_kpa": _pump_head_kpa(survey, flow_l_h),
        "index_loop": system.loops[balanced.index].loop.name,
        "system_water_l": _water_l(survey, system),
        "open_water_l": _open_water_l(survey, system),
        "residual_mass": state.residual_mass,
        "residual_head": state.residual_head,
        "residual_energy": state.residual_energy,
        "residual_inlet": state.residual_inlet,
        "iterations": state.iterations,
    }


def _pump_head_kpa(survey: Survey, flow_l_h: float) -> float | None:
    pump = survey.source.pump
    if pump is None:
        return None
    return float(np.interp(flow_l_h / 1000.0, pump.flow_m3_h, pump.head_kpa))


def _trunk_water_l(system: Assembly) -> float:
    return sum(p.element.duct.content_l_m * p.element.length_m for p in system.places if p.trunk >= 0)


def _plant_water_l(survey: Survey) -> float:
    return survey.source.water_volume_l + survey.system.other_water_l


def _water_l(survey: Survey, system: Assembly) -> float:
    """Water of source, trunks, loops and what else holds some, litres."""
    return _plant_water_l(survey) + _trunk_water_l(system) + sum(loop.water_l for loop in system.loops)


def _open_water_l(survey: Survey, system: Assembly) -> float:
    """Water that still circulates when every thermostatic valve has closed, litres."""
    closing = {valve.name for valve in survey.catalogue.valves if valve.kvs_m3_h is not None}
    free = [
        loop
        for loop in system.loops
        if loop.loop.valves.flow not in closing and loop.loop.valves.return_ not in closing
    ]
    return _plant_water_l(survey) + (_trunk_water_l(system) if free else 0.0) + sum(loop.water_l for loop in free)
