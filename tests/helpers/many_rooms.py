"""A house of many rooms on two levels, in two rows along a party wall: a loop in every room, past its doors."""

from heatloop.survey.building import Building, FloorOrCeiling, Opening, Room, Wall
from heatloop.survey.loops import CrossingRule, Loop, RouteWalls, Tails
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source
from tests.helpers.random_systems import catalogue

WIDTHS_M = (4.0, 3.6, 5.0, 3.8, 4.2)
NAMES = (
    "Kitchen", "Dining room", "Living room", "Library", "Garden room", "Utility room", "Entrance hall", "Cloakroom",
    "Study", "Boot room", "Bedroom 1", "Bedroom 2", "Bedroom 3", "Bedroom 4", "Guest room", "Bathroom", "Landing",
    "Shower room", "Dressing room", "Linen room",
)  # fmt: skip
DOOR_M = 0.84


def house_of_twenty_rooms() -> SurveyData:
    """Ten rooms a level, five wide and two deep; a door between the rows in every pair, doors along each row."""
    rooms, loops = [], []
    for index, name in enumerate(NAMES):
        level, row, column = index // 10, index % 10 // 5, index % 5
        rooms.append(_room(name, level, row, column))
        walls = RouteWalls(name, (4, 1) if row == 0 else (2, 3), direction="clockwise")
        loops.append(
            Loop(f"Loop {index + 1}", "two-channel 140", "there-and-back", ((walls,),),
                 Tails("copper 15", 3.0, 3.0), crossing=CrossingRule("copper 15", 0.15))
        )  # fmt: skip
    project = Project("Twenty Rooms", -3.0, 50.0, "")
    return SurveyData(project, Building(), (), (), tuple(rooms), Source(), (), tuple(loops), catalogue())


def _room(name: str, level: int, row: int, column: int) -> Room:
    """Walls clockwise from the south-west corner: west, north, east, south."""
    wide, deep = WIDTHS_M[column], 4.4 if row == 0 else 3.8
    between = f"door {level} {column}"
    middle = (wide - DOOR_M) / 2.0
    sides = {
        "west": f"door {level} {row} {column - 1}" if column else None,
        "east": f"door {level} {row} {column}" if column < len(WIDTHS_M) - 1 else None,
    }
    walls = (
        Wall(deep, openings=_door(sides["west"], 0.3)),
        Wall(wide, openings=_door(between, middle) if row == 0 else ()),
        Wall(deep, openings=_door(sides["east"], deep - 0.3 - DOOR_M)),
        Wall(wide, openings=_door(between, middle) if row == 1 else ()),
    )
    floor = FloorOrCeiling("neighbour", neighbour_c=18.0)
    return Room(name, 20.0, level_m=2.7 * level, walls=walls, floor=floor, heat_loss_w=500.0)


def _door(name: str | None, start_m: float) -> tuple[Opening, ...]:
    return () if name is None else (Opening("door", start_m, DOOR_M, 2.04, name=name),)
