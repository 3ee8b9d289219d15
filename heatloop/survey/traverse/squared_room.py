"""The plan of a room from its walls and, where measured, its diagonals."""

from __future__ import annotations

from heatloop.survey.building import Room
from heatloop.survey.room_geometry import RoomGeometry, room_geometry
from heatloop.survey.traverse.adjustment import Traverse, adjust_by_tape


def traverse_of(room: Room) -> Traverse:
    """The measurements of a room."""
    return Traverse(
        tuple(wall.length_m for wall in room.walls),
        tuple(wall.turn_deg for wall in room.walls),
        tuple((diagonal.from_corner, diagonal.to_corner, diagonal.length_m) for diagonal in room.diagonals),
    )


def turns_by_diagonals_deg(room: Room) -> tuple[float, ...]:
    """Turn at the end of every wall: as stated or, in a room with diagonals, from walls and diagonals."""
    traverse = traverse_of(room)
    return adjust_by_tape(traverse).turns_deg if traverse.diagonals else traverse.turns_deg


def geometry_of_room(room: Room) -> RoomGeometry:
    """The plan of a room, with its corners from diagonals where there are any.

    Raises ValueError for fewer than three walls.
    """
    lengths = [wall.length_m for wall in room.walls]
    return room_geometry(lengths, turns_by_diagonals_deg(room), room.first_wall_bearing_deg)
