"""The glazed openings of a survey that are cold on their far side: U in place and the temperature beyond."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.heat_loss.elements import Unusable, far_side, is_door, opening_element
from heatloop.heat_loss.u_values import u_value
from heatloop.survey.model import Opening, Survey

COLD = ("outdoors", "unheated")


@dataclass(frozen=True)
class Glazing:
    """One opening: its room, the number of its wall, its label in the heat loss, U as in the heat loss, and the
    temperature beyond."""

    room: str
    wall: int
    label: str
    opening: Opening
    u_w_m2k: float
    beyond_c: float


def glazings(survey: Survey) -> tuple[Glazing, ...]:
    """Windows and glazed doors towards outdoors or an unheated space that is colder, in survey order.

    Those of a room with a stated loss are left out where nothing is said of what they are built of.
    """
    found = []
    for room in survey.rooms:
        for number, wall in enumerate(room.walls, start=1):
            for count, opening in enumerate(wall.openings, start=1):
                if is_door(opening.kind):
                    continue
                element = opening_element(room, number, wall, count, opening)
                far = far_side(survey, room, element)
                if isinstance(far, Unusable) or far.side not in COLD or far.temp_c >= room.indoor_c:
                    continue
                u = u_value(survey, element, far, room.indoor_c)
                if not isinstance(u, Unusable):
                    found.append(Glazing(room.name, number, element.label, opening, u.u_w_m2k, far.temp_c))
    return tuple(found)
