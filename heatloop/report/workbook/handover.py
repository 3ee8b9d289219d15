"""Sheets of checks and handover: basis, checks, pieces, first fix, parts and price, columns and safety notices."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd
from openpyxl.workbook.defined_name import DefinedName

from heatloop.findings.safety import DEFERENCE, SAFETY_NOTICES
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.offer import Offer
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.parts.supplier_groups import supplier_group
from heatloop.handover.quotation import Quotation
from heatloop.handover.second_fix.fixing_steps import SHOWN_TEMPS_C, fixing_steps
from heatloop.report.columns.registry import table_description
from heatloop.report.workbook.sheets import HEAD, INPUT, TEXT, Book, Live, fill_head, finish, put
from heatloop.results.checks.signs import AT_MOST, limit_signs
from heatloop.results.design import DesignResult
from heatloop.survey.building import BuildUp, Layer
from heatloop.survey.documents.quotation import QuotationTerms
from heatloop.text.column import Column, count_column, number_column, text_column
from heatloop.text.formatting import percent

SIGN = text_column("sign", "Sign")


def basis_sheet(book: Book, design: DesignResult) -> None:
    """Temperatures as named cells, what the design assumes, and the build-ups of the survey."""
    about = "Temperatures of the design (blue: inputs of cell formulas), then its assumptions and the build-ups"
    sheet = book.sheet("Basis", about)
    fill_head(sheet, ("Quantity", "Value", "Unit"))
    facts = design.facts
    named = (("outdoor_c", "Outdoor temperature"), ("flow_temp_c", "Flow temperature"))
    for row, (name, words) in enumerate(named, start=4):
        put(sheet, row, 1, words, TEXT)
        put(sheet, row, 2, float(facts[name]), INPUT)
        put(sheet, row, 3, "°C", TEXT)
    book.book.defined_names["outdoor_c"] = DefinedName("outdoor_c", attr_text="Basis!$B$4")
    book.book.defined_names["flow_c"] = DefinedName("flow_c", attr_text="Basis!$B$5")
    columns = table_description("assumptions").columns
    fill_head(sheet, [column.heading for column in columns], 7)
    for row, assumption in enumerate(design.frames["assumptions"].to_dict("records"), start=8):
        for place, column in enumerate(columns, start=1):
            put(sheet, row, place, str(assumption[column.name]), TEXT)
    last = 7 + len(design.frames["assumptions"])
    fill_head(sheet, ("Build-up", "Layers from inside to outside, or U-value", "Source"), last + 2)
    for row, build_up in enumerate(design.survey.build_ups, start=last + 3):
        for place, words in enumerate((build_up.name, _construction(build_up), "survey"), start=1):
            put(sheet, row, place, words, TEXT)
    finish(sheet, len(design.frames["assumptions"]) + 4, len(columns))
    sheet.auto_filter.ref = None


def _construction(build_up: BuildUp) -> str:
    """Layers of a build-up in words, the parts of a window, or the U-value that is stated."""
    if build_up.u_w_m2k is not None:
        return f"U {build_up.u_w_m2k:g} W/(m² K), as stated"
    if build_up.window is not None:
        parts = build_up.window
        return (
            f"glass U {parts.glass_u_w_m2k:g} and frame U {parts.frame_u_w_m2k:g} W/(m² K), "
            f"frame {1000.0 * parts.frame_width_m:g} mm wide, spacer {parts.spacer_psi_w_mk:g} W/(m K)"
        )
    extra = f"; correction {build_up.correction_w_m2k:g} W/(m² K)" if build_up.correction_w_m2k else ""
    return "; ".join(map(_layer, build_up.layers)) + extra


def _layer(layer: Layer) -> str:
    """Material, thickness, and conductivity or resistance of a layer, with what bridges it."""
    words = f"{layer.material} {1000.0 * layer.thickness_m:g} mm"
    if layer.cavity is not None:
        words += f", {layer.cavity} air layer"
    elif layer.resistance_m2k_w is not None:
        words += f", {layer.resistance_m2k_w:g} m² K/W"
    elif layer.conductivity_w_mk is not None:
        words += f", {layer.conductivity_w_mk:g} W/(m K)"
    if layer.bridge_conductivity_w_mk is not None:
        words += f", {percent(layer.bridge_fraction)} % of its area {layer.bridge_conductivity_w_mk:g} W/(m K)"
    return words


def all_checks(design: DesignResult, pack: pd.DataFrame | None) -> list[dict[Any, Any]]:
    """Every limit that is checked, those of the closed system last, each with its sign."""
    frames = [design.frames["checks"], *([] if pack is None else [pack])]
    rows = [row for frame in frames for row in frame.to_dict("records")]
    return [{**row, "sign": sign} for row, sign in zip(rows, limit_signs(rows), strict=True)]


def checks_sheet(book: Book, rows: list[dict[Any, Any]]) -> int:
    """Every limit with its sign; whether it is met is live. Returns the number of the last row."""
    described = table_description("checks")
    names = ("check", "location", "calculated", "sign", "limit", "unit", "verdict", "source", "recommendation")
    columns = [SIGN if name == "sign" else described.column(name) for name in names]

    def met(at: Mapping[str, str], n: int, row: Mapping[Any, Any]) -> str | None:
        if not row["sign"]:
            return None
        gap = f"ROUND({at['calculated']}{n}-{at['limit']}{n},7)"
        return f'=IF({at["sign"]}{n}="≤",IF({gap}<=0,"met","not met"),IF({gap}>=0,"met","not met"))'

    def result(row: Mapping[Any, Any]) -> str:
        gap = round(row["calculated"] - row["limit"], 7)
        return "met" if (gap <= 0 if row["sign"] == AT_MOST else gap >= 0) else "not met"

    book.table(
        "Checks", "Every limit with its sign, source and calculated value", columns, rows,
        [Live("Met", "calculated", met, False, result)],
    )  # fmt: skip
    return 3 + len(rows)


def pieces_sheet(book: Book, parts: PartsListResult | None) -> None:
    """Pieces with cut, ends and gaps; the growth of each straight at its first piece."""
    columns: list[Column] = [
        count_column("number", "No."), text_column("label", "Label"), text_column("room", "Room"),
        count_column("wall", "Wall"), number_column("cut_length_mm", "Cut length", "mm", 0),
        text_column("left_end", "Left end"), text_column("right_end", "Right end"), text_column("free_end", "Free end"),
        *(number_column(f"gap_{temp}", f"Gap at {temp} °C", "mm", 1) for temp in SHOWN_TEMPS_C),
        text_column("straight", "Straight length"), number_column("length_m", "Length", "m", 3),
        number_column("expansion_1_k", "Coefficient of expansion", "1/K", 7),
        number_column("rise_k", "Rise from installation to hottest", "K", 1),
        number_column("growth_mm", "Thermal expansion", "mm", 3),
    ]  # fmt: skip
    rows = []
    moves = {} if parts is None else {move.straight.label: move for move in parts.movement_plan.moves}
    first = {move.straight.pieces[0].piece.label: label for label, move in moves.items()}
    for step in () if parts is None else fixing_steps(parts):
        row: dict[str, Any] = {
            name: getattr(step, name)
            for name in ("number", "label", "room", "wall", "cut_length_mm", "left_end", "right_end", "free_end")
        }
        row |= {f"gap_{temp}": gap for temp, gap in zip(SHOWN_TEMPS_C, step.gaps_mm, strict=False)}
        move = moves.get(first.get(step.label, ""))
        if move is not None and parts is not None:
            row |= {
                "straight": move.straight.label,
                "length_m": move.straight.length_m,
                "expansion_1_k": move.straight.pieces[0].profile.expansion_1_k,
                "rise_k": parts.movement_plan.rise_k(move),
                "growth_mm": move.expansion_mm,
            }
        rows.append(row)
    book.table(
        "Pieces",
        "Pieces by room; expansion = coefficient × length × temperature rise, in the row of the first piece of each "
        "straight length",
        columns, rows,
        [
            Live(
                "Thermal expansion, calculated again, mm", "growth_mm",
                lambda at, n, row: f"={at['expansion_1_k']}{n}*{at['length_m']}{n}*1000*{at['rise_k']}{n}"
                if "growth_mm" in row else None,
            )
        ],
    )  # fmt: skip


def first_fix_sheet(book: Book, first_fix: FirstFixResult | None) -> None:
    """Positions of the pipes; left and right together are the straight."""
    columns = list(table_description("pipe_positions").columns)
    rows = [] if first_fix is None else first_fix.frames["pipe_positions"].to_dict("records")
    shown = [{**row, "both_m": row["from_left_m"] + row["to_right_m"]} for row in rows]
    book.table(
        "First fix", "Positions on the finished wall to the centre of the pipe; left and right add up to the wall line",
        [*columns, number_column("both_m", "Length of the wall line", "m", 3)], shown,
        [
            Live(
                "Left and right, m", "both_m",
                lambda at, n, row: f"={at['from_left_m']}{n}+{at['to_right_m']}{n}"
                if math.isfinite(row["both_m"]) else None,
            )
        ],
    )  # fmt: skip


def price_sheet(
    book: Book, parts: PartsListResult | None, quotation: Quotation | None, offer: Offer | None, terms: QuotationTerms
) -> None:
    """Parts to order; with prices every line, the groups, markup, labour and tax are live."""
    group = text_column("group", "Group")
    if quotation is None or offer is None:
        lines = [] if parts is None else parts.frames["parts"].to_dict("records")
        listed = () if parts is None else parts.part_lines
        rows = [{**row, "group": supplier_group(part)} for row, part in zip(lines, listed, strict=True)]
        columns = [group, *table_description("parts").columns]
        book.table("Parts and price", "Parts to order; no price file was given", columns, rows)
        return
    frame = quotation.frames["quotation"]
    rows = [
        {**row, "group": supplier_group(line.part)}
        for row, line in zip(frame.to_dict("records"), quotation.lines, strict=True)
    ]
    described = table_description("quotation")
    names = ("item", "pack", "order_quantity", "unit", "price", "discount_percent", "order_cost", "labour_min", "note")
    columns = [group, *(described.column(name) for name in names)]
    sheet = book.table(
        "Parts and price", f"Prices in {quotation.currency} before tax; blue: inputs", columns, rows,
        [
            Live(
                "Cost, calculated again", "order_cost",
                lambda at, n, row: f"=ROUND({at['order_quantity']}{n}*{at['price']}{n}"
                f"*(1-{at['discount_percent']}{n}/100),2)" if math.isfinite(row["order_cost"]) else None,
            )
        ],
        ("price", "discount_percent"),
    )  # fmt: skip
    _totals(book, sheet, 3 + len(rows), offer, terms)


def _totals(book: Book, sheet: Any, last: int, offer: Offer, terms: QuotationTerms) -> None:
    row = last + 2
    put(sheet, row, 1, "Markup, %", TEXT)
    put(sheet, row, 2, terms.markup_percent, INPUT)
    markup = f"$B${row}"
    begin = row + 1
    for row, (name, cost, _) in enumerate(offer.groups, start=begin):
        put(sheet, row, 1, name, TEXT)
        book.formula(sheet, row, 2, f"=ROUND(SUMIF($A$4:$A${last},A{row},$K$4:$K${last})*(1+{markup}/100),2)", cost)
    row += 1
    put(sheet, row, 1, "Labour, hours", TEXT)
    book.formula(sheet, row, 2, f"=SUM($I$4:$I${last})/60", offer.labour_h)
    hours = f"B{row}"
    row += 1
    put(sheet, row, 1, "Rate per hour", TEXT)
    put(sheet, row, 2, terms.labour_rate_h, INPUT)
    put(sheet, row + 1, 1, "Labour", TEXT)
    book.formula(sheet, row + 1, 2, f"=ROUND({hours}*B{row},2)", offer.labour or 0.0)
    put(sheet, row + 2, 1, "Total before tax", HEAD)
    book.formula(sheet, row + 2, 2, f"=ROUND(SUM(B{begin}:B{begin + len(offer.groups) - 1})+B{row + 1},2)",
                 offer.before_tax)  # fmt: skip
    put(sheet, row + 3, 1, "Tax, %", TEXT)
    put(sheet, row + 3, 2, terms.tax_percent, INPUT)
    put(sheet, row + 4, 1, "Tax", TEXT)
    book.formula(sheet, row + 4, 2, f"=ROUND(B{row + 2}*B{row + 3}/100,2)", offer.tax or 0.0)
    put(sheet, row + 5, 1, "Total", HEAD)
    book.formula(sheet, row + 5, 2, f"=B{row + 2}+B{row + 4}", offer.total)
    for written in range(begin, row + 6):
        sheet.cell(written, 2).number_format = "0.00"


def columns_sheet(book: Book, tables: Mapping[str, pd.DataFrame]) -> None:
    """Meaning of the columns of all tables, and the safety notices."""
    sheet = book.sheet(
        "Columns and safety notices", "Meaning and source of the columns of all tables; safety notices first"
    )
    fill_head(sheet, ("Table", "Column or subject", "Meaning or text", "Source"))
    rows = [("Safety notices", "Precedence", DEFERENCE, "")]
    rows += [("Safety notices", caution.title, caution.text, "") for caution in SAFETY_NOTICES]
    rows += [
        (table_description(name).title, column.full_heading, column.meaning, column.source)
        for name, frame in tables.items()
        for column in map(table_description(name).column, frame.columns)
    ]
    for row, values in enumerate(rows, start=4):
        for place, value in enumerate(values, start=1):
            put(sheet, row, place, value, TEXT)
    finish(sheet, len(rows), 4)
