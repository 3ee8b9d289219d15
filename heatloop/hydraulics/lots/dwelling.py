"""One dwelling of a lot: what is known of it before its loops are sized, and whether it can be sized in a lot."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.hydraulics.from_survey import fluid_from, has_presetting, shared_pipework_from
from heatloop.hydraulics.loop_paths import loop_paths
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.hydraulics.sizing.balancing import balancing_among
from heatloop.hydraulics.sizing.sized_system import PreparedSystem
from heatloop.hydraulics.sizing.trial_solution import arms_have_valves, channels_share_equally
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, floor_areas_m2
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True, eq=False)
class LotDwelling:
    """A survey with its layout, heat losses, water, water paths and shared pipework."""

    survey: SurveyData
    layout: Layout
    room_losses: tuple[RoomLoss, ...]
    fluid: Fluid
    paths: tuple[LoopPath, ...]
    shared_pipework: SharedPipework

    @classmethod
    def of(cls, survey: SurveyData) -> LotDwelling:
        """Prepare a checked survey. Raises InputError, with one line for each error, where the layout is impossible."""
        layout = build_layout(survey)
        losses = room_losses(survey, floor_areas_m2(layout))
        paths = loop_paths(survey, layout)
        return cls(survey, layout, losses, fluid_from(survey), paths, shared_pipework_from(survey, paths))

    @classmethod
    def of_prepared(cls, prepared: PreparedSystem) -> LotDwelling:
        """A system that has been prepared for sizing by itself."""
        return cls(
            prepared.survey,
            prepared.layout,
            prepared.room_losses,
            prepared.fluid,
            prepared.paths,
            prepared.network.shared_pipework,
        )

    def alone_because(self) -> str | None:
        """Why this dwelling is sized by itself; None where it can be sized in a lot."""
        survey = self.survey
        if survey.project.tees and self.shared_pipework.branching():
            return "tees"
        if not (self.shared_pipework.on_link.any(axis=1).all() and self.shared_pipework.of_circuit.any(axis=1).all()):
            return "trunk without loops"
        may_have_surplus = len(self.paths) > 1 or survey.project.buoyancy
        if may_have_surplus and not all(map(self._has_balancing_valve, self.paths)):
            return "loop without balancing valve"
        if any(len(path.arms) > 1 and not arms_have_valves(path) for path in self.paths):
            return "arms without valves"
        if not all(channels_share_equally(arm) for path in self.paths for arm in path.arms):
            return "parallel channels with unequal flow"
        return None

    def _has_balancing_valve(self, path: LoopPath) -> bool:
        valves = dict(enumerate(element for element in path.elements() if element.kind == "valve"))
        return bool(balancing_among(valves, len(path.arms), has_presetting(self.survey)))

    def of_one_kind_with(self) -> tuple[object, ...]:
        """Dwellings for which this is equal can be in one lot: the same water, sized in the same way."""
        project = self.survey.project
        mixed = len(self.shared_pipework.circuits) > 1 or any(
            loop.flow_temp_c is not None for loop in self.survey.loops
        )
        return project.antifreeze, project.size_by, mixed, bool(self.survey.bypasses)
