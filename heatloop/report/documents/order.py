"""The order and cut list: parts by supplier group, drawn bars with the pieces cut from each, offcuts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from heatloop.handover.cutting.model import Bar, CutPlan
from heatloop.handover.parts.model import Part
from heatloop.handover.parts.not_ordered import not_ordered
from heatloop.handover.parts.packaging import PackCount
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.parts.supplier_groups import GROUPS, supplier_group
from heatloop.handover.parts.tables import PARTS
from heatloop.handover.quotation import PER_UNIT, QUOTATION, Quotation, QuotationLine
from heatloop.handover.second_fix.fixing_steps import fixing_steps
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_page
from heatloop.text.formatting import cell_text, is_missing, number
from heatloop.text.quoting import single_line

ORDER, PRICED_ORDER = DocumentPaper("OL", landscape=True), DocumentPaper("OP", landscape=True)

BAR_MM = 272.0
"""Width of the longest bar as it is drawn."""
LETTER_MM = 2.1
"""Width of a letter in a bar, about."""
FEW = 12
"""A list of so few pieces is one table; a longer one is set in two columns."""


@dataclass(frozen=True)
class BarPart:
    """A stretch of a drawn bar: width in mm on paper, its kind, and the words that fit into it."""

    width_mm: float
    kind: str
    words: str


@dataclass(frozen=True)
class DrawnBar:
    """A bar as it is drawn, with its saw list."""

    number: int
    head: str
    saws: tuple[str, ...]
    remainder: str
    parts: tuple[BarPart, ...]


@dataclass(frozen=True)
class OrderLine:
    """One line of the order in words; price and cost are "" in the copy without prices."""

    item: str
    needed: str
    allowance: str
    order: str
    unit: str
    packs: str
    note: str
    price: str = ""
    cost: str = ""


def order_and_cut_list(parts: PartsListResult, control: DocumentControl, quotation: Quotation | None = None) -> str:
    """The document; with a quotation, the internal copy with prices."""
    plan = parts.cut_plan
    groups = _priced(quotation) if quotation is not None else _counted(parts)
    steps = fixing_steps(parts)
    names = {step.label: step.name for step in steps}
    bars = () if plan is None else _bars(plan, names)
    return document_page(
        ORDER if quotation is None else PRICED_ORDER,
        control,
        None,
        DocumentContent(
            "order.html",
            {
                "verdict": control.headline,
                "state": control.state,
                "groups": groups,
                "priced": quotation is not None,
                "currency": "" if quotation is None else quotation.currency,
                "total": "" if quotation is None else number(float(quotation.facts["order_cost"]), 2),
                "missing": () if quotation is None else quotation.missing,
                "not_ordered": not_ordered(parts.survey, parts.part_lines),
                "bars": bars,
                "bar_of": {} if plan is None else _bar_of(plan),
                "offcuts": list(_offcuts(bars)),
                "stock_m": 0.0 if plan is None else plan.new_stock_mm / 1000.0,
                "waste_m": 0.0 if plan is None else plan.waste_mm / 1000.0,
                "pieces_m": 0.0 if plan is None else plan.pieces_mm / 1000.0,
                "trims_m": 0.0 if plan is None else plan.trims_mm / 1000.0,
                "offcuts_m": 0.0 if plan is None else plan.offcuts_mm / 1000.0,
                "min_offcut_mm": parts.options.cutting.min_offcut_mm,
                "kerf_m": 0.0 if plan is None else plan.kerf_mm / 1000.0,
                "new_bars": 0 if plan is None else plan.new_bars,
                "pieces": steps,
                "few": FEW,
                "estimate": bool(parts.facts["is_estimate"]),
            },
        ),
    )


def _counted(parts: PartsListResult) -> list[tuple[str, list[OrderLine]]]:
    """The parts by group, without prices."""
    groups: dict[str, list[OrderLine]] = {group: [] for group in GROUPS}
    for part, row in zip(parts.part_lines, parts.frames["parts"].to_dict("records"), strict=True):
        words = {name: cell_text(PARTS.column(name), row[name]) for name in ("net_quantity", "allowance")}
        packs = row["pack"] if is_missing(row["pack_count"]) else f"{row['pack_count']} × {row['pack']}"
        if len(part.packs) > 1:
            packs = row["pack"].replace(" x ", " × ")
        note = single_line(str(row["note"])) if part.kind in ("profile", "pipe") or part.estimate else ""
        order = cell_text(PARTS.column("order_quantity"), row["order_quantity"])
        groups[supplier_group(part)].append(
            OrderLine(_item(part, part.packs), words["net_quantity"], words["allowance"], order, part.unit, packs, note)
        )
    return [(group, lines) for group, lines in groups.items() if lines]


def _item(part: Part, packs: Sequence[PackCount]) -> str:
    """The name of a part; profile has a line for each length of bar, which is named."""
    return f"{part.item}, bars of {packs[0].holds:g} m" if part.kind == "profile" and len(packs) == 1 else part.item


def _priced(quotation: Quotation) -> list[tuple[str, list[OrderLine]]]:
    """The lines of a quotation by group."""
    groups: dict[str, list[OrderLine]] = {group: [] for group in GROUPS}
    for line, row in zip(quotation.lines, quotation.frames["quotation"].to_dict("records"), strict=True):
        groups[supplier_group(line.part)].append(_priced_line(line, row))
    return [(group, lines) for group, lines in groups.items() if lines]


def _priced_line(line: QuotationLine, row: dict[object, object]) -> OrderLine:
    """A line with quantities in the unit of its part, as in the copy without prices, and the price of a unit or a pack.

    Where packs of several sizes have a line each, the first of them has the quantity needed of all.
    """
    words = {name: cell_text(QUOTATION.column(name), row[name]) for name in ("price", "discount_percent", "order_cost")}
    discount = "" if words["discount_percent"] in ("–", "0.0") else f", less {words['discount_percent']} %"
    part = line.part
    per = "" if line.price is None else f" per {PER_UNIT.get(line.price.per, line.price.per)}"
    packs = [pack for pack in part.packs if pack.name == line.pack] or list(part.packs)
    needed = part.net_quantity if packs == list(part.packs) or packs[0] == part.packs[0] else None
    order = sum(pack.holds * pack.count for pack in packs) if packs else part.order_quantity
    return OrderLine(
        _item(part, packs),
        "" if needed is None else cell_text(PARTS.column("net_quantity"), needed),
        "",
        cell_text(PARTS.column("order_quantity"), order),
        part.unit,
        ", ".join(f"{pack.count} × {pack.name}" for pack in packs),
        line.note or (single_line(part.note) if part.kind in ("profile", "pipe") else ""),
        f"{words['price']}{per}{discount}",
        words["order_cost"],
    )


def _bar_of(plan: CutPlan) -> dict[str, int]:
    """The number of the bar from which each piece is cut, by label."""
    return {cut.label: place for place, bar in enumerate(plan.bars, start=1) for cut in bar.cuts}


def _bars(plan: CutPlan, names: Mapping[str, str]) -> tuple[DrawnBar, ...]:
    longest = max((bar.length_mm for bar in plan.bars), default=1.0)
    return tuple(_drawn(place, bar, BAR_MM / longest, names) for place, bar in enumerate(plan.bars, start=1))


def _offcuts(bars: Sequence[DrawnBar]) -> Iterator[str]:
    """What is kept of the bars; bars in a row with the same offcut together."""
    kept = (bar for bar in bars if bar.remainder.startswith("keep"))
    for (_, head, remainder), group in groupby(
        enumerate(kept), lambda one: (one[1].number - one[0], one[1].head, one[1].remainder)
    ):
        numbers = [bar.number for _, bar in group]
        which = f"Bar {numbers[0]}" if len(numbers) == 1 else f"Bars {numbers[0]} to {numbers[-1]}"
        yield f"{which} ({head}): {remainder} mm"


def _drawn(place: int, bar: Bar, scale: float, names: Mapping[str, str]) -> DrawnBar:
    parts = []
    for cut_number, cut in enumerate(bar.cuts, start=1):
        width = cut.length_mm * scale
        full = f"{names[cut.label]}  {number(cut.length_mm)}"
        words = full if LETTER_MM * len(full) < width - 2.0 else f"({cut_number})"
        parts.append(BarPart(width, "piece", words if LETTER_MM * len(words) < width else ""))
    rest_mm = bar.remainder_mm
    word = "keep" if bar.usable else "waste"
    if rest_mm > 0.0:
        words = f"{word} {number(rest_mm)}"
        width = rest_mm * scale
        parts.append(BarPart(width, word, words if LETTER_MM * len(words) < width - 2.0 else ""))
    saws = tuple(f"{names[cut.label]}: {number(cut.length_mm)}" for cut in bar.cuts)
    head = f"{bar.grain}, {number(bar.length_mm)} mm, {bar.source}"
    return DrawnBar(place, head, saws, f"{word} {number(rest_mm)}" if rest_mm > 0.0 else "", tuple(parts))
