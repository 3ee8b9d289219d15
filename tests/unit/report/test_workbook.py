"""The workbook: fifteen sheets, cell formulas that an independent evaluator calculates to the stored results."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from heatloop.report.workbook.book import HandedOver, write_workbook
from tests.helpers.altered import with_frames
from tests.helpers.handed import Handed
from tests.helpers.paths import DATA

SHEETS = [
    "Index", "Basis", "Rooms", "Losses", "Comfort", "Loops", "Valves", "Plant", "Closed system", "Elements", "Checks",
    "Pieces", "First fix", "Parts and price", "Columns and safety notices",
]  # fmt: skip
ALLOWED = {"SUM", "SUMIF", "COUNTIF", "INDEX", "MATCH", "IF", "MAX", "MIN", "ABS", "SQRT", "ROUND"}
NEAR = 0.02


def written(one: Handed, path: Path, prices: bool = True) -> Path:
    quotation = one.parts.price(DATA / "alder-lodge" / "prices.csv") if prices else None
    return write_workbook(
        path / "book.xlsx", one.design, one.control, HandedOver(one.parts, one.first_fix, one.commissioning, quotation)
    )


def formulas_of(path: Path) -> dict[tuple[str, str], str]:
    cells = (cell for sheet in openpyxl.load_workbook(path) for row in sheet.iter_rows() for cell in row)
    return {(cell.parent.title, cell.coordinate): str(cell.value) for cell in cells if cell.data_type == "f"}


def stored_of(path: Path) -> Any:
    return openpyxl.load_workbook(path, data_only=True)


@pytest.mark.parametrize("size", ["one room", pytest.param("nine rooms", marks=pytest.mark.long)])
def test_an_independent_evaluator_finds_the_stored_results(sizes: dict[str, Handed], size: str, tmp_path: Path) -> None:
    evaluator = pytest.importorskip("formulas")
    path = written(sizes[size], tmp_path)
    found = evaluator.ExcelModel().loads(str(path)).finish().calculate()
    values = {str(key).upper(): value for key, value in found.items()}
    stored, live = stored_of(path), formulas_of(path)
    assert len(live) > 100
    wrong = []
    for (sheet, place), formula in live.items():
        got, kept = values[f"'[BOOK.XLSX]{sheet.upper()}'!{place}"].value[0][0], stored[sheet][place].value
        same = got == kept if isinstance(kept, str) else abs(float(got) - float(kept)) < NEAR
        wrong += [] if same else [(sheet, place, formula, got, kept)]
    assert wrong == []
    index = stored["Index"].iter_rows(values_only=True)
    counted = [row for row in index if str(row[0]).startswith("Cell formulas that differ")]
    assert counted[0][1] == 0.0


def test_sheets_functions_and_stored_results(nine_rooms: Handed, tmp_path: Path) -> None:
    path = written(nine_rooms, tmp_path)
    book = stored_of(path)
    assert book.sheetnames == SHEETS
    live = formulas_of(path)
    used = {name for formula in live.values() for name in re.findall(r"([A-Z]+)\(", formula)}
    assert used <= ALLOWED
    assert all(book[sheet][place].value is not None for sheet, place in live)
    losses = [formula for (sheet, _), formula in live.items() if sheet == "Losses" and "outdoor_c" in formula]
    kept = nine_rooms.design.heat_loss_parts["area_m2"].isna().sum()
    assert len(losses) == len(nine_rooms.design.heat_loss_parts) - kept
    assert {"outdoor_c", "flow_c"} <= set(book.defined_names)
    again = [row for row in book["Closed system"].iter_rows(min_row=4, values_only=True) if row[-2] is not None]
    assert len(again) == 5


def test_a_live_figure_that_is_wrong_would_be_counted(nine_rooms: Handed, tmp_path: Path) -> None:
    """Differences stand beside live columns, and the index counts those of all sheets."""
    path = written(nine_rooms, tmp_path)
    count = next(f for (sheet, _), f in formulas_of(path).items() if sheet == "Index" and '">0.01"' in f)
    for sheet in ("Rooms", "Losses", "Loops", "Valves", "Closed system", "Pieces", "First fix", "Parts and price"):
        assert f"'{sheet}'!" in count


def test_two_workbooks_of_one_design_are_the_same_bytes(nine_rooms: Handed, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    assert written(nine_rooms, tmp_path).read_bytes() == written(nine_rooms, tmp_path / "other").read_bytes()


def test_text_that_looks_like_a_formula_stays_text(one_room: Handed, tmp_path: Path) -> None:
    frames = {name: frame.replace("Annexe", "=1+1") for name, frame in one_room.design.frames.items()}
    design = with_frames(one_room.design, frames)
    path = write_workbook(tmp_path / "book.xlsx", design, one_room.control)
    cell = openpyxl.load_workbook(path)["Rooms"]["A4"]
    assert (cell.value, cell.data_type, cell.quotePrefix) == ("=1+1", "s", True)


def test_without_prices_the_parts_are_listed(nine_rooms: Handed, tmp_path: Path) -> None:
    rows = list(stored_of(written(nine_rooms, tmp_path, prices=False))["Parts and price"].iter_rows(values_only=True))
    assert len(rows) == 3 + len(nine_rooms.parts.parts)


def test_sums_of_money_and_hours_have_two_decimals(nine_rooms: Handed, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(written(nine_rooms, tmp_path))["Parts and price"]
    named = {str(row[0].value): row[1].number_format for row in sheet.iter_rows(min_row=4)}
    for name in ("Valves and controls", "Labour, hours", "Labour", "Total before tax", "Tax", "Total"):
        assert named[name] == "0.00", name
