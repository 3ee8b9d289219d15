"""From a survey to the inputs of the solvers: fluid, network, temperatures and sensors."""

from __future__ import annotations

from collections.abc import Sequence

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.thermostat_control import SensorDemand
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.build import Levels, PipeworkInput, build_network
from heatloop.hydraulics.network.shared_pipework import SharedPipework, build_shared_pipework
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.physics.friction import NO_CURVES, FrictionTable
from heatloop.physics.water import Fluid, freezing_point_c, mass_fraction_from_volume_fraction, mixture, plain_water
from heatloop.survey.loops import Loop, RouteCrossing
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Antifreeze, PumpCurve


def fluid_from(survey: SurveyData) -> Fluid:
    """The water of a survey: plain, or the mixture its antifreeze makes."""
    antifreeze = survey.project.antifreeze
    if antifreeze is None:
        return plain_water()
    return mixture(antifreeze.kind, _mass_fraction(antifreeze))


def water_freezes_at_c(survey: SurveyData) -> float:
    """Temperature at which ice first forms in the water of a survey, °C: 0, or by the freezing curve of its
    antifreeze (Melinder, IIR 2010, as CoolProp holds it)."""
    antifreeze = survey.project.antifreeze
    return 0.0 if antifreeze is None else freezing_point_c(antifreeze.kind, _mass_fraction(antifreeze))


def _mass_fraction(antifreeze: Antifreeze) -> float:
    if antifreeze.mass_fraction is not None:
        return antifreeze.mass_fraction
    return mass_fraction_from_volume_fraction(antifreeze.kind, (antifreeze.percent_by_volume or 0.0) / 100.0)


def shared_pipework_from(survey: SurveyData, paths: Sequence[LoopPath]) -> SharedPipework:
    """The trunks and bypasses of a survey by themselves, as `network_from` has them."""
    pipes = {pipe.name: pipe for pipe in survey.catalogue.pipes}
    return build_shared_pipework(
        survey.trunks, pipes, [path.loop.trunk for path in paths], survey.bypasses, ambient_temp_c(survey)
    )


def ambient_temp_c(survey: SurveyData) -> float | None:
    """Temperature round trunks that state none: the mean of the rooms; None where the survey leaves pipe losses out."""
    return sum(room.indoor_c for room in survey.rooms) / len(survey.rooms) if survey.project.pipe_losses else None


def network_from(survey: SurveyData, paths: Sequence[LoopPath], friction: FrictionTable = NO_CURVES) -> PipeNetwork:
    """The loops of a survey with its trunks and bypasses; rooms have levels where buoyancy is requested. Trunks lose
    heat unless the survey leaves pipe losses out. `friction`: curves that are known already."""
    levels = Levels({room.name: room.level_m for room in survey.rooms}, survey.source.level_m)
    return build_network(
        paths,
        PipeworkInput(
            survey.trunks,
            {pipe.name: pipe for pipe in survey.catalogue.pipes},
            survey.bypasses,
            tees=survey.project.tees,
            lose_to_c=ambient_temp_c(survey),
        ),
        levels=levels if survey.project.buoyancy else None,
        friction=friction,
    )


def has_presetting(survey: SurveyData) -> frozenset[str]:
    """Names of the valves that are preset in their body."""
    return frozenset(valve.name for valve in survey.catalogue.valves if valve.presetting)


def supply_temp_c(survey: SurveyData, loop: Loop, source_c: float | None = None) -> float:
    """Flow temperature that reaches a loop: its own, else the source's, no warmer than any mixed trunk.

    `source_c` is the source's flow temperature now (None: the project's); it also bounds a loop's own.
    """
    source = survey.project.flow_temp_c if source_c is None else source_c
    temp_c = source if loop.flow_temp_c is None else loop.flow_temp_c
    if source_c is not None:
        temp_c = min(temp_c, source_c)
    name = loop.trunk
    while name is not None:
        trunk = survey.trunk(name)
        if trunk.mixed_to_c is not None:
            temp_c = min(temp_c, trunk.mixed_to_c)
        name = trunk.from_trunk
    return temp_c


def mean_exponent(survey: SurveyData, loop: Loop) -> float:
    """Exponent of what a loop gives: its profile's; without skirting its emitters', by their rated output."""
    if loop.profile:
        return survey.catalogue.profile(loop.profile).rating.exponent
    emitters = [survey.catalogue.emitter(item.emitter) for item in loop.emitters]
    return sum(one.exponent * one.output_w for one in emitters) / sum(one.output_w for one in emitters)


def pumps_from(survey: SurveyData, network: PipeNetwork) -> list[PumpCurve | None]:
    """The pump of each circuit in the survey, the source's first; None where none is stated."""
    mixed = [network.trunks[circuit.trunk].pump for circuit in network.circuits[1:]]
    return [survey.source.pump, *mixed]


def rooms_on_sensor(loop: Loop) -> list[str]:
    """The rooms a loop's route runs through, in its order, each once."""
    items = [item for arm in loop.arms for item in arm if not isinstance(item, RouteCrossing)]
    return list(dict.fromkeys(item.room for item in items))


def sensor_demands_from(survey: SurveyData, losses: Sequence[RoomLoss]) -> dict[int, SensorDemand]:
    """Loops controlled by a thermostatic valve, each with its sensor's room and the heat that room requires."""
    closing = {valve.name for valve in survey.catalogue.valves if valve.kvs_m3_h is not None}
    losses_w = {loss.room: loss.total_w for loss in losses}
    governed = {}
    for index, loop in enumerate(survey.loops):
        if not closing & {loop.valves.flow, loop.valves.return_}:
            continue
        rooms = rooms_on_sensor(loop)
        room = loop.sensor_room or (rooms[0] if len(rooms) == 1 else None)
        if room is not None:
            governed[index] = SensorDemand(room, losses_w[room])
    return governed
