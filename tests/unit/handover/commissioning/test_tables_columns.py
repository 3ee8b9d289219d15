"""Tables of the pack: names, headings and how many decimals a fitter's instrument makes sense of."""

from __future__ import annotations

import re

import pytest

from heatloop.handover.commissioning.pack import PACK_SUMMARY, SECTIONS, SHOWN, CommissioningResult
from heatloop.handover.commissioning.tables import COMMISSIONING
from heatloop.text.column import Column, TableDescription

TABLES = CommissioningResult.descriptions()
DECIMALS = {"l/h": 0, "kPa": 0, "°C": 1, "K": 1, "m/s": 2, "m": 2, "l": 2, "ml/l": 1, "%": 2, "l/m": 4, "": 1}
"""As a rule for a column of numbers in this unit."""
OTHERWISE = {
    ("part_load", "outdoor_c"): 0,
    ("surface_temperatures", "limit_c"): 0,
    ("commissioning", "valve_pressure_drop_kpa"): 1,
    ("water_content", "water_content_l"): 3,
    ("doses", "water_content_l"): 1,
    ("head", "water_content_l"): 1,
    ("head", "pump_head_kpa"): 1,
}
"""Whole degrees of weather and limits, tenths of a kPa of pump and valve, millilitres where parts are added up."""
HEAD = TableDescription("head", "Head", "Figures at the head.", PACK_SUMMARY)
COLUMNS = [(table.name, column) for table in (*TABLES.values(), HEAD) for column in table.columns]


def test_tables_and_columns_are_named_in_lower_case_and_headed_in_words() -> None:
    for table in TABLES.values():
        assert re.fullmatch(r"[a-z_]+", table.name), table.name
        assert re.match(r"[A-Z]", table.title), table.name
        assert table.about.endswith("."), table.name
    for table, column in COLUMNS:
        assert re.fullmatch(r"[a-z_0-9]+", column.name), (table, column.name)
        assert re.match(r"[A-Z]", column.heading), (table, column.name)
        assert not re.match(r"[A-Z]", column.meaning), (table, column.name)


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=[f"{table}.{column.name}" for table, column in COLUMNS])
def test_decimals(table: str, column: Column) -> None:
    if column.kind == "number":
        assert column.decimals == OTHERWISE.get((table, column.name), DECIMALS[column.unit])
    else:
        assert column.decimals == 0


def test_sections_have_the_titles_of_their_tables() -> None:
    for section in SECTIONS:
        assert section.title == TABLES[section.table].title
        assert section.about.endswith(".")


def test_the_summary_shows_columns_of_the_sheet_under_short_headings() -> None:
    assert set(SHOWN) <= set(COMMISSIONING.names)
    assert all(len(heading) <= 20 for heading in SHOWN.values())
    units = {column.name: column.unit for column in COMMISSIONING.columns}
    boxes = [column for column in COMMISSIONING.columns if column.meaning.startswith("left empty")]
    assert [(box.name, box.unit) for box in boxes] == [
        ("setting_as_left", ""),
        ("measured_flow_l_h", "l/h"),
        ("measured_flow_temp_c", "°C"),
        ("measured_return_temp_c", "°C"),
        ("initials", ""),
    ]
    assert units["min_flow_l_h"] == units["flow_heads_removed_l_h"] == "l/h"
