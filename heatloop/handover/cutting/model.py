"""Pieces, stock, options and plan of cutting."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

GOALS = {"least stock": "mm of new stock", "fewest bars": "new bars", "least cost": "(cost) of new stock"}
"""Values of `CuttingOptions.prefer`, with the unit of `CutPlan.goal` and `CutPlan.lower_bound`."""

CutProgress = Callable[[str, float, float], None]
"""Called with what is done, the goal of the best plan so far and its lower bound (one grain at a time)."""


@dataclass(frozen=True)
class CutPiece:
    """One piece to cut, net length in mm. Labels may repeat: each entry is cut once.

    Pieces of one grain (profile, finish) are cut only from stock and offcuts of that grain.
    """

    label: str
    length_mm: float
    grain: str = ""


@dataclass(frozen=True)
class Stock:
    """A length in mm that can be bought in any number, and the cost of one bar (any currency)."""

    length_mm: float
    grain: str = ""
    cost: float | None = None


@dataclass(frozen=True)
class Offcut:
    """A bar on hand, squared at both ends.

    Attributes
    ----------
    label : str
        Its unique label, which the cutting plan states.
    length_mm : float
        Its length in mm.
    grain : str, default ""
        Profile and finish; only pieces with the same grain are cut from it.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.Offcut("rack 3", 2460.0, "two-channel 140").length_mm
    2460.0
    """

    label: str
    length_mm: float
    grain: str = ""


@dataclass(frozen=True)
class CuttingOptions:
    """How bars of profile are cut, and when the search for the best plan ends.

    The search ends when no better plan can exist, when the plan is within `relative_gap` of the proved lower bound,
    after a fixed number of steps, or at the time limit; `CutPlan.message` states which. The defaults of kerf and
    offcut are common practice for an aluminium saw.

    Attributes
    ----------
    kerf_mm : float, default 3.0
        Width of a saw cut in mm.
    min_offcut_mm : float, default 500.0
        Shortest remainder in mm that is kept as an offcut.
    end_trim_mm : float, default 0.0
        Length cut off each end of a bar to square it, in mm.
    prefer : {"least stock", "fewest bars", "least cost"}, default "least stock"
        Quantity that the plan minimises.
    use_offcuts : bool, default True
        Whether offcuts on hand are used.
    time_limit_s : float, default 30.0
        Maximum time of the search in s.
    relative_gap : float, default 0.0
        Relative distance to the lower bound at which a plan is good enough.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.CuttingOptions(prefer="fewest bars").kerf_mm
    3.0
    """

    kerf_mm: float = 3.0
    min_offcut_mm: float = 500.0
    end_trim_mm: float = 0.0
    prefer: str = "least stock"
    use_offcuts: bool = True
    time_limit_s: float = 30.0
    relative_gap: float = 0.0


@dataclass(frozen=True)
class Cut:
    """One piece on a bar: its left end, measured from the left end of the bar, and its length, in mm."""

    label: str
    start_mm: float
    length_mm: float


@dataclass(frozen=True)
class Bar:
    """One bar to cut, in mm; `offcut_label` is empty for new stock. `usable`: the remainder is kept."""

    length_mm: float
    grain: str
    offcut_label: str
    cuts: tuple[Cut, ...]
    kerf_mm: float
    trim_mm: float
    remainder_mm: float
    usable: bool

    @property
    def source(self) -> str:
        """Origin of the bar, in words."""
        return f"offcut {self.offcut_label}" if self.offcut_label else "new"


@dataclass(frozen=True)
class CutPlan:
    """All bars to cut, and the use of their length in mm.

    pieces_mm + kerf_mm + trims_mm + offcuts_mm (kept) + waste_mm (too short) = stock_mm, for new bars and used offcuts
    together. `goal` and `lower_bound` are in the unit of `prefer` (see `GOALS`); no plan has a goal below the bound.
    `gap` = (goal - lower_bound) / goal. `proved`: no better plan exists. `lower_bound_mm` is the bound of new stock:
    for "least stock" it is `lower_bound`, otherwise the length of the pieces less that of the offcuts. `seconds` is
    ignored when plans are compared.
    """

    bars: tuple[Bar, ...]
    prefer: str
    stock_mm: float
    pieces_mm: float
    kerf_mm: float
    trims_mm: float
    offcuts_mm: float
    waste_mm: float
    new_stock_mm: float
    new_bars: int
    cost: float | None
    goal: float
    lower_bound: float
    lower_bound_mm: float
    gap: float
    proved: bool
    seconds: float = field(compare=False)
    message: str
