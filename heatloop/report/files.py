"""All files of a design that hold figures, in one folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.report.export import write_csv, write_json
from heatloop.report.filenames import JSON, WORKBOOK
from heatloop.report.workbook import write_workbook

if TYPE_CHECKING:
    from heatloop.result import Design


def write_files(design: Design, folder: Path | str) -> tuple[Path, ...]:
    """Write workbook, JSON and a CSV for each table into an existing folder; OSError where it cannot."""
    target, tables = Path(folder), design.tables
    return (
        write_workbook(target / WORKBOOK, tables, design.summary),
        write_json(target / JSON, design.to_dict()),
        *write_csv(target, tables),
    )
