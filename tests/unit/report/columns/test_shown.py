"""Columns that pages show are columns of their tables."""

import pytest

from heatloop.report.columns.registry import table_description
from heatloop.report.columns.shown import PAGE, REPORT

TABLE = {
    "heat_loss_by_element": "rooms", "output_range_all": "output_range", "output_range_each": "output_range",
    "loop_pressures": "loops", "transitional_loops": "loops",
}  # fmt: skip
"""Tables of the sections of the report that have another name than their table."""


@pytest.mark.parametrize(("section", "columns"), [*PAGE.items(), *REPORT.items()])
def test_a_page_shows_columns_that_its_table_has(section, columns):
    assert set(columns) <= set(table_description(TABLE.get(section, section)).names)
