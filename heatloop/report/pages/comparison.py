"""Two designs side by side as plain text of 100 columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from heatloop.text.formatting import plural, printable
from heatloop.text.summary import Account, Grid, as_text, grid
from heatloop.text.units import named_unit, told

DIFFERING = {
    "what": "What",
    "name": "Name",
    "quantity": "Quantity",
    "before": "Before",
    "after": "After",
    "change": "Change",
}

PARTS = (("job", "The job"), ("room", "Rooms"), ("loop", "Loops"), ("check", "Checks"))


def comparison_text(before: str, after: str, differing: pd.DataFrame) -> str:
    """Two designs side by side: what is another in the job, rooms, loops and checks, as far as it can be read."""
    title = f"Before: {before}. After: {after}."
    rows = [row for row in map(_compared, _records(differing)) if row["before"] != row["after"]]
    if not rows:
        return as_text(Account(title, ("Nothing differs that can be read.",)))
    grids = [_part(rows, what, caption) for what, caption in PARTS if any(row["what"] == what for row in rows)]
    return as_text(Account(title, (f"{plural(len(rows), 'figure differs', 'figures differ')}.",), tuple(grids)))


def _part(rows: list[dict[str, object]], what: str, caption: str) -> Grid:
    own = [row for row in rows if row["what"] == what]
    words = {key: heading for key, heading in DIFFERING.items() if key != "what" and (key != "name" or what != "job")}
    found = grid(caption, own, words)
    right = tuple(heading in ("Before", "After", "Change") for heading in found.headings)
    return Grid(found.caption, found.headings, found.rows, right)


def _compared(row: Mapping[str, Any]) -> dict[str, object]:
    """A row as it is read: quantity in words with its unit, values by their unit."""
    name = str(row["quantity"])
    heading, unit, _ = named_unit(name)
    change = row["change"]
    shown = "" if change != change else told(name, change)
    sign = "+" if shown and change > 0 and shown.strip("0.") else ""
    return {
        "what": row["what"],
        "name": printable(row["name"]),
        "quantity": (f"{heading}, {unit}" if unit else heading) if row["what"] != "check" else name,
        "before": told(name, row["before"]),
        "after": told(name, row["after"]),
        "change": f"{sign}{shown}",
    }


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]
