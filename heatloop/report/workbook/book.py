"""The workbook of a design: an index and fourteen sheets, cell formulas with their results stored."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
from openpyxl.worksheet.hyperlink import Hyperlink

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.offer import offer_from
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.quotation import Quotation
from heatloop.report.columns.registry import table_description
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.title_block import DocumentSheet, block_fields
from heatloop.report.workbook.handover import (
    all_checks,
    basis_sheet,
    checks_sheet,
    columns_sheet,
    first_fix_sheet,
    pieces_sheet,
    price_sheet,
)
from heatloop.report.workbook.heat import (
    closed_system_sheet,
    comfort_sheet,
    elements_sheet,
    loops_sheet,
    losses_sheet,
    plant_sheet,
    rooms_sheet,
    valves_sheet,
)
from heatloop.report.workbook.sheets import (
    FAIL,
    FIRST_ROW,
    INPUT,
    LIVE,
    TEXT,
    TOLERANCE,
    Book,
    fill_head,
    new_book,
    put,
)
from heatloop.report.workbook.stored import save_with_results
from heatloop.results.design import DesignResult
from heatloop.results.summaries import short_rooms


@dataclass(frozen=True, eq=False)
class HandedOver:
    """Handover results of a design, as far as they were made."""

    parts: PartsListResult | None = None
    first_fix: FirstFixResult | None = None
    pack: CommissioningResult | None = None
    quotation: Quotation | None = None


NOTHING_YET = HandedOver()


def write_workbook(
    path: Path,
    design: DesignResult,
    control: DocumentControl,
    handed_over: HandedOver = NOTHING_YET,
) -> Path:
    """Write the workbook; sheets of what is not given are empty. OSError where the file cannot be written."""
    foot = f"{control.identification('WB')} {control.revision} {control.status}"
    book = Book(new_book(), foot)
    book.sheet("Index", "Contents, verdict, and differences between cell formulas and the values of the program")
    parts, first_fix = handed_over.parts, handed_over.first_fix
    pack, quotation = handed_over.pack, handed_over.quotation
    terms = design.survey.quotation
    offer = None if quotation is None else offer_from(quotation, terms, control.issued_on)
    checks = all_checks(design, None if pack is None else pack.frames["commissioning_checks"])
    results = [result for result in (design, parts, first_fix, pack, quotation) if result is not None]
    tables = {name: frame for result in results for name, frame in result.frames.items()}
    basis_sheet(book, design)
    rooms_sheet(book, design)
    losses_sheet(book, design)
    comfort_sheet(book, design)
    loops_sheet(book, design, pack)
    valves_sheet(book, design)
    plant_sheet(book, design)
    closed_system_sheet(book, pack)
    elements_sheet(book, design)
    last_check = checks_sheet(book, checks)
    pieces_sheet(book, parts)
    first_fix_sheet(book, first_fix)
    price_sheet(book, parts, quotation, offer, terms)
    columns_sheet(book, tables)
    _index(book, design, control, last_check, sum(row["verdict"] != "pass" for row in checks), tables)
    day = dt.datetime.combine(control.issued_on, dt.time())
    book.book.properties.created = book.book.properties.modified = day
    book.book.properties.creator = control.document.prepared_by or "heatloop"
    return save_with_results(book.book, book.results, path)


def _index(
    book: Book,
    design: DesignResult,
    control: DocumentControl,
    last_check: int,
    missed: int,
    tables: Mapping[str, pd.DataFrame],
) -> None:
    """Control fields, verdict, live counts, links to the sheets, the CSV files, the key of colours."""
    sheet = book.book["Index"]
    put(sheet, 1, 1, f"{control.project}: workbook", "HL title")
    row = FIRST_ROW
    put(sheet, row, 1, "Verdict", TEXT)
    put(sheet, row, 2, design.verdict.headline, FAIL if design.verdict.fails else TEXT)
    rooms = 3 + len(design.frames["rooms"])
    differing = "+".join(
        f"COUNTIF('{title}'!{letter}{first}:{letter}{last},\">{TOLERANCE}\")"
        for title, letter, first, last in book.differences
    )
    for words, formula, result in (
        ("Rooms with too little heat (cell formula)",
         f'=COUNTIF(Rooms!{_state_letter(book)}4:{_state_letter(book)}{rooms},"short")',
         float(len(short_rooms(design.frames["rooms"])))),
        ("Limits not met (cell formula)", f'=COUNTIF(Checks!J4:J{last_check},"not met")', float(missed)),
        (f"Cell formulas that differ from the program by more than {TOLERANCE}",
         f"={differing}" if differing else "=0", 0.0),
    ):  # fmt: skip
        row += 1
        put(sheet, row, 1, words, TEXT)
        book.formula(sheet, row, 2, formula, result)
    for field in block_fields(control, DocumentSheet("WB", of=0)).values():
        if field.key in ("scale", "sheet", "type"):
            continue
        row += 1
        put(sheet, row, 1, field.name, TEXT)
        put(sheet, row, 2, field.value, TEXT)
    if control.warning:
        row += 1
        put(sheet, row, 2, control.warning, FAIL)
    row += 2
    fill_head(sheet, ("Sheet", "Contents"), row)
    for title, about in book.sheets.items():
        if title == "Index":
            continue
        row += 1
        cell = put(sheet, row, 1, title, TEXT)
        cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{title}'!A1")
        put(sheet, row, 2, about, TEXT)
    row += 2
    fill_head(sheet, ("Table as CSV", "Contents"), row)
    for name in tables:
        row += 1
        put(sheet, row, 1, f"{name}.csv", TEXT)
        put(sheet, row, 2, table_description(name).about or table_description(name).title, TEXT)
    row += 2
    for words, style in (("Input of cell formulas", INPUT), ("Cell formula", LIVE)):
        put(sheet, row, 1, words, style)
        row += 1
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 34, 100
    sheet.freeze_panes = "A4"
    sheet.print_title_rows = "1:1"


def _state_letter(book: Book) -> str:
    """The column of the live state of rooms."""
    row = next(book.book["Rooms"].iter_rows(min_row=3, max_row=3))
    return next(str(cell.column_letter) for cell in row if cell.value == "State")
