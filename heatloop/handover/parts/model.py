"""Parts of an order, and the options of their count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

from heatloop.handover.cutting.model import CutOptions, Offcut
from heatloop.handover.parts.packaging import PackCount
from heatloop.layout.pipework import LEFT_OVER_M
from heatloop.survey.catalogue import PartUnit

ItemKind = Literal[
    "profile", "emitter", "joint", "end", "fitting", "fixing", "valve", "pipe", "insulation", "consumable"
]

KINDS: tuple[ItemKind, ...] = get_args(ItemKind)
"""In the order of the parts list."""


@dataclass(frozen=True)
class PartsOptions:
    """What the fitter and the estimator decide.

    `left_over_m` is what a pipe is longer at each end that meets skirting where the catalogue does not say.
    `fitting_c` (degC) is the temperature of the profile on the fitting day, low being the cautious side;
    `clearance_mm` what is left of a gap when hottest. `offcuts` are on hand already. Rooms quoted before their
    survey are taken as pieces of `assumed_piece_m`, their profile with `assumed_waste_percent` on top (common
    practice).
    """

    fitting_c: float = 10.0
    clearance_mm: float = 1.0
    cutting: CutOptions = field(default_factory=lambda: CutOptions(time_limit_s=15.0))
    offcuts: tuple[Offcut, ...] = ()
    assumed_piece_m: float = 3.0
    assumed_waste_percent: float = 10.0
    left_over_m: float = LEFT_OVER_M


@dataclass(frozen=True)
class Part:
    """One line of the parts list: what is needed, what is allowed on top, what is ordered and in which packs.

    `order_quantity` is the least that can be bought for quantity and allowance together; it equals the packs
    where there are any. `estimated` is the part of the quantity that comes from rooms before their survey.
    """

    item: str
    kind: ItemKind
    unit: PartUnit
    net_quantity: float
    allowance: float
    order_quantity: float
    packs: tuple[PackCount, ...]
    loops: tuple[str, ...]
    estimated: float
    note: str

    @property
    def estimate(self) -> bool:
        return self.estimated > 0.0

    @property
    def pack_words(self) -> str:
        """Its packs in words: the name alone where there is one kind."""
        if len(self.packs) == 1:
            return self.packs[0].name
        return ", ".join(f"{pack.count} x {pack.name}" for pack in self.packs)
