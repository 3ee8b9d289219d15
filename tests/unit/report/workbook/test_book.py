"""Cells of the workbook: values, texts, units and the digits that are shown."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

import heatloop as hl
from heatloop.report.control.control import DocumentControl, document_control
from heatloop.report.workbook.book import write_workbook
from heatloop.text.formatting import significant
from tests.helpers.altered import with_frames


@pytest.fixture
def control(design: hl.Design) -> DocumentControl:
    return document_control(design.survey, design.verdict)


def test_a_sheet_of_figures_shows_three_digits(design: hl.Design, control: DocumentControl, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", design, control))["Checks"]
    place = [cell.value for cell in sheet[3]].index("Calculated") + 1
    for row, value in enumerate(design.checks["calculated"], start=4):
        cell = sheet.cell(row, place)
        assert cell.value == pytest.approx(value, rel=1e-12)
        decimals = len(significant(value).partition(".")[2])
        written_out = "0." + "0" * decimals if decimals else "0"
        assert cell.number_format == ("0.0E+00" if 0.0 < abs(value) < 1e-6 else written_out)
    formats = {cell.number_format for row in sheet.iter_rows(min_row=4) for cell in row}
    assert "0.0E+00" in formats
    assert max(map(len, formats)) <= 8, "written out, a residual would not fit its column"


def test_no_word_of_a_heading_is_wider_than_its_column(
    design: hl.Design, control: DocumentControl, tmp_path: Path
) -> None:
    book = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", design, control))
    for sheet in book:
        for cell in sheet[3]:
            if sheet.auto_filter.ref and cell.value:
                longest = max(map(len, str(cell.value).split()))
                assert longest < sheet.column_dimensions[cell.column_letter].width, (sheet.title, cell.value)


def test_workbook_holds_values_text_as_text_and_units(
    design: hl.Design, control: DocumentControl, tmp_path: Path
) -> None:
    tables = design.tables
    names = ["=1+1", "+cmd", "-2", "@sum", "bell\x07"]
    for row, name in enumerate(names):
        tables["rooms"].loc[row, "room"] = name
    renamed = with_frames(design, tables)
    sheet = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", renamed, control))["Rooms"]
    assert sheet.freeze_panes == "B4"
    heads = [cell.value for cell in sheet[3]]
    assert "Heat loss, W" in heads
    cells = [sheet.cell(row, 1) for row in range(4, 9)]
    assert [c.value for c in cells] == ["=1+1", "+cmd", "-2", "@sum", "bell "]
    assert [c.data_type for c in cells] == ["s"] * 5
    assert all(c.quotePrefix for c in cells[:4])
    loss = sheet.cell(4, heads.index("Heat loss, W") + 1)
    assert loss.value == pytest.approx(design.rooms["heat_loss_w"].iloc[0], rel=1e-12)
    assert loss.number_format == "0"
    assert sheet.column_dimensions["A"].width >= 8


def test_a_printed_sheet_is_as_many_pages_wide_as_its_letters_need(
    design: hl.Design, control: DocumentControl, tmp_path: Path
) -> None:
    """A4 across is 141 characters wide at full size, so that 60 % holds 235."""
    book = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", design, control))
    several = []
    for sheet in book:
        wide = sum(sheet.column_dimensions[cell.column_letter].width for cell in sheet[3])
        pages = int(sheet.page_setup.fitToWidth)
        assert wide / pages <= 235.0 + 20.0, sheet.title  # the last column is free and has the usual width
        assert (sheet.print_title_cols == "$A:$A") == (pages > 1), sheet.title
        several += [sheet.title] * (pages > 1)
    assert "Loops" in several
    assert "Basis" not in several


def test_the_basis_lists_the_layers_of_every_build_up(
    design: hl.Design, control: DocumentControl, mill_annexe: hl.Design, tmp_path: Path
) -> None:
    """With them and the surface resistances among the assumptions, the U-values of the sheet Losses can be checked."""
    basis = openpyxl.load_workbook(write_workbook(tmp_path / "d.xlsx", design, control))["Basis"]
    listed = {row[0].value: row[1].value for row in basis.iter_rows(min_row=8)}
    assert {build_up.name for build_up in design.survey.build_ups} <= set(listed)
    assert listed["outer wall"].startswith("plasterboard and skim 12.5 mm, 0.21 W/(m K); wood fibre board 60 mm, 0.04")
    assert "wool between joists 100 mm, 0.04 W/(m K), 9 % of its area 0.13 W/(m K)" in listed["loft"]
    assert "air gap 25 mm, 0.18 m² K/W" in listed["partition"]
    assert listed["window"] == "U 1.3 W/(m² K), as stated"
    other = document_control(mill_annexe.survey, mill_annexe.verdict)
    annexe = openpyxl.load_workbook(write_workbook(tmp_path / "m.xlsx", mill_annexe, other))["Basis"]
    assert any("glass U" in str(row[1].value) for row in annexe.iter_rows(min_row=8))
