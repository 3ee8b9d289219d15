"""A quotation: the parts list priced, with and without waste, and the minutes to fit it.

Without waste: the parts in the design. With waste: the quantities to be ordered (with offcuts, spares, packs). Labour
is for the fitted parts only. An item without a price is listed as missing and is in no total: a quotation with missing
prices is not complete.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, check_given
from heatloop.handover.parts.model import Part
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.price_file import Price, PriceList, read_prices
from heatloop.text.column import (
    Column,
    TableDescription,
    count_column,
    figure_column,
    flag_column,
    number_column,
    text_column,
)
from heatloop.text.formatting import number, plural
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet, table_frame

PER_UNIT = {"piece": "piece", "metre": "m", "litre": "l"}

QUOTATION = TableDescription(
    "quotation",
    "Quotation",
    "The parts list with prices: for the required quantity, and for the quantity ordered.",
    (
        text_column("item", "Item"),
        text_column("kind", "Kind"),
        text_column("pack", "Pack"),
        figure_column("net_quantity", "Needed", "in the unit of the price"),
        figure_column("order_quantity", "Ordered", "in the unit of the price"),
        text_column("unit", "Unit"),
        text_column("per", "Price per"),
        number_column("price", "Price", "", 2, "a dash if the price file has no price"),
        number_column("discount_percent", "Discount", "%", 1),
        number_column("net_cost", "Cost, needed", "", 2),
        number_column("order_cost", "Cost, ordered", "", 2),
        text_column("currency", "Currency"),
        number_column("labour_min", "Labour", "min", 0),
        flag_column("is_estimate", "Estimate", "includes rooms that have not been surveyed"),
        text_column("note", "Note"),
    ),
)


QUOTED = {
    "item": "Item",
    "pack": "Pack",
    "order_quantity": "Ordered",
    "unit": "Unit",
    "price": "Price",
    "order_cost": "Cost",
    "labour_min": "Labour",
    "note": "Note",
}
"""Columns of the quotation that a summary shows, with the headings it has room for."""

COST_NOTE = (
    "Price: of one unit, before discount. Cost: of the quantity ordered, after discount. Labour: minutes for the "
    "quantity fitted."
)

QUOTATION_SUMMARY: tuple[Column, ...] = (
    text_column("currency", "Currency"),
    number_column("net_cost", "Cost, needed", "", 2),
    number_column("order_cost", "Cost, ordered", "", 2),
    number_column("labour_min", "Labour", "min", 0),
    flag_column("complete", "Complete", "every line has a price"),
    count_column("missing_prices", "Items without a price"),
    flag_column("is_estimate", "Estimate", "includes rooms that have not been surveyed"),
)


@dataclass(frozen=True)
class QuotationLine:
    """One line of a quotation. Costs and minutes are None where the price is missing.

    `quantity_net` and `quantity_order` are in the unit of the price.
    """

    part: Part
    pack: str
    price: Price | None
    quantity_net: float
    quantity_order: float
    note: str

    @property
    def cost_net(self) -> float | None:
        """Cost of what is fitted, to the cent."""
        return self._cost(self.quantity_net)

    @property
    def cost_order(self) -> float | None:
        """Cost of what is ordered, to the cent."""
        return self._cost(self.quantity_order)

    @property
    def labour_min(self) -> float | None:
        """Minutes to fit it."""
        return None if self.price is None else self.price.labour_min * self.quantity_net

    def _cost(self, quantity: float) -> float | None:
        unit = None if self.price is None else self.price.net_price
        return None if unit is None else round(unit * quantity, 2)


@dataclass(frozen=True, eq=False, repr=False)
class Quotation(TableSet):
    """A parts list with prices, from `PartsList.price`.

    Attributes
    ----------
    project, currency : str
        Name of the project, and the currency of the price file.
    lines : tuple of QuotationLine
        The priced parts.
    table : pandas.DataFrame
        The lines as a table; the page "Tables" of the documentation describes its columns.
    missing : tuple of str
        Items without a price, which are in no total.
    summary : dict
        Totals without waste and as ordered, and minutes of labour.

    Examples
    --------
    >>> import heatloop as hl
    >>> parts = hl.size("data/mill-annexe/survey.toml").parts()
    >>> parts.price("data/alder-lodge/prices.csv").currency
    'EUR'
    """

    project: str
    currency: str
    lines: tuple[QuotationLine, ...]
    missing: tuple[str, ...]
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = QUOTATION_SUMMARY
    table = Table(QUOTATION)

    def summary_block(self) -> Summary:
        """Lines and totals, without waste and as ordered, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> parts = hl.size("data/mill-annexe/survey.toml").parts()
        >>> parts.price("data/alder-lodge/prices.csv").summary_block().title
        'Mill Annexe, quotation'
        """
        facts, money = self.facts, self.currency
        sentences = [
            f"Order: {number(facts['order_cost'], 2)} {money}, of which {number(facts['net_cost'], 2)} {money} for "
            "fitted parts; the rest is waste, spares and remainders of bars and packs. "
            f"Labour: {number(facts['labour_min'] / 60.0, 1)} hours, not included in this price."
        ]
        if facts["is_estimate"]:
            sentences.append("Estimate: one or more rooms have not been surveyed.")
        if self.missing:
            items = plural(len(self.missing), "item has", "items have")
            sentences.append(f"Incomplete: {items} no price: {'; '.join(self.missing)}.")
        shown = grid(f"Items, prices in {money}", self.table.to_dict("records"), QUOTATION.headed(QUOTED), COST_NOTE)
        return Summary(f"{self.project}, quotation", tuple(sentences), (shown,))

    def __repr__(self) -> str:
        return f"<Quotation of {self.project!r}: {len(self.lines)} lines>"


def _lines_table(lines: Sequence[QuotationLine], currency: str) -> pd.DataFrame:
    """One row a line; no cost where the price is missing."""
    rows = [
        {
            "item": line.part.item,
            "kind": line.part.kind,
            "pack": line.pack,
            "net_quantity": line.quantity_net,
            "order_quantity": line.quantity_order,
            "unit": "pack" if line.price and line.price.per == "pack" else line.part.unit,
            "per": line.price.per if line.price else "",
            "price": _or_nan(line.price.price if line.price else None),
            "discount_percent": _or_nan(line.price.discount_percent if line.price else None),
            "net_cost": _or_nan(line.cost_net),
            "order_cost": _or_nan(line.cost_order),
            "currency": currency,
            "labour_min": _or_nan(line.labour_min),
            "is_estimate": line.part.estimate,
            "note": line.note,
        }
        for line in lines
    ]
    return table_frame(QUOTATION, rows)


def _totals(currency: str, lines: Sequence[QuotationLine], missing: Sequence[str]) -> dict[str, Any]:
    """Totals with and without waste, minutes, and whether they are complete or an estimate."""
    return {
        "currency": currency,
        "net_cost": round(math.fsum(line.cost_net or 0.0 for line in lines), 2),
        "order_cost": round(math.fsum(line.cost_order or 0.0 for line in lines), 2),
        "labour_min": math.fsum(line.labour_min or 0.0 for line in lines),
        "complete": not missing,
        "missing_prices": len(missing),
        "is_estimate": any(line.part.estimate for line in lines),
    }


def quotation_from(handover: PartsListResult, prices: PriceList | str | Path) -> Quotation:
    """The quotation for a parts list by the prices of a file.

    Raises InputError with all errors: an argument that is not a parts list or path, errors in the file, and prices in a
    unit in which the item is not counted.
    """
    check_given("price", handover=(handover, PartsListResult, "a PartsList, as Design.parts gives it"),
                prices=(prices, PriceList | str | Path, "the path of a price file"))  # fmt: skip
    if not isinstance(prices, PriceList):
        prices = read_prices(prices)
    lines: list[QuotationLine] = []
    faults: list[InputIssue] = []
    for part in handover.part_lines:
        for line in _lines(part, prices):
            lines.append(line)
            faults += _per_faults(line, prices)
    if faults:
        raise InputError(dict.fromkeys(faults))
    missing = tuple(dict.fromkeys(line.part.item for line in lines if line.cost_order is None))
    frames = {QUOTATION.name: _lines_table(lines, prices.currency)}
    facts = _totals(prices.currency, lines, missing)
    return Quotation(str(handover.facts["project"]), prices.currency, tuple(lines), missing, frames, facts)


def _lines(part: Part, prices: PriceList) -> Iterator[QuotationLine]:
    """A part as priced lines: by the item, or pack by pack where each of its packs has a price of its own."""
    own = [prices.price(f"{part.item}, {pack.name}") for pack in part.packs]
    if own and all(own):
        share = part.net_quantity / part.order_quantity
        for pack, price in zip(part.packs, own, strict=True):
            yield QuotationLine(
                part, pack.name, price, pack.count * share, float(pack.count), _note(part, price, prices)
            )
        return
    price = prices.price(part.item)
    net, order = part.net_quantity, part.order_quantity
    if price is not None and price.per == "pack" and len(part.packs) == 1:
        net, order = net / part.packs[0].holds, float(part.packs[0].count)
    yield QuotationLine(part, part.pack_words, price, net, order, _note(part, price, prices))


def _per_faults(line: QuotationLine, prices: PriceList) -> Iterator[InputIssue]:
    """Prices in a unit in which the item is neither counted nor sold."""
    part, price = line.part, line.price
    if price is None:
        return
    fits = PER_UNIT.get(price.per) == part.unit or (price.per == "pack" and len(part.packs) == 1)
    if price.item != part.item:
        fits = price.per == "pack"
    if fits:
        return
    counted = next(per for per, unit in PER_UNIT.items() if unit == part.unit)
    required = f'"{counted}", as the item is counted'
    if len(part.packs) > 1:
        required += ', or a line per pack for each of its packs: "' + f'{part.item}, {part.packs[0].name}" ...'
    elif part.packs and price.item == part.item:
        required += ', or "pack"'
    if price.item != part.item:
        required = '"pack", as the line names one'
    yield InputIssue(prices.file, f'"{price.item}", per', f'"{price.per}"', required)


def _note(part: Part, price: Price | None, prices: PriceList) -> str:
    notes = ["estimate"] if part.estimate else []
    if price is None:
        close = prices.nearest(part.item)
        notes.append("no price in the file" + (f'; the nearest is "{close}"' if close else ""))
    elif price.price is None:
        notes.append("its price is empty in the file")
    return "; ".join(notes)


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
