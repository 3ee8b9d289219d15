"""From a survey to the inputs of the solvers: fluid, network, temperatures and sensors."""

from __future__ import annotations

from collections.abc import Sequence

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.thermostat_control import SensorDemand
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.build import Levels, PipeworkInput, build_network
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.physics.friction import NO_CURVES, FrictionTable
from heatloop.physics.water import Fluid, freezing_point_c, mass_fraction_from_volume_fraction, mixture, plain_water
from heatloop.survey.loops import Loop, RouteCrossing
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Antifreeze, PumpCurve


def fluid_from(survey: SurveyData) -> Fluid:
    """The water of a survey: plain water, or its mixture with antifreeze."""
    antifreeze = survey.project.antifreeze
    if antifreeze is None:
        return plain_water()
    return mixture(antifreeze.kind, _mass_fraction(antifreeze))


def water_freezes_at_c(survey: SurveyData) -> float:
    """Temperature in °C at which ice first forms in the water of a survey.

    0 for plain water; else by the freezing curve of the antifreeze (Melinder, IIR 2010, in CoolProp).
    """
    antifreeze = survey.project.antifreeze
    return 0.0 if antifreeze is None else freezing_point_c(antifreeze.kind, _mass_fraction(antifreeze))


def _mass_fraction(antifreeze: Antifreeze) -> float:
    if antifreeze.mass_fraction is not None:
        return antifreeze.mass_fraction
    return mass_fraction_from_volume_fraction(antifreeze.kind, (antifreeze.percent_by_volume or 0.0) / 100.0)


def ambient_temp_c(survey: SurveyData) -> float | None:
    """Temperature around trunks that state none: the mean of the rooms. None where the survey excludes pipe losses."""
    return sum(room.indoor_c for room in survey.rooms) / len(survey.rooms) if survey.project.pipe_losses else None


def network_from(survey: SurveyData, paths: Sequence[LoopPath], friction: FrictionTable = NO_CURVES) -> PipeNetwork:
    """Build the network of a survey: loops, trunks and bypasses.

    Rooms have levels where buoyancy is requested. Trunks lose heat unless the survey excludes pipe losses. `friction`:
    friction curves that have been calculated already.
    """
    levels = Levels({room.name: room.level_m for room in survey.rooms}, survey.source.level_m)
    return build_network(
        paths, _pipework(survey), levels=levels if survey.project.buoyancy else None, friction=friction
    )


def shared_pipework_from(survey: SurveyData, paths: Sequence[LoopPath]) -> SharedPipework:
    """Build the trunks and bypasses of a survey by themselves, as in its network."""
    return _pipework(survey).shared_by(paths)


def _pipework(survey: SurveyData) -> PipeworkInput:
    return PipeworkInput(
        survey.trunks,
        {pipe.name: pipe for pipe in survey.catalogue.pipes},
        survey.bypasses,
        tees=survey.project.tees,
        lose_to_c=ambient_temp_c(survey),
    )


def has_presetting(survey: SurveyData) -> frozenset[str]:
    """Names of the valves that are preset in their body."""
    return frozenset(valve.name for valve in survey.catalogue.valves if valve.presetting)


def supply_temp_c(survey: SurveyData, loop: Loop, source_c: float | None = None) -> float:
    """Flow temperature at a loop: its own, else that of the source, at most that of any mixed trunk on the way.

    `source_c` is the present flow temperature of the source (None: that of the project). It also limits the loop's own.
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
    """Exponent of the output of a loop: of its profile or, without skirting, of its emitters by rated output."""
    if loop.profile:
        return survey.catalogue.profile(loop.profile).rating.exponent
    emitters = [survey.catalogue.emitter(item.emitter) for item in loop.emitters]
    return sum(emitter.exponent * emitter.output_w for emitter in emitters) / sum(
        emitter.output_w for emitter in emitters
    )


def pumps_from(survey: SurveyData, network: PipeNetwork) -> list[PumpCurve | None]:
    """The pump of each circuit in the survey, the source's first; None where none is stated."""
    mixed = [network.trunks[circuit.trunk].pump for circuit in network.circuits[1:]]
    return [survey.source.pump, *mixed]


def rooms_on_sensor(loop: Loop) -> list[str]:
    """Rooms on the route of a loop, in route order, each once."""
    items = [item for arm in loop.arms for item in arm if not isinstance(item, RouteCrossing)]
    return list(dict.fromkeys(item.room for item in items))


def sensor_demands_from(survey: SurveyData, losses: Sequence[RoomLoss]) -> dict[int, SensorDemand]:
    """Loops with a thermostatic valve, each with the room of its sensor and the heat that this room requires."""
    closing = {valve.name for valve in survey.catalogue.valves if valve.kvs_m3_h is not None}
    losses_w = {loss.room: loss.total_w for loss in losses}
    demands = {}
    for index, loop in enumerate(survey.loops):
        if not closing & {loop.valves.flow, loop.valves.return_}:
            continue
        rooms = rooms_on_sensor(loop)
        room = loop.sensor_room or (rooms[0] if len(rooms) == 1 else None)
        if room is not None:
            demands[index] = SensorDemand(room, losses_w[room])
    return demands
