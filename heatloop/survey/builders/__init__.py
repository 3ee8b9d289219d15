"""Parts of a survey in Python, as in the tables of a survey file: `hl.build`.

Every function returns a frozen value. These values are checked only by :func:`survey`, by `Survey.with_room` and the
other methods of a survey, and by :func:`heatloop.size`.

>>> import heatloop as hl
>>> hl.build.room("Den", 20.0, [hl.build.wall(4.0), hl.build.wall(3.0)]).walls[1].length_m
3.0
"""

from heatloop.survey.builders.fabric import build_up, building, layer, space, surface
from heatloop.survey.builders.loops import crossing, emitter, loop, pipe, pump, route, source, tails, trunk, valves
from heatloop.survey.builders.rooms import (
    covered,
    diagonal,
    door,
    glazed_door,
    obstacle,
    rectangle,
    room,
    wall,
    window,
)
from heatloop.survey.builders.whole import survey

__all__ = [
    "build_up", "building", "covered", "crossing", "diagonal", "door", "emitter", "glazed_door", "layer", "loop",
    "obstacle", "pipe", "pump", "rectangle", "room", "route", "source", "space", "surface", "survey", "tails", "trunk",
    "valves", "wall", "window",
]  # fmt: skip


def __dir__() -> list[str]:
    """The public names."""
    return __all__
