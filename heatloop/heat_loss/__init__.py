"""Room heat loss by EN 12831-1 from a survey: `room_losses` and the values it returns."""

from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.rooms import room_losses

__all__ = ["LossPart", "RoomLoss", "room_losses"]
