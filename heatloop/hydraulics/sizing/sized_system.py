"""A prepared and a sized system: the input of results, handover and diagnosis."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.loop_isolation import IsolationResult, isolate_each_loop
from heatloop.hydraulics.analysis.thermostat_control import ThermostaticValves, apply_thermostats
from heatloop.hydraulics.from_survey import has_presetting, rooms_on_sensor, sensor_demands_from, supply_temp_c
from heatloop.hydraulics.loop_paths import ProfileCharacteristics
from heatloop.hydraulics.model import LoopPath, Side
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import PumpCharacteristic
from heatloop.hydraulics.sizing.balancing import Balance, balancing_places
from heatloop.hydraulics.sizing.flows import LoopSizing, SizedLoop
from heatloop.hydraulics.sizing.valve_settings import ValveSetting, calculated_setting
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState
from heatloop.hydraulics.solver.problem import CLOSED_KG_S
from heatloop.layout.model import Layout
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData

SENSED = 1e-3
"""Tolerance for rooms controlled by a sensor in another room, as a share of the loss of the sensor's room."""


@dataclass(frozen=True, eq=False)
class PreparedSystem:
    """Results for a survey before any hydraulic calculation: layout, heat losses, rating constants and water paths.

    `constants` of the profiles as designed come first, then those of each variant of the output range. `network`: loops
    and shared pipework with open valves. `loops_network`: the loops without shared pipework.
    """

    survey: SurveyData
    layout: Layout
    room_losses: tuple[RoomLoss, ...]
    fluid: Fluid
    constants: tuple[ProfileCharacteristics, ...]
    paths: tuple[LoopPath, ...]
    network: PipeNetwork
    loops_network: PipeNetwork


@dataclass(frozen=True)
class SystemDuty:
    """Duty of source and pump at the design: volume flow in l/h at the flow temperature, head in kPa, temperatures."""

    flow_l_h: float
    head_kpa: float
    flow_temp_c: float
    return_temp_c: float


@dataclass(frozen=True)
class SizedValve:
    """A valve of a loop or arm by its element: exact and nearest setting, and its pressure drop in Pa.

    `setting` is NaN where the required Kv is below the lowest Kv of the valve. `arm` counts from 1; 0 where the valve
    serves the whole loop.
    """

    place: int
    loop: int
    arm: int
    side: Side
    name: str
    balancing: bool
    kv_m3_h: float
    setting: float
    nearest: ValveSetting
    drop_pa: float


@dataclass(frozen=True, eq=False)
class SizedSystem:
    """A survey with flows, valve settings and solved states.

    `state` is the system with valves at their exact settings; `achieved` with each valve at its nearest setting. Solved
    when first used: `isolation`, with each loop isolated in turn and pumps as commissioned for the design; and
    `controlled`.
    """

    prepared: PreparedSystem
    sizing: LoopSizing
    balance: Balance
    state: SystemState
    settings: dict[int, ValveSetting]
    achieved: SystemState
    pumps: tuple[PumpCharacteristic, ...]

    @property
    def sized_loops(self) -> tuple[SizedLoop, ...]:
        """The loops as sized, in the order of the survey."""
        return self.sizing.loops

    @property
    def survey(self) -> SurveyData:
        """The survey that was sized."""
        return self.prepared.survey

    @property
    def layout(self) -> Layout:
        """Layout of skirting and pipes."""
        return self.prepared.layout

    @property
    def room_losses(self) -> tuple[RoomLoss, ...]:
        """Heat loss of every room."""
        return self.prepared.room_losses

    @property
    def fluid(self) -> Fluid:
        """The water, or its mixture with antifreeze."""
        return self.prepared.fluid

    @property
    def reversed_bypass(self) -> str | None:
        """Name of a bypass through which return water flows to the flow side; None where there is none.

        The mixing of this water is not calculated: such a state does not balance.
        """
        for state in (self.state, self.achieved):
            for bypass, flow_kg_s in zip(state.network.bypasses, state.bypass_kg_s, strict=True):
                if flow_kg_s < -CLOSED_KG_S:
                    return bypass.name
        return None

    @cached_property
    def isolation(self) -> IsolationResult:
        """The system with each loop isolated in turn. Raises ArithmeticError if the flows do not converge."""
        return isolate_each_loop(self.achieved, self.pumps, self.fluid.density_kg_m3(self.state.circuit_c))

    @cached_property
    def controlled(self) -> SystemState | None:
        """The system under control of its thermostatic valves.

        None where every valve serves only the room of its sensor, and where the iteration does not converge.
        """
        survey, achieved = self.survey, self.achieved
        demands = sensor_demands_from(survey, self.room_losses)
        if not any(set(rooms_on_sensor(survey.loops[loop])) - {sensor.room} for loop, sensor in demands.items()):
            return None
        with contextlib.suppress(ArithmeticError):
            return apply_thermostats(
                achieved.network,
                OperatingConditions(
                    np.array([supply_temp_c(survey, loop) for loop in survey.loops], float),
                    self.pumps,
                    source_c=survey.project.flow_temp_c,
                ),
                self.fluid,
                ThermostaticValves(demands),
                initial_guess=achieved,
                tolerance=SENSED,
            )
        return None

    @cached_property
    def duty(self) -> SystemDuty:
        """Duty of source and pump."""
        state = self.state
        density = float(self.fluid.density_kg_m3(state.circuit_c[0]))
        flow_l_h = state.total_flow_kg_s / density * 3.6e6
        return SystemDuty(
            flow_l_h, self.balance.head_pa / 1000.0, self.survey.project.flow_temp_c, state.source_return_c
        )

    @cached_property
    def valves(self) -> tuple[SizedValve, ...]:
        """Every valve of loops and arms, in the order of the elements."""
        network, in_body = self.state.network, has_presetting(self.survey)
        balancing = {i for loop in range(len(network.loops)) for i in balancing_places(network, loop, in_body)}
        sized = []
        for i, place in enumerate(network.locations):
            element = place.element
            if element.kind != "valve" or element.valve is None:
                continue
            kv = float(network.elements.kv_m3_h[i])
            setting = calculated_setting(kv, self.survey.catalogue.valve(element.valve))
            sized.append(
                SizedValve(
                    place=i,
                    loop=place.loop,
                    arm=element.arm,
                    side=element.direction,
                    name=element.valve,
                    balancing=i in balancing,
                    kv_m3_h=kv,
                    setting=setting,
                    nearest=self.settings[i],
                    drop_pa=float(self.state.drop_pa[i]),
                )
            )
        return tuple(sized)


def flow_l_h(state: SystemState, place: int) -> float:
    """Flow of an element in litres an hour at its own temperature."""
    return float(state.flow_kg_s[place] / state.density_kg_m3[place] * 3.6e6)
