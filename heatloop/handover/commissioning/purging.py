"""Purge flow of each loop: fast enough in its slowest waterway to carry the air to a vent, and its drive (pump or
hose).

Air is carried along from about 0.6 to 0.75 m/s (0.75 m/s: AIRAH technical reference 2016); slower water leaves it at
high points, where it is vented by hand. One loop is purged at a time, and one arm of a loop whose arms have valves; its
valves are fully open, thermostatic heads removed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from heatloop.hydraulics.model import LoopPath, PathElement
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import full_speed
from heatloop.hydraulics.sizing.trial_solution import arms_have_valves
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.physics.pressurisation import static_head_kpa
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import PumpCurve, Trunk
from heatloop.text.column import TableDescription, count_column, number_column, text_column
from heatloop.text.table_set import table_frame

PURGE_SOURCE = "0.6 to 0.75 m/s: AIRAH technical reference 2016; below it air stays at high points"
PURGE = TableDescription(
    "purging",
    "Purge flows",
    "Purge flow of each loop, one loop at a time, with its valves fully open.",
    (
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "arm of the loop; 0: the whole loop"),
        number_column(
            "purge_velocity_m_s", "Purge velocity", "m/s", 2, "velocity in the channel or pipe with the slowest flow"
        ),
        number_column("purge_flow_l_h", "Purge flow", "l/h", 0),
        text_column("slowest_section", "Slowest section"),
        number_column("loop_drop_kpa", "Pressure drop of the loop", "kPa", 0),
        number_column("head_kpa", "Head at the source", "kPa", 0),
        number_column("pump_head_kpa", "Available pump head", "kPa", 0, "at that flow"),
        number_column("pump_velocity_m_s", "Pump alone", "m/s", 2, "velocity that the pump reaches without a hose"),
        number_column("static_lift_kpa", "Static lift", "kPa", 0),
        number_column("hose_pressure_kpa", "Hose pressure", "kPa", 0),
        text_column("drive", "Driven by"),
        text_column("source", "Source"),
    ),
)


@dataclass(frozen=True)
class PurgeResult:
    """One purge. `arm` is 0 where the whole loop is purged at once.

    `flow_l_h` gives the velocity `purge_velocity_m_s` in the channel or pipe `slowest_section`. `loop_drop_kpa` is from
    tail to tail; `head_kpa` includes the trunks, at the source. At full speed the pump has `pump_head_kpa` at this
    flow, and reaches the velocity `pump_velocity_m_s` without a hose (both NaN without a curve). A hose at the source
    requires `hose_pressure_kpa`: the head and the static lift to the floor of the loop. The lift is required only until
    the loop is full.
    """

    loop: str
    arm: int
    purge_velocity_m_s: float
    flow_l_h: float
    slowest_section: str
    loop_drop_kpa: float
    head_kpa: float
    pump_head_kpa: float
    pump_velocity_m_s: float
    static_lift_kpa: float
    hose_pressure_kpa: float
    drive: str


def purges(survey: SurveyData, paths: tuple[LoopPath, ...], fluid: Fluid) -> tuple[PurgeResult, ...]:
    """The purge of every loop; arm by arm where arms can be isolated."""
    return tuple(_purge(survey, path, arm, fluid) for whole in paths for arm, path in _one_at_a_time(survey, whole))


def _one_at_a_time(survey: SurveyData, path: LoopPath) -> Iterator[tuple[int, LoopPath]]:
    """The loop with its valves fully open, or each of its arms with the other isolated."""
    wide = _wide_open(survey, path)
    if len(path.arms) == 1 or not arms_have_valves(path):
        yield 0, wide
        return
    for number, arm in enumerate(wide.arms, start=1):
        yield number, replace(wide, arms=(arm,))


def _wide_open(survey: SurveyData, path: LoopPath) -> LoopPath:
    def opened(elements: tuple[PathElement, ...]) -> tuple[PathElement, ...]:
        return tuple(e if e.valve is None else replace(e, kv_m3_h=_widest_kv(survey, e.valve)) for e in elements)

    arms = tuple(
        replace(arm, flow_valve=opened(arm.flow_valve), return_valve=opened(arm.return_valve)) for arm in path.arms
    )
    return replace(path, tail_flow=opened(path.tail_flow), tail_return=opened(path.tail_return), arms=arms)


def _widest_kv(survey: SurveyData, name: str) -> float:
    """Kv of a valve without its thermostatic head and with its presetting fully open."""
    valve = survey.catalogue.valve(name)
    return valve.kv_open_m3_h if valve.kvs_m3_h is None else valve.kvs_m3_h


def _purge(survey: SurveyData, path: LoopPath, arm: int, fluid: Fluid) -> PurgeResult:
    network = build_network(
        [path], PipeworkInput(_on_the_way(survey, path), {pipe.name: pipe for pipe in survey.catalogue.pipes})
    )
    density = float(fluid.density_kg_m3(survey.system.fill_c))
    required, cold = survey.system.purge_velocity_m_s, np.array([survey.system.fill_c])

    def at(flow_kg_s: float) -> SystemState:
        return solve_state(network, OperatingConditions(cold, [np.array([flow_kg_s])]), fluid)

    flow, state = _sweeping_flow(at, required, path, density)
    speed, slowest = _slowest(network, state)
    head_kpa = state.head_pa / 1000.0
    loop_kpa = float(np.diff(state.pressure_pa[network.loop_nodes[0]])[0]) / -1000.0
    pump_kpa, pump_speed = np.nan, np.nan
    if survey.source.pump is not None:
        pump_kpa = _pump_kpa(survey.source.pump, flow / density)
        pump_speed = speed
        if pump_kpa < head_kpa:
            alone = solve_state(
                network,
                OperatingConditions(cold, [full_speed(survey.source.pump)]),
                fluid,
                initial_guess_kg_s=np.array([flow]),
            )
            pump_speed, _ = _slowest(network, alone)
    rooms = {cell.room for part in path.arms for cell in part.cells}
    lowest_m = min(room.level_m for room in survey.rooms)
    static_lift_kpa = static_head_kpa(max(survey.room(room).level_m for room in rooms) - lowest_m, density)
    hose_kpa = head_kpa + static_lift_kpa
    return PurgeResult(
        loop=path.loop.name,
        arm=arm,
        purge_velocity_m_s=speed,
        flow_l_h=flow / density * 3.6e6,
        slowest_section=slowest,
        loop_drop_kpa=loop_kpa,
        head_kpa=head_kpa,
        pump_head_kpa=pump_kpa,
        pump_velocity_m_s=pump_speed,
        static_lift_kpa=static_lift_kpa,
        hose_pressure_kpa=hose_kpa,
        drive=_drive(pump_kpa, head_kpa, survey.system.hose_kpa, hose_kpa),
    )


def _on_the_way(survey: SurveyData, path: LoopPath) -> list[Trunk]:
    """Trunks between the source and a loop."""
    trunks, name = [], path.loop.trunk
    while name is not None:
        trunks.append(replace(survey.trunk(name), mixed_to_c=None))
        name = trunks[-1].from_trunk
    return trunks


def _sweeping_flow(
    at: Callable[[float], SystemState], required_m_s: float, path: LoopPath, density: float
) -> tuple[float, SystemState]:
    """Mass flow at which the slowest waterway has exactly the required velocity, and the system at this flow.

    Velocities rise nearly in proportion to flow; only the shares of parallel channels change slightly.
    """
    flow = required_m_s * density * max(duct.area_m2 for arm in path.arms for duct in arm.ducts)
    for _ in range(30):
        state = at(flow)
        speed, _ = _slowest(state.network, state)
        if abs(speed / required_m_s - 1.0) < 1e-9:
            return flow, state
        flow *= required_m_s / speed
    raise ArithmeticError(f"loop {path.loop.name}: no flow found that reaches a purge velocity of {required_m_s:g} m/s")


def _slowest(network: PipeNetwork, state: SystemState) -> tuple[float, str]:
    """Velocity in m/s in the slowest waterway of the loop, and its name; fittings and trunks are not included."""
    speeds = [
        (state.flow_kg_s[i] / (state.density_kg_m3[i] * place.element.duct.area_m2), place.element.label)
        for i, place in enumerate(network.locations)
        if place.loop >= 0 and place.element.length_m > 0.0
    ]
    speed, label = min(speeds, key=lambda pair: pair[0])
    return float(speed), label


def _pump_kpa(pump: PumpCurve, flow_m3_s: float) -> float:
    """Head of the pump at full speed, kPa; none beyond what its curve reaches."""
    return max(float(full_speed(pump).head_pa(np.array([flow_m3_s]))[0][0]), 0.0) / 1000.0


def _drive(pump_kpa: float, head_kpa: float, hose_kpa: float | None, hose_pressure_kpa: float) -> str:
    """The drive of the purge: pump or hose."""
    if pump_kpa >= head_kpa:
        return "pump"
    if hose_kpa is None:
        return "hose, if its pressure is high enough"
    return "hose" if hose_kpa >= hose_pressure_kpa else "none; vent by hand"


def purge_table(rows: tuple[PurgeResult, ...]) -> pd.DataFrame:
    """One row for each purge."""
    purge_rows = [
        {
            **{k: v for k, v in row.__dict__.items() if k != "flow_l_h"},
            "purge_flow_l_h": row.flow_l_h,
            "source": PURGE_SOURCE,
        }
        for row in rows
    ]
    return table_frame(PURGE, purge_rows)
