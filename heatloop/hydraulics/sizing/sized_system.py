"""A prepared and a sized system: what results, handover and diagnosis read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.loop_isolation import IsolationResult
from heatloop.hydraulics.from_survey import has_presetting
from heatloop.hydraulics.loop_paths import Laws
from heatloop.hydraulics.model import LoopPath, Side
from heatloop.hydraulics.pumps import PumpCharacteristic
from heatloop.hydraulics.sizing.balancing import Balance, balancing_places
from heatloop.hydraulics.sizing.flows import SizedLoop
from heatloop.hydraulics.sizing.valve_settings import ValveSetting, calculated_setting
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.layout.model import Layout
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True, eq=False)
class PreparedSystem:
    """Results for a survey before any hydraulic calculation: layout, heat losses, rating constants and water paths."""

    survey: SurveyData
    layout: Layout
    room_losses: tuple[RoomLoss, ...]
    fluid: Fluid
    constants: Laws
    paths: tuple[LoopPath, ...]


@dataclass(frozen=True)
class SystemDuty:
    """Duty of source and pump at the design: volume flow in l/h at the flow temperature, head in kPa, temperatures."""

    flow_l_h: float
    head_kpa: float
    flow_temp_c: float
    return_temp_c: float


@dataclass(frozen=True)
class SizedValve:
    """A valve of a loop or arm by its place among the elements: exact and nearest setting, its drop in Pa.

    `setting` is NaN where the required Kv is below the valve's lowest. `arm` counts from 1, 0 where it serves the
    whole loop.
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

    `state` is the system with valves at their exact settings, `achieved` with each valve at its nearest setting,
    `isolation` with each loop shut in turn, pumps as commissioned for the design. `controlled` has thermostatic
    valves at work too, where one serves rooms without its sensor and the iteration converges; otherwise None.
    """

    prepared: PreparedSystem
    sized_loops: tuple[SizedLoop, ...]
    balance: Balance
    state: SystemState
    settings: dict[int, ValveSetting]
    achieved: SystemState
    isolation: IsolationResult
    pumps: tuple[PumpCharacteristic, ...]
    controlled: SystemState | None = None

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
        found = []
        for i, place in enumerate(network.locations):
            element = place.element
            if element.kind != "valve" or element.valve is None:
                continue
            kv = float(network.elements.kv_m3_h[i])
            setting = calculated_setting(kv, self.survey.catalogue.valve(element.valve))
            found.append(
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
        return tuple(found)


def flow_l_h(state: SystemState, place: int) -> float:
    """Flow of an element in litres an hour at its own temperature."""
    return float(state.flow_kg_s[place] / state.density_kg_m3[place] * 3.6e6)
