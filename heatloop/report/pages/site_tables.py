"""Tables of the printable sheet: boxes to fill in, small words under a name, figures as everywhere else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import pandas as pd

from heatloop.report.columns.column import Column
from heatloop.report.columns.design import table_spec
from heatloop.report.pages.html_tables import cell_text, chosen, is_missing

NUMBERS = ("number", "figure", "residual", "percent")


def sheet_table(
    frame: pd.DataFrame,
    name: str,
    columns: Sequence[str] | None = None,
    under: Mapping[str, Sequence[str]] | None = None,
    boxes: Sequence[str] = (),
    ticks: Sequence[str] = (),
    widths_mm: Mapping[str, float] | None = None,
) -> str:
    """The table called `name` as markup. `columns` picks and orders (None: all that say something); `under` puts the
    words of other columns beneath one; `boxes` and `ticks` are drawn empty; `widths_mm` of some columns."""
    spec = table_spec(name)
    under = under or {}
    below = {column for group in under.values() for column in group}
    empty = {*boxes, *ticks}
    shown = [spec.column(c) for c in columns] if columns is not None else list(chosen(frame, spec, None))
    shown += [spec.column(c) for c in (*boxes, *ticks) if c not in {column.name for column in shown}]
    shown = [column for column in shown if column.name not in below]
    kinds = {column.name: _kind(column, boxes, ticks) for column in shown}
    head = "".join(f'<th scope="col"{_css(kinds[c.name])}>{_heading(c)}</th>' for c in shown)
    body = []
    for record in frame.to_dict("records"):
        cells = []
        for place, column in enumerate(shown):
            value = "" if column.name in empty else _cell(column, record)
            small = "".join(_under(spec.column(c), record) for c in under.get(column.name, ()))
            first = place == 0 and column.name not in empty
            opened = '<th scope="row">' if first else f"<td{_css(kinds[column.name])}>"
            cells.append(f"{opened}{value}{small}{'</th>' if first else '</td>'}")
        body.append(f"<tr>{''.join(cells)}</tr>")
    columns_css = "".join(f"<col{_width((widths_mm or {}).get(c.name))}>" for c in shown)
    return (
        f"<table><colgroup>{columns_css}</colgroup><thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table>"
    )


def _width(width_mm: float | None) -> str:
    return "" if width_mm is None else f' style="width: {width_mm:g}mm"'


def _kind(column: Column, boxes: Sequence[str], ticks: Sequence[str]) -> str:
    if column.name in ticks:
        return "box tick"
    if column.name in boxes:
        return "box"
    return "n" if column.kind in NUMBERS else ""


def _css(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


def _heading(column: Column) -> str:
    unit = f'<span class="unit">, {escape(column.unit)}</span>' if column.unit else ""
    return escape(column.heading) + unit


def _cell(column: Column, record: Mapping[Any, Any]) -> str:
    value = record.get(column.name)
    text = escape(cell_text(column, value))
    if column.kind == "verdict":
        return f'<span class="verdict {escape(str(value))}">{text}</span>'
    return text


def _under(column: Column, record: Mapping[Any, Any]) -> str:
    """One line of small words, nothing where the column is empty or 0."""
    value = record.get(column.name)
    if is_missing(value) or value in ("", 0):
        return ""
    lead = f"{column.heading.lower()} " if column.kind in NUMBERS else ""
    unit = f" {column.unit}" if column.unit else ""
    return f'<span class="under">{escape(lead + cell_text(column, value) + unit)}</span>'
