"""The tables of a survey file: their keys, ranges and defaults.

The keys are those of :mod:`heatloop.survey.model`; a default is the one given there. The building and
its build-ups stand in :mod:`heatloop.survey.file_building`, source and trunks in
:mod:`heatloop.survey.file_distribution`, loops in :mod:`heatloop.survey.file_loops`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from heatloop.survey.building import Covered, Obstacle, Opening, Room, RoomUse, Space, Surface, Wall
from heatloop.survey.files.building_tables import BuildingTable, BuildUpTable
from heatloop.survey.files.catalogue_tables import Name, Note, YesNo
from heatloop.survey.files.fields import Choice, Many, Number, Table, Text
from heatloop.survey.files.loop_tables import Drop, LoopTable, Position
from heatloop.survey.files.water_system_tables import (
    AntifreezeTable,
    BypassTable,
    SourceTable,
    TrunkTable,
    Water,
    WaterSystemTable,
)
from heatloop.survey.survey import Project

Length = Annotated[float, Number("metres", above=0, most=60)]
Height = Annotated[float, Number("metres", above=0, most=15)]
PipeDrop = Annotated[float, Number("metres", least=0, most=10)]
Indoor = Annotated[float, Number("degrees C", least=0, most=40)]
Outdoor = Annotated[float, Number("degrees C", least=-60, most=40)]
Flow = Annotated[float, Number("litres an hour", least=0, most=1e6)]
Litres = Annotated[float, Number("litres", least=0, most=1e5)]
AirChanges = Annotated[float, Number("air changes an hour", least=0, most=30)]


class ProjectTable(Table):
    """The job; `catalogue` is a path from the survey's own folder."""

    name: Name
    outdoor_c: Outdoor
    flow_temp_c: Water
    catalogue: Annotated[str, Text("a name", most=1000)]
    delta_t_k: Drop = Project.delta_t_k
    size_by: Annotated[Literal["drop", "loss"], Choice(("drop", "loss"))] = Project.size_by
    annual_mean_c: Annotated[float, Number("degrees C", least=-30, most=35)] | None = None
    water_film: YesNo = Project.water_film
    pipe_losses: YesNo = Project.pipe_losses
    antifreeze: AntifreezeTable | None = None
    buoyancy: YesNo = Project.buoyancy
    tees: YesNo = Project.tees

    def value(self) -> Project:
        return Project(**{**dict(self), "antifreeze": self.antifreeze.value() if self.antifreeze else None})


class SpaceTable(Table):
    """An unheated space: `temp_c` or `temperature_factor`."""

    name: Name
    temp_c: Annotated[float, Number("degrees C", least=-60, most=60)] | None = None
    temperature_factor: Annotated[float, Number("", least=0, most=1)] | None = None

    def value(self) -> Space:
        return Space(self.name, self.temp_c, self.temperature_factor)


class OpeningTable(Table):
    """A door, window or glazed door; `beyond` and `neighbour_c` are its wall's unless said."""

    kind: Name
    start_m: Position
    width_m: Length
    height_m: Height
    sill_m: Annotated[float, Number("metres", least=0, most=15)] = Opening.sill_m
    name: Name | None = None
    build_up: Name | None = None
    beyond: Name | None = None
    neighbour_c: Indoor | None = None
    crossing_drop_m: PipeDrop | None = None

    def value(self) -> Opening:
        return Opening(**dict(self))


class ObstacleTable(Table):
    """What stands against the wall."""

    kind: Name
    start_m: Position
    width_m: Length
    run: Annotated[Literal["crossing", "stop"], Choice(("crossing", "stop"))] = Obstacle.run
    crossing_drop_m: PipeDrop | None = None

    def value(self) -> Obstacle:
        return Obstacle(**dict(self))


class CoveredTable(Table):
    """A stretch of wall where the skirting runs on behind something."""

    start_m: Position
    width_m: Length
    factor: Annotated[float, Number("", above=0, most=1)] = Covered.factor

    def value(self) -> Covered:
        return Covered(**dict(self))


class WallTable(Table):
    """One wall; `turn_deg` at its end is 180 minus the angle inside the room."""

    length_m: Length
    turn_deg: Annotated[float, Number("degrees", above=-180, below=180)] = Wall.turn_deg
    beyond: Name | None = None
    neighbour_c: Indoor | None = None
    build_up: Name | None = None
    openings: Annotated[list[OpeningTable], Many("openings")] = Field(default_factory=list)
    obstacles: Annotated[list[ObstacleTable], Many("obstacles")] = Field(default_factory=list)
    covered: Annotated[list[CoveredTable], Many("covered stretches")] = Field(default_factory=list)

    def value(self) -> Wall:
        return Wall(
            length_m=self.length_m,
            turn_deg=self.turn_deg,
            beyond=self.beyond,
            neighbour_c=self.neighbour_c,
            build_up=self.build_up,
            openings=tuple(item.value() for item in self.openings),
            obstacles=tuple(item.value() for item in self.obstacles),
            covered=tuple(item.value() for item in self.covered),
        )


class SurfaceTable(Table):
    """A floor or a ceiling: "ground", "outdoors", "neighbour", a room or a space is beyond it."""

    beyond: Name
    build_up: Name | None = None
    neighbour_c: Indoor | None = None
    area_m2: Annotated[float, Number("square metres", above=0, most=1e4)] | None = None

    def value(self) -> Surface:
        return Surface(**dict(self))


class RoomTable(Table):
    """A room; `like` names another whose keys it takes where it gives none of its own."""

    name: Name
    indoor_c: Indoor
    height_m: Height = Room.height_m
    level_m: Annotated[float, Number("metres", least=-30, most=300)] = Room.level_m
    air_changes_h: AirChanges | None = None
    heat_recovery: Annotated[float, Number("", least=0, below=1)] = Room.heat_recovery
    floor: SurfaceTable | None = None
    ceiling: SurfaceTable | None = None
    walls: Annotated[list[WallTable], Many("walls, clockwise", 3, 200)] = Field(default_factory=list)
    vulnerable: YesNo = Room.vulnerable
    first_wall_bearing_deg: Annotated[float, Number("degrees from north", least=-360, most=360)] = (
        Room.first_wall_bearing_deg
    )
    heat_loss_w: Annotated[float, Number("watts", above=0, most=1e6)] | None = None
    heat_loss_by: Note | None = None
    like: Name | None = None
    usable_wall_m: Annotated[float, Number("metres", above=0, most=200)] | None = None
    use: Annotated[RoomUse, Choice(get_args(RoomUse))] | None = None
    infiltration_changes_h: AirChanges | None = None
    reheat_w_m2: Annotated[float, Number("W/m2", least=0, most=200)] | None = None
    depth_below_ground_m: Annotated[float, Number("metres", least=0, most=15)] = Room.depth_below_ground_m

    def value(self) -> Room:
        given: dict[str, Any] = dict(self)
        given["floor"] = self.floor.value() if self.floor else None
        given["ceiling"] = self.ceiling.value() if self.ceiling else None
        given["walls"] = tuple(wall.value() for wall in self.walls)
        return Room(**given)


class SurveyTable(Table):
    """The whole file."""

    project: ProjectTable
    building: BuildingTable = Field(default_factory=BuildingTable)
    build_up: Annotated[list[BuildUpTable], Many("build-ups")] = Field(default_factory=list)
    space: Annotated[list[SpaceTable], Many("unheated spaces")] = Field(default_factory=list)
    room: Annotated[list[RoomTable], Many("rooms", 1)]
    source: SourceTable = Field(default_factory=SourceTable)
    trunk: Annotated[list[TrunkTable], Many("trunks")] = Field(default_factory=list)
    loop: Annotated[list[LoopTable], Many("loops", 1)]
    bypass: Annotated[list[BypassTable], Many("bypasses")] = Field(default_factory=list)
    system: WaterSystemTable = Field(default_factory=WaterSystemTable)
