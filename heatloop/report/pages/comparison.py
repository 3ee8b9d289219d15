"""Comparison of two designs as plain text of 100 columns."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from typing import Any

import pandas as pd

from heatloop.findings.verdict import OUTCOMES
from heatloop.results.compare import COMPARISON
from heatloop.results.design import DesignResult
from heatloop.text.column import Column, text_column
from heatloop.text.formatting import VERDICT_MARKS, cell_text, escape_control_characters, plural
from heatloop.text.summary import Summary, SummaryTable, as_text, grid

PARTS = (("job", "Project"), ("room", "Rooms"), ("loop", "Loops"), ("check", "Checks"))

CHECK_HEADINGS = {"name": "Location", "quantity": "Check"}

CHECK = DesignResult.descriptions()["checks"].column("verdict")
"""How the verdict of a check is written."""


READINESS = {outcome: f"{VERDICT_MARKS[outcome]} {state}" for state, outcome in OUTCOMES.items()}
"""How the verdict of a design is written, by its outcome."""

NOT_APPLICABLE = "does not apply"
"""Verdict of a check that a design does not have."""


def comparison_text(before: tuple[str, str], after: tuple[str, str], differing: pd.DataFrame) -> str:
    """Compare two designs, each given by its file and its verdict in words: differences in summary, rooms, loops and
    checks that show in the printed figures."""
    rows = [row for row in map(_compared, differing.to_dict("records")) if row["before"] != row["after"]]
    sentences = (*_design("before", *before), *_design("after", *after), _count_words(rows))
    grids = [_part(rows, kind, caption) for kind, caption in PARTS if any(row["what"] == kind for row in rows)]
    return as_text(Summary("Comparison of two designs", sentences, tuple(grids)))


def _design(which: str, file: str, headline: str) -> list[str]:
    """File and verdict of one of the designs."""
    return [f"Design {which}: {file}", *([escape_control_characters(headline)] if headline else [])]


def _count_words(rows: list[dict[str, str]]) -> str:
    if not rows:
        return "No differences."
    dash = " A dash means that there is no such value." if any("–" in (r["before"], r["after"]) for r in rows) else ""
    return f"{plural(len(rows), 'difference')}. Change: after minus before.{dash}"


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
    if (kind, row["quantity"]) == ("job", "verdict"):
        row = {**row, **{side: READINESS.get(row[side], row[side]) for side in ("before", "after")}}
        written = text_column("verdict", column.heading)
    absent = NOT_APPLICABLE if kind == "check" else "–"
    before, after = (
        absent if row[side] is None else cell_text(written, row[side]) or "–" for side in ("before", "after")
    )
    if row["quantity"] == kind:  # a room or a loop that only one of the designs has
        before, after = ("–", "new") if row["before"] is None else (before, "removed")
    return {
        "what": kind,
        "name": escape_control_characters(row["name"]),
        "quantity": column.full_heading,
        "before": before,
        "after": after,
        "change": "" if not math.isfinite(row["change"]) or before == after else _printed_change(before, after),
    }


def _printed_change(before: str, after: str) -> str:
    """The difference of two printed figures with its sign, so that the three figures of a row agree; empty where one
    of them is not written in figures alone, as an overlong number of an edited file is not."""
    try:
        return f"{Decimal(after) - Decimal(before):+f}"
    except InvalidOperation:
        return ""
