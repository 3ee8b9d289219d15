"""Tables of the printable sheet: boxes to fill in, small words under a name, figures as everywhere else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from heatloop.report.columns.registry import table_description
from heatloop.report.pages.html_tables import HtmlFragment, selected_columns
from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, is_missing
from heatloop.text.html import Cell, Heading, HtmlTable, cell_of, heading_of, table_html


@dataclass(frozen=True)
class Dressing:
    """Additions of a table of the sheet to its figures: the words of other columns `under` one, `boxes` and `ticks`
    that are drawn empty, `references` in grey, and the widths of some columns on paper."""

    under: Mapping[str, Sequence[str]] = field(default_factory=dict)
    boxes: Sequence[str] = ()
    ticks: Sequence[str] = ()
    references: Sequence[str] = ()
    widths_mm: Mapping[str, float] = field(default_factory=dict)


PLAIN = Dressing()


def sheet_table(
    frame: pd.DataFrame, name: str, columns: Sequence[str] | None = None, dressing: Dressing = PLAIN
) -> HtmlFragment:
    """The table called `name`. `columns` picks and orders (None: all that say something); boxes and ticks stand last
    where they are not among them."""
    described = table_description(name)
    below = {column for group in dressing.under.values() for column in group}
    empty = (*dressing.boxes, *dressing.ticks)
    shown = list(selected_columns(frame, described, columns))
    shown += [described.column(c) for c in empty if c not in {column.name for column in shown}]
    shown = [column for column in shown if column.name not in below]
    under = {name: tuple(map(described.column, names)) for name, names in dressing.under.items()}
    rows = tuple(
        tuple(_cell(column, record, dressing, under.get(column.name, ()), place) for place, column in enumerate(shown))
        for record in frame.to_dict("records")
    )
    return HtmlFragment(table_html(HtmlTable(tuple(_heading(column, dressing) for column in shown), rows, empty="")))


def _heading(column: Column, dressing: Dressing) -> Heading:
    found = replace(heading_of(column), width_mm=dressing.widths_mm.get(column.name))
    box = _box(column, dressing)
    return replace(found, css=box or _grey(column, dressing, found.css))


def _box(column: Column, dressing: Dressing) -> str:
    """The class of a column that is drawn empty, "" for one with values."""
    if column.name in dressing.ticks:
        return "box tick"
    return "box" if column.name in dressing.boxes else ""


def _grey(column: Column, dressing: Dressing, css: str) -> str:
    """The class of a cell, grey for a column that is a reference."""
    return f"{css} reference".strip() if column.name in dressing.references else css


def _cell(column: Column, record: Mapping[Any, Any], dressing: Dressing, under: Sequence[Column], place: int) -> Cell:
    box = _box(column, dressing)
    if box:
        return Cell("", box)
    words = tuple(filter(None, (_under(other, record) for other in under)))
    cell = cell_of(column, record[column.name], place == 0)
    return replace(cell, under=words, css="" if cell.heads else _grey(column, dressing, cell.css))


def _under(column: Column, record: Mapping[Any, Any]) -> str:
    """One line of small words, nothing where the column is empty or 0."""
    value = record.get(column.name)
    if is_missing(value) or value in ("", 0):
        return ""
    lead = f"{column.heading.lower()} " if column.is_numeric else ""
    unit = f" {column.unit}" if column.unit else ""
    return lead + cell_text(column, value) + unit
