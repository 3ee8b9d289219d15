"""The tables of a report by name, collected from the modules of the results."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.quotation import Quotation
from heatloop.results.checks.design_checks import CHECKS
from heatloop.results.design import DesignResult
from heatloop.text.column import Column, TableDescription, text_column
from heatloop.text.table_set import TableSet

RESULTS: tuple[type[TableSet], ...] = (DesignResult, PartsListResult, FirstFixResult, CommissioningResult, Quotation)
"""Results whose tables have names of their own, so that they can be written side by side into one folder."""

CHECKS_MET = TableDescription(
    "checks_met",
    "Limits that are met",
    "Each limit once, with the range of calculated values.",
    (
        *CHECKS.columns[:2],
        text_column("found", "Calculated"),
        *(CHECKS.column(name) for name in ("limit", "unit", "source")),
    ),
)

TABLES: Mapping[str, TableDescription] = {
    **{name: description for result in RESULTS for name, description in result.descriptions().items()},
    CHECKS_MET.name: CHECKS_MET,
}

SUMMARY: tuple[Column, ...] = DesignResult.summary_columns


def table_description(name: str) -> TableDescription:
    """The description of that table; for another table, a description made from its name."""
    return TABLES.get(name) or TableDescription(name, name.replace("_", " ").capitalize(), "", ())
