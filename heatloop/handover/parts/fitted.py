"""Quantities and price of the parts that are fitted, without cutting plan, rounding to packs, spares and waste.

They are the sum of the quantities of all loops, so that the difference between two surveys does not depend on what
happens to fill a bar or a bag. What is ordered is the parts list.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from heatloop.handover.parts.model import ItemKind, PartsOptions
from heatloop.handover.parts.quantities import Fitted, direct_quantities, occurrences, rule_counts
from heatloop.handover.price_file import PriceList
from heatloop.handover.second_fix.thermal_movement import hottest_c, plan_movement
from heatloop.layout.model import Layout
from heatloop.layout.piece_ends import joint_positions, placed_pieces
from heatloop.layout.pipework import pipe_lays
from heatloop.survey.catalogue import Catalogue, PartUnit
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True)
class FittedItem:
    """An item of the parts list with the quantity that is fitted, in its unit."""

    item: str
    kind: ItemKind
    unit: PartUnit
    quantity: float


def fitted_items(survey: SurveyData, layout: Layout, water_l: float) -> tuple[FittedItem, ...]:
    """Everything that is fitted; `water_l` is the water of the whole system. Profiles by bar and finish."""
    options = PartsOptions()
    pieces = placed_pieces(survey, layout)
    coolest_c = min((hottest_c(survey, loop) for loop in survey.loops), default=options.installation_temp_c)
    movement = plan_movement(survey, pieces, min(options.installation_temp_c, coolest_c), options.min_gap_mm)
    features = occurrences(
        survey, layout, Fitted(pieces, joint_positions(survey, layout), movement), water_l, options.estimate_piece_m
    )
    lays = pipe_lays(survey, layout, options.pipe_allowance_m)
    items = [
        FittedItem(count.item, count.kind, count.unit, count.quantity)
        for count in (*direct_quantities(survey, features, lays), *rule_counts(survey.catalogue, features))
        if count.quantity
    ]
    stocks = dict.fromkeys(placed.stock for placed in pieces)
    profiles = [
        FittedItem(
            stock,
            "profile",
            "m",
            math.fsum(p.piece.tape_m if p.estimate else p.piece.cut_m for p in pieces if p.stock == stock),
        )
        for stock in stocks
    ]
    return (*profiles, *items)


def unit_price(catalogue: Catalogue, prices: PriceList, item: FittedItem) -> float | None:
    """Net price of one unit of an item; None without a price.

    Where only packs are priced, the lowest price of a unit among its packs.
    """
    sizes = [pack for pack in catalogue.packs if pack.item == item.item]
    line = prices.price(item.item)
    if line is not None and line.net_price is not None and line.per != "pack":
        return line.net_price
    by_pack = [(prices.price(f"{size.item}, {size.name}"), size) for size in sizes]
    if len(sizes) == 1:
        by_pack.append((line, sizes[0]))
    units = [
        price.net_price / size.holds for price, size in by_pack if price is not None and price.net_price is not None
    ]
    return min(units, default=None)


def fitted_price(catalogue: Catalogue, prices: PriceList, items: Iterable[FittedItem]) -> tuple[float, tuple[str, ...]]:
    """Price of all items that have one, and the names of those that have none."""
    held: Sequence[FittedItem] = tuple(items)
    costs = {item: unit_price(catalogue, prices, item) for item in held}
    total = math.fsum(cost * item.quantity for item, cost in costs.items() if cost is not None)
    return total, tuple(dict.fromkeys(item.item for item, cost in costs.items() if cost is None))
