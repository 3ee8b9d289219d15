"""Parts of a survey in Python, as the tables of its file have them: `hl.build`.

Every function returns the frozen value that a survey holds and checks nothing: `Survey.with_room` and the other methods
of a survey, and :func:`heatloop.size`, report what is wrong.
"""

from heatloop.survey.builders.loops import crossing, emitter, loop, pipe, pump, route, source, tails, trunk, valves
from heatloop.survey.builders.rooms import (
    build_up,
    covered,
    door,
    glazed_door,
    layer,
    obstacle,
    rectangle,
    room,
    surface,
    wall,
    window,
)

__all__ = [
    "build_up", "covered", "crossing", "door", "emitter", "glazed_door", "layer", "loop", "obstacle", "pipe", "pump",
    "rectangle", "room", "route", "source", "surface", "tails", "trunk", "valves", "wall", "window",
]  # fmt: skip
