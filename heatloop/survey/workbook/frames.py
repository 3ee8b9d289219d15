"""The sheets of a survey as data frames."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from heatloop.survey.workbook.rows import FoundRows, Grid, grids_of, tables_of
from heatloop.survey.workbook.sheets import FORM, SheetSet

if TYPE_CHECKING:
    import pandas as pd


def frames_of(sheets: SheetSet, tables: Mapping[str, Any]) -> dict[str, pd.DataFrame]:
    """Every sheet that has rows, with a column for each key in use; blank cells are None."""
    import pandas as pd

    frames = {}
    for grid in grids_of(sheets, tables):
        rows = [row for _, row in grid.rows]
        if grid.title == FORM:
            rows = [row for row in rows if row[2] is not None]
        used = [i for i in range(len(grid.headings)) if any(row[i] is not None for row in rows)]
        if rows:
            columns = {grid.headings[i]: pd.Series([row[i] for row in rows], dtype=object) for i in used}
            frames[grid.title] = pd.DataFrame(columns)
    return frames


def tables_of_frames(sheets: SheetSet, frames: Mapping[str, pd.DataFrame], file: str) -> FoundRows:
    """Tables from data frames by the titles of the sheets; error messages count rows from 1."""
    grids = [
        Grid(title, tuple(frame.columns), tuple(enumerate((tuple(map(_held, row)) for row in frame.values), start=1)))
        for title, frame in frames.items()
    ]
    headings = {grid.title: grid.headings for grid in grids}

    def address(title: str, row: int, column: int) -> str:
        held = headings[title]
        return f"{title}, row {row}" + (f", {held[column - 1]}" if column <= len(held) else "")

    return tables_of(sheets, grids, address, file)


def _held(cell: Any) -> Any:
    """A cell as a Python value; the missing values of pandas as None."""
    if isinstance(cell, np.generic):
        cell = cell.item()
    return None if cell is None or cell != cell or type(cell).__name__ in ("NAType", "NaTType") else cell
