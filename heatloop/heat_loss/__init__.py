"""Heat loss by EN 12831 from a survey: the rooms, the building, and the values they come in."""

from heatloop.heat_loss.building import BuildingLoad, building_load
from heatloop.heat_loss.glazing import Glazing, glazings
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.rooms import room_losses, wall_u_w_m2k

__all__ = [
    "BuildingLoad",
    "Glazing",
    "LossPart",
    "RoomLoss",
    "building_load",
    "glazings",
    "room_losses",
    "wall_u_w_m2k",
]
