"""The tables of a survey file: their keys, ranges and defaults.

The keys are those of :mod:`heatloop.survey.survey` and :mod:`heatloop.survey.building`; a default is the one
given there. The building and its build-ups are in :mod:`heatloop.survey.files.building_tables`, source and
trunks in :mod:`heatloop.survey.files.water_system_tables`, loops in :mod:`heatloop.survey.files.loop_tables`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import Field

from heatloop.survey.building import (
    CoveredStretch,
    Diagonal,
    FloorOrCeiling,
    Obstacle,
    Opening,
    Room,
    RoomUse,
    UnheatedSpace,
    Wall,
)
from heatloop.survey.files.building_tables import BuildingTable, BuildUpTable
from heatloop.survey.files.document_tables import DocumentTable, FirstFixTable, QuotationTable
from heatloop.survey.files.fields import (
    ChoiceField,
    FileTable,
    IntegerField,
    ListField,
    Name,
    Note,
    NumberField,
    TextField,
    YesNo,
)
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

Length = Annotated[float, NumberField("metres", above=0, maximum=60)]
Height = Annotated[float, NumberField("metres", above=0, maximum=15)]
PipeDrop = Annotated[float, NumberField("metres", minimum=0, maximum=10)]
Indoor = Annotated[float, NumberField("°C", minimum=0, maximum=40)]
Outdoor = Annotated[float, NumberField("°C", minimum=-60, maximum=40)]
Flow = Annotated[float, NumberField("litres an hour", minimum=0, maximum=1e6)]
Litres = Annotated[float, NumberField("litres", minimum=0, maximum=1e5)]
Corner = Annotated[int, IntegerField("the number of a corner", 1, 200)]
AirChanges = Annotated[float, NumberField("air changes an hour", minimum=0, maximum=30)]


class ProjectTable(FileTable):
    """The project: temperatures and scope of the calculation."""

    name: Name = Field(description="title of the report")
    outdoor_c: Outdoor = Field(description="design outdoor temperature")
    flow_temp_c: Water = Field(description="flow temperature of the source")
    catalogue: Annotated[str, TextField("a name", maximum=1000)] = Field(
        description="path of the catalogue, relative to the folder of the survey"
    )
    delta_t_k: Drop = Field(default=Project.delta_t_k, description="design temperature drop of the loops")
    size_by: Annotated[Literal["drop", "loss"], ChoiceField(("drop", "loss"))] = Field(
        default=Project.size_by,
        description='`"drop"`: flow for the design drop. `"loss"`: the minimum flow that covers the '
        "heat loss of every room of the loop",
    )
    annual_mean_c: Annotated[float, NumberField("°C", minimum=-30, maximum=35)] | None = Field(
        default=None,
        description="annual mean outdoor temperature, for the heat loss to the ground; 10 is assumed if a floor "
        "requires it",
    )
    water_film: YesNo = Field(
        default=Project.water_film,
        description="calculate the water film on the channel walls; leave it true",
    )
    pipe_losses: YesNo = Field(
        default=Project.pipe_losses,
        description="calculate the heat loss of tails and crossings; leave it true",
    )
    antifreeze: AntifreezeTable | None = Field(default=None, description="glycol in the water")
    buoyancy: YesNo = Field(default=Project.buoyancy, description="count the buoyancy of warm water between levels")
    tees: YesNo = Field(default=Project.tees, description="count the losses of the tees where loops leave trunks")

    def value(self) -> Project:
        return Project(**{**dict(self), "antifreeze": self.antifreeze.value() if self.antifreeze else None})


class SpaceTable(FileTable):
    """An unheated space: one of `temp_c` and `temperature_factor`."""

    name: Name = Field(description="name used by `beyond`")
    temp_c: Annotated[float, NumberField("°C", minimum=-60, maximum=60)] | None = Field(
        default=None, description="temperature of the space at design conditions"
    )
    temperature_factor: Annotated[float, NumberField("", minimum=0, maximum=1)] | None = Field(
        default=None,
        description="position of the temperature of the space between that of the rooms (0) and outdoors (1)",
    )
    heating_pipes: YesNo = Field(
        default=UnheatedSpace.heating_pipes, description="whether heating pipes run through the space"
    )

    def value(self) -> UnheatedSpace:
        return UnheatedSpace(**dict(self))


class OpeningTable(FileTable):
    """A door, window or glazed door in a wall."""

    kind: Name = Field(description="kind of opening: window, door or glazed door")
    start_m: Position = Field(description="distance from the left-hand end of the wall")
    width_m: Length = Field(description="width of the structural opening")
    height_m: Height = Field(description="height of the structural opening")
    sill_m: Annotated[float, NumberField("metres", minimum=0, maximum=15)] = Field(
        default=Opening.sill_m, description="height of the sill above the floor; 0 for a door"
    )
    name: Name | None = Field(default=None, description="name; the same name in two rooms means one doorway")
    build_up: Name | None = Field(default=None, description="build-up of the door or window")
    beyond: Name | None = Field(default=None, description="adjacent space; if not given, that of the wall")
    neighbour_c: Indoor | None = Field(
        default=None, description="temperature beyond a neighbour; if not given, that of the wall"
    )
    crossing_depth_m: PipeDrop | None = Field(
        default=None,
        description="depth at each side of a crossing that passes the opening; if not given, that of the loop. An "
        "outside door may require more: round the reveal, below the threshold",
    )

    def value(self) -> Opening:
        return Opening(**dict(self))


class ObstacleTable(FileTable):
    """An object at the wall that interrupts the skirting."""

    kind: Name = Field(description="kind of object: units, bath, chimney breast")
    start_m: Position = Field(description="distance from the left-hand end of the wall")
    width_m: Length = Field(description="width along the wall")
    run: Annotated[Literal["crossing", "stop"], ChoiceField(("crossing", "stop"))] = Field(
        default=Obstacle.run, description="whether a loop may pass it"
    )
    crossing_depth_m: PipeDrop | None = Field(
        default=None,
        description="depth at each side of a crossing that passes the obstacle; if not given, that of the loop",
    )

    def value(self) -> Obstacle:
        return Obstacle(**dict(self))


class CoveredTable(FileTable):
    """A part of a wall where the skirting runs behind furniture or units."""

    start_m: Position = Field(description="distance from the left-hand end of the wall")
    width_m: Length = Field(description="width along the wall")
    factor: Annotated[float, NumberField("", above=0, maximum=1)] = Field(
        default=CoveredStretch.factor, description="share of the output that remains"
    )

    def value(self) -> CoveredStretch:
        return CoveredStretch(**dict(self))


class WallTable(FileTable):
    """One wall of the traverse of a room."""

    length_m: Length = Field(description="wall length as measured")
    turn_deg: Annotated[float, NumberField("degrees", above=-180, below=180)] = Field(
        default=Wall.turn_deg, description="turn at the END of the wall: 180 minus the angle inside the room"
    )
    beyond: Name | None = Field(
        default=None,
        description='`"outdoors"`, `"ground"`, `"neighbour"`, a room or a space; if not given, a space '
        "at the same temperature",
    )
    neighbour_c: Indoor | None = Field(default=None, description='temperature beyond `"neighbour"`')
    build_up: Name | None = Field(default=None, description="build-up of the wall")
    openings: Annotated[list[OpeningTable], ListField("openings")] = Field(
        default_factory=list, description="doors and windows"
    )
    obstacles: Annotated[list[ObstacleTable], ListField("obstacles")] = Field(
        default_factory=list, description="objects that interrupt the skirting"
    )
    covered: Annotated[list[CoveredTable], ListField("covered stretches")] = Field(
        default_factory=list, description="furniture or units in front of the skirting"
    )

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


class DiagonalTable(FileTable):
    """A diagonal between two corners of a room. Corner n is the left-hand end of wall n."""

    from_corner: Corner = Field(description="number of the corner at which the tape starts")
    to_corner: Corner = Field(description="number of the corner at which the tape ends; not a neighbouring corner")
    length_m: Length = Field(description="length straight across the floor, as measured")

    def value(self) -> Diagonal:
        return Diagonal(**dict(self))


class SurfaceTable(FileTable):
    """A floor or a ceiling."""

    beyond: Name = Field(description='`"ground"`, `"outdoors"`, `"neighbour"`, a room or a space')
    build_up: Name | None = Field(default=None, description="build-up of the floor or ceiling")
    neighbour_c: Indoor | None = Field(default=None, description='temperature beyond `"neighbour"`')
    area_m2: Annotated[float, NumberField("square metres", above=0, maximum=1e4)] | None = Field(
        default=None, description="area, if the surface slopes or covers only part of the room"
    )

    def value(self) -> FloorOrCeiling:
        return FloorOrCeiling(**dict(self))


class RoomTable(FileTable):
    """A room by its walls, or by its stated heat loss."""

    name: Name = Field(description="name used by loops and `beyond`")
    indoor_c: Indoor = Field(description="room temperature to maintain")
    height_m: Height = Field(default=Room.height_m, description="height from floor to ceiling")
    level_m: Annotated[float, NumberField("metres", minimum=-30, maximum=300)] = Field(
        default=Room.level_m, description="level of the floor; rooms of one level share a plan"
    )
    air_changes_h: AirChanges | None = Field(
        default=None,
        description="outdoor air at design conditions, leakage included, before heat recovery; if not given, it "
        "follows from `use` and `n50_h`",
    )
    heat_recovery: Annotated[float, NumberField("", minimum=0, below=1)] = Field(
        default=Room.heat_recovery, description="share of the heat of the outdoor air that is recovered"
    )
    floor: SurfaceTable | None = Field(default=None, description="space below the floor")
    ceiling: SurfaceTable | None = Field(default=None, description="space above the ceiling")
    walls: Annotated[list[WallTable], ListField("walls, clockwise", 3, 200)] = Field(
        default_factory=list, description="walls clockwise as seen from above, three or more"
    )
    vulnerable: YesNo = Field(
        default=Room.vulnerable,
        description="room for small children, old or ill people: surfaces at most 43 °C",
    )
    first_wall_bearing_deg: Annotated[float, NumberField("degrees from north", minimum=-360, maximum=360)] = Field(
        default=Room.first_wall_bearing_deg, description="direction of wall 1, clockwise from north"
    )
    heat_loss_w: Annotated[float, NumberField("watts", above=0, maximum=1e6)] | None = Field(
        default=None,
        description="heat loss of the room, stated and not calculated; walls are then used for the layout only",
    )
    heat_loss_source: Note | None = Field(default=None, description="source of the stated heat loss")
    copy_of: Name | None = Field(default=None, description="room from which missing keys are copied")
    estimated_wall_m: Annotated[float, NumberField("metres", above=0, maximum=200)] | None = Field(
        default=None, description="wall length for an estimate before the survey"
    )
    use: Annotated[RoomUse, ChoiceField(get_args(RoomUse))] | None = Field(
        default=None, description="use of the room, for the minimum outdoor air"
    )
    infiltration_changes_h: AirChanges | None = Field(
        default=None, description="part of the outdoor air to which heat recovery does not apply"
    )
    reheat_w_m2: Annotated[float, NumberField("W/m2", minimum=0, maximum=200)] | None = Field(
        default=None, description="reheat per square metre of floor, instead of the reheat of the building"
    )
    depth_below_ground_m: Annotated[float, NumberField("metres", minimum=0, maximum=15)] = Field(
        default=Room.depth_below_ground_m, description="depth of the floor of a cellar below ground"
    )
    diagonals: Annotated[list[DiagonalTable], ListField("diagonals")] = Field(
        default_factory=list,
        description="diagonals between corners; they show a wrong length and corners out of square",
    )

    def value(self) -> Room:
        values: dict[str, Any] = dict(self)
        values["floor"] = self.floor.value() if self.floor else None
        values["ceiling"] = self.ceiling.value() if self.ceiling else None
        values["walls"] = tuple(wall.value() for wall in self.walls)
        values["diagonals"] = tuple(diagonal.value() for diagonal in self.diagonals)
        return Room(**values)


class SurveyTable(FileTable):
    """The whole file."""

    project: ProjectTable = Field(description="project and temperatures")
    building: BuildingTable = Field(default_factory=BuildingTable, description="data common to all rooms")
    build_up: Annotated[list[BuildUpTable], ListField("build-ups")] = Field(
        default_factory=list, description="build-ups of this house, beside the usual ones"
    )
    space: Annotated[list[SpaceTable], ListField("unheated spaces")] = Field(
        default_factory=list, description="unheated spaces"
    )
    room: Annotated[list[RoomTable], ListField("rooms", 1)] = Field(description="rooms, walls clockwise")
    source: SourceTable = Field(default_factory=SourceTable, description="the heat source")
    trunk: Annotated[list[TrunkTable], ListField("trunks")] = Field(
        default_factory=list, description="pipes from the source to the loops"
    )
    loop: Annotated[list[LoopTable], ListField("loops", 1)] = Field(description="loops of skirting and other emitters")
    bypass: Annotated[list[BypassTable], ListField("bypasses")] = Field(
        default_factory=list, description="bypasses of the loops"
    )
    system: WaterSystemTable = Field(default_factory=WaterSystemTable, description="the closed system of the loops")
    first_fix: FirstFixTable = Field(default_factory=FirstFixTable, description="finishes and openings at first fix")
    document: DocumentTable = Field(default_factory=DocumentTable, description="what title blocks state")
    quotation: QuotationTable = Field(default_factory=QuotationTable, description="terms of the quotation")
