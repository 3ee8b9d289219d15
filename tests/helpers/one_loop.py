"""One loop on one room, small enough for its parts to be counted by hand."""

from __future__ import annotations

from dataclasses import replace

from heatloop.handover.cutting.model import CuttingOptions
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsListResult, parts_list_from
from heatloop.layout.build import build_layout
from heatloop.survey.building import Building, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, End, Joint, Pipe, Valve
from heatloop.survey.loops import CrossingRule, Loop, RouteItem, RouteWalls, Tails, Valves
from heatloop.survey.profiles import Channel, FloorSectionRating, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source, Trunk

QUICK = PartsOptions(cutting=CuttingOptions(time_limit_s=0.5))

PROFILE = Profile(
    "two-channel", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (3.0, 4.0),
    floor_section=FloorSectionRating(60.0, 1.1),
)  # fmt: skip
JOINTS = (
    Joint("angle", "angle", (-135.0, 135.0), 60.0, free_end="one"),
    Joint("inside corner", "inside corner", (80.0, 100.0), 45.0, free_end="one", machining="square cut"),
    Joint("outside corner", "outside corner", (-100.0, -80.0), 55.0),
    Joint("straight", "straight", (0.0, 0.0), 5.0, heated=True),
    Joint("crossing", "crossing", (0.0, 0.0), 50.0, free_end="both"),
    Joint("floor section", "floor section", (0.0, 0.0), 65.0, free_end="one", machining="lip cut back"),
)
ENDS = (End("valve end", "valve end", 140.0), End("turn end", "turn end", 60.0, vent=True, drain=True))
PIPES = (
    Pipe("copper 15", 13.6, 15.0, allowance_m=0.2, waste_percent=10.0),
    Pipe("copper 22", 20.2, 22.0, insulation_mm=19.0),
)
VALVES = (Valve("lockshield 15", (0.1, 0.5)), Valve("thermostatic 15", (0.1, 0.5)))
CATALOGUE = Catalogue((PROFILE,), JOINTS, ENDS, PIPES, VALVES)
DOOR = Opening("door", 1.5, 0.8, 2.0, name="hall door")


def survey_of(
    *items: RouteItem,
    catalogue: Catalogue = CATALOGUE,
    walls: tuple[Wall, ...] = (),
    rooms: tuple[Room, ...] = (),
    **changes: object,
) -> SurveyData:
    """One loop on a rectangle of 3.0 by 3.5 m with a door in its first wall, on a trunk of 4 m."""
    walls = walls or (Wall(3.0, openings=(DOOR,)), Wall(3.5), Wall(3.0), Wall(3.5))
    loop = Loop(
        "Loop", "two-channel", "there-and-back", (items or (RouteWalls("Room", (1, 2)),),),
        Tails("copper 15", 2.0, 2.5), "main", Valves("thermostatic 15", "lockshield 15"),
        crossing=CrossingRule("copper 15", 0.2),
    )  # fmt: skip
    room = Room("Room", 20.0, walls=walls)
    trunk = Trunk("main", "copper 22", 4.0)
    plain = SurveyData(
        Project("Test", -3.0, 50.0, ""), Building(), (), (), (room, *rooms), Source(), (trunk,), (loop,), catalogue
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def handed(survey: SurveyData, options: PartsOptions = QUICK, water_l: float = 30.0) -> PartsListResult:
    return parts_list_from(survey, build_layout(survey), water_l, options)
