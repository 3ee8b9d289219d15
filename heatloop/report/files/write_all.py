"""Write all data files of a design, and the pages to print for site, into one folder."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.diagnosis.readings_form import readings_sheet
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.commissioning.tables import HANDOVER_CHECKS
from heatloop.report.control.control import document_control
from heatloop.report.documents.commissioning_sheet import commissioning_sheet
from heatloop.report.documents.labels import label_sheet
from heatloop.report.documents.user_guide import user_guide
from heatloop.report.files.export import (
    JSON,
    LABELS,
    READINGS,
    SHEET,
    USER_GUIDE,
    WORKBOOK,
    ReportError,
    write_csv,
    write_json,
)
from heatloop.report.folders.manifest import file_hash, note_replaced
from heatloop.report.workbook.book import HandedOver, write_workbook
from heatloop.results.design import DesignResult
from heatloop.text.files import file_bytes, write_whole
from heatloop.text.formatting import cell_text
from heatloop.text.quoting import single_line
from heatloop.text.table_set import table_records

if TYPE_CHECKING:
    from heatloop.handover.first_fix.plan import FirstFixResult
    from heatloop.handover.parts.parts_list import PartsListResult


MADE_HERE = '<footer class="screen-foot">'
"""Markup that every sheet ends with: a page without it was not written by heatloop."""


def all_tables(
    design: DesignResult,
    handover: PartsListResult | None = None,
    first_fix: FirstFixResult | None = None,
    pack: CommissioningResult | None = None,
) -> dict[str, pd.DataFrame]:
    """The tables of a design and of its handover results, by unique name."""
    results = (design, handover, first_fix, pack)
    return {name: frame for result in results if result is not None for name, frame in result.tables.items()}


def design_json(
    design: DesignResult,
    handover: PartsListResult | None = None,
    first_fix: FirstFixResult | None = None,
    pack: CommissioningResult | None = None,
) -> dict[str, Any]:
    """All of it in the JSON form: what `Design.to_dict` gives, then the other tables as lists of row objects, and
    the summaries of parts and commissioning as objects."""
    document = design.to_dict()
    more = all_tables(design, handover, first_fix, pack)
    document |= {name: table_records({name: frame}, {})[name] for name, frame in more.items() if name not in document}
    for name, result in (("parts_summary", handover), ("commissioning_summary", pack)):
        if result is not None:
            document[name] = table_records({}, result.summary)["summary"]
    return document


def write_design_files(
    design: DesignResult,
    folder: Path | str,
    handover: PartsListResult | None = None,
    first_fix: FirstFixResult | None = None,
    pack: CommissioningResult | None = None,
) -> tuple[Path, ...]:
    """Write workbook, JSON, a CSV for each table and the pages for site into an existing folder.

    OSError where it cannot.
    """
    target, tables = Path(folder), all_tables(design, handover, first_fix, pack)
    written = [
        write_workbook(
            target / WORKBOOK,
            design,
            document_control(design.survey, design.verdict),
            HandedOver(handover, first_fix, pack),
        ),
        write_json(target / JSON, design_json(design, handover, first_fix, pack)),
        *write_csv(target, tables),
    ]
    if handover is not None:
        labels = target / LABELS
        labels.write_text(label_sheet(handover, document_control(design.survey, design.verdict)), encoding="utf-8")
        written.append(labels)
    if pack is not None:
        written.append(write_sheet(pack, target))
        guide = target / USER_GUIDE
        guide.write_text(user_guide(pack, document_control(design.survey, design.verdict)), encoding="utf-8")
        written.append(guide)
    return tuple(written)


def write_sheet(pack: CommissioningResult, folder: Path | str) -> Path:
    """Write the sheet into an existing folder; OSError where it cannot be written."""
    path = Path(folder) / SHEET
    path.write_text(commissioning_sheet(pack, document_control(pack.system.survey, pack.verdict)), encoding="utf-8")
    return path


def write_site_files(pack: CommissioningResult, folder: Path | str) -> tuple[Path, ...]:
    """Write the sheet and a form for readings into a folder, which is created if it does not exist; readings that
    exist already are not changed.

    ReportError if the folder holds a sheet that heatloop did not write, OSError if they cannot be written.
    """
    check_sheet(Path(folder))
    Path(folder).mkdir(parents=True, exist_ok=True)
    sheet, readings = Path(folder) / SHEET, Path(folder) / READINGS
    before = file_hash(sheet)
    write_whole(sheet, commissioning_sheet(pack, document_control(pack.system.survey, pack.verdict)))
    note_replaced(sheet, before)
    if os.path.lexists(readings):
        return (sheet,)
    write_whole(readings, readings_sheet(pack.system), over=False)
    return sheet, readings


def check_sheet(folder: Path) -> None:
    """Raise ReportError if the folder is a file, or a file with the name of the commissioning sheet is not such a
    sheet."""
    if os.path.lexists(folder) and not folder.is_dir():
        raise ReportError(f"{single_line(str(folder))}: found a file; required: a folder")
    path = folder / SHEET
    if not os.path.lexists(path):
        return
    try:
        text = "" if path.is_symlink() else file_bytes(path).decode("utf-8")
    except (OSError, ValueError):
        text = ""
    if MADE_HERE not in text:
        found = f"found {SHEET}, which heatloop did not write"
        raise ReportError(
            f"{single_line(str(folder))}: {found}; required: a folder without this file, so that nothing is overwritten"
        )


def site_text(pack: CommissioningResult, written: Sequence[Path]) -> str:
    """The files written, one line each, then the failed checks of the closed system."""
    checks = pack.commissioning_checks
    failed = [
        "FAILS: {check}, {location}: calculated {calculated}, limit {limit} {unit}; {recommendation}".format(
            **{column.name: cell_text(column, row[column.name]) for column in HANDOVER_CHECKS.columns}
        )
        for row in checks[checks["verdict"] == "fail"].to_dict("records")
    ]
    return "\n".join([*(single_line(str(path)) for path in written), *failed])
