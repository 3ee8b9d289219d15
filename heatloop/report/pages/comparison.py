"""Comparison of two designs as plain text of 100 columns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pandas as pd

from heatloop.results.compare import COMPARISON
from heatloop.results.design import DesignResult
from heatloop.text.column import Column, text_column
from heatloop.text.formatting import cell_text, escape_control_characters, is_missing, plural
from heatloop.text.summary import Summary, SummaryTable, as_text, grid

PARTS = (("job", "Project"), ("room", "Rooms"), ("loop", "Loops"), ("check", "Checks"))

CHECK_HEADINGS = {"name": "Location", "quantity": "Check"}

CHECK = DesignResult.descriptions()["checks"].column("verdict")
"""How the verdict of a check is written."""


def comparison_text(before: str, after: str, headline: str, differing: pd.DataFrame) -> str:
    """Compare two designs: verdict of the second, and differences in summary, rooms, loops and checks that show in
    the printed figures."""
    verdict = (f"Verdict after: {escape_control_characters(headline)}",) if headline else ()
    title = f"Before: {before}. After: {after}."
    rows = [row for row in map(_compared, differing.to_dict("records")) if row["before"] != row["after"]]
    if not rows:
        return as_text(Summary(title, (*verdict, "No quantity differs.")))
    grids = [_part(rows, kind, caption) for kind, caption in PARTS if any(row["what"] == kind for row in rows)]
    return as_text(
        Summary(title, (*verdict, f"{plural(len(rows), 'quantity differs', 'quantities differ')}."), tuple(grids))
    )


def _part(rows: list[dict[str, str]], kind: str, caption: str) -> SummaryTable:
    own = [row for row in rows if row["what"] == kind]
    columns = [c for c in COMPARISON.columns if c.name != "what" and (c.name != "name" or kind != "job")]
    names = CHECK_HEADINGS if kind == "check" else {}
    return grid(caption, own, [replace(c, heading=names.get(c.name, c.heading)) for c in columns])


def _column(kind: str, quantity: str) -> Column:
    """The column or key figure that a quantity is."""
    if kind == "job":
        return {column.name: column for column in DesignResult.summary_columns}[quantity]
    if kind in ("room", "loop"):
        return DesignResult.descriptions()[f"{kind}s"].column(quantity)
    return text_column(quantity, quantity)


def _compared(row: Mapping[Any, Any]) -> dict[str, str]:
    """A row as it is read: quantity in words with its unit, values and change as their column writes them."""
    kind, column = row["what"], _column(row["what"], row["quantity"])
    written = CHECK if kind == "check" else column
    before, after = (cell_text(written, row[side]) or "–" for side in ("before", "after"))
    return {
        "what": kind,
        "name": escape_control_characters(row["name"]),
        "quantity": column.full_heading,
        "before": before,
        "after": after,
        "change": "" if is_missing(row["change"]) or before == after else _printed_change(before, after),
    }


def _printed_change(before: str, after: str) -> str:
    """The difference of two printed figures with its sign, so that the three figures of a row agree."""
    return f"{Decimal(after) - Decimal(before):+f}"
