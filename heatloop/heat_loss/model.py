"""Heat loss of a room and its parts as frozen values, in watts at the design outdoor temperature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.findings.assumption import Assumption

PartKind = Literal["walls", "windows", "doors", "floor", "ceiling", "air", "reheat", "bridges"]


@dataclass(frozen=True)
class LossPart:
    """One part of a room's loss; below zero where a warmer adjacent side gives heat.

    `factor` is the temperature factor of EN 12831-1, (indoor - beyond) / (indoor - outdoor), with any
    ground or recovery factor in it: heat_w = area_m2 * u_w_m2k * factor * (indoor - outdoor). Air and
    reheat have no U-value; their `label` gives the flow or the rate.
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
    """The design heat loss of one room and how it comes about.

    `loss_source` is who stated the loss (then there are no parts), None where it is computed.
    `assumptions` lists every default that was used, `cautions` what is legal but unlikely.
    """

    room: str
    indoor_c: float
    total_w: float
    loss_source: str | None
    parts: tuple[LossPart, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()
