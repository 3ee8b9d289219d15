"""Parts of an order, and the options of their count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

from heatloop.handover.cutting.model import CuttingOptions, Offcut
from heatloop.handover.parts.packaging import PackCount
from heatloop.layout.pipework import PIPE_ALLOWANCE_M
from heatloop.survey.catalogue import PartUnit

ItemKind = Literal[
    "profile", "emitter", "joint", "end", "fitting", "fixing", "valve", "pipe", "insulation", "consumable"
]

KINDS: tuple[ItemKind, ...] = get_args(ItemKind)
"""In the order of the parts list."""


@dataclass(frozen=True)
class PartsOptions:
    """How parts are counted and pieces cut, for `Design.parts`.

    Attributes
    ----------
    installation_temp_c : float, default 10.0
        Temperature of the profile on the day of fitting in °C; a low value is on the safe side.
    min_gap_mm : float, default 1.0
        Remaining expansion gap at the maximum temperature, in mm.
    cutting : CuttingOptions
        How bars are cut; its time limit is 15 s by default.
    offcuts : tuple of Offcut, default ()
        Offcuts on hand, which are used first.
    estimate_piece_m : float, default 3.0
        Length of the pieces in m that are assumed for a room without a survey (common practice).
    assumed_waste_percent : float, default 10.0
        Waste on the profile of such a room in per cent (common practice).
    pipe_allowance_m : float, default 0.15
        Extra length of pipe in m at each end that meets skirting, where the catalogue states none.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.PartsOptions(installation_temp_c=5.0).min_gap_mm
    1.0
    """

    installation_temp_c: float = 10.0
    min_gap_mm: float = 1.0
    cutting: CuttingOptions = field(default_factory=lambda: CuttingOptions(time_limit_s=15.0))
    offcuts: tuple[Offcut, ...] = ()
    estimate_piece_m: float = 3.0
    assumed_waste_percent: float = 10.0
    pipe_allowance_m: float = PIPE_ALLOWANCE_M


@dataclass(frozen=True)
class Part:
    """One line of the parts list: required quantity, allowance, order quantity, and packs.

    `order_quantity` is the smallest quantity that can be bought for quantity and allowance together; it equals the
    packs where there are any. `estimated`: the part of the quantity from rooms that have not been surveyed.
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
        """Its packs in words; only the name where there is one kind."""
        if len(self.packs) == 1:
            return self.packs[0].name
        return ", ".join(f"{pack.count} x {pack.name}" for pack in self.packs)
