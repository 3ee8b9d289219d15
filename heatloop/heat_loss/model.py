"""Heat loss of a room and its parts as frozen values, in watts at the design outdoor temperature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.findings.assumption import Assumption

PartKind = Literal["walls", "windows", "doors", "floor", "ceiling", "air", "reheat", "bridges"]


@dataclass(frozen=True)
class LossPart:
    """One part of the heat loss of a room; negative where a warmer adjacent side gives heat.

    `factor` is the temperature factor of EN 12831-1, (indoor - beyond) / (indoor - outdoor), including any ground or
    recovery factor: heat_w = area_m2 * u_w_m2k * factor * (indoor - outdoor). Air and reheat have no U-value; their
    `label` gives the flow or the rate.
    """

    kind: PartKind
    label: str
    beyond: str
    area_m2: float | None
    u_w_m2k: float | None
    adjacent_temp_c: float | None
    factor: float
    heat_w: float


@dataclass(frozen=True)
class RoomLoss:
    """Design heat loss of one room and its parts.

    `loss_source`: the source of a stated loss (then there are no parts); None where the loss is calculated.
    `assumptions`: every default that was used. `cautions`: values that are allowed but improbable.
    """

    room: str
    indoor_c: float
    total_w: float
    loss_source: str | None
    parts: tuple[LossPart, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()
