"""All files of a design that hold figures, and the pages to print for site, in one folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.diagnosis.readings_form import readings_sheet
from heatloop.handover.commissioning.pack import Pack
from heatloop.handover.commissioning.tables import HANDOVER_CHECKS
from heatloop.handover.second_fix.labels import label_sheet
from heatloop.report.files.export import JSON, LABELS, READINGS, SHEET, WORKBOOK, write_csv, write_json
from heatloop.report.files.workbook import write_workbook
from heatloop.report.pages.site_sheets import sheet_html
from heatloop.results.design import Design
from heatloop.text.formatting import cell_text
from heatloop.text.table_set import table_records

if TYPE_CHECKING:
    from heatloop.handover.first_fix.plan import FirstFix
    from heatloop.handover.parts.parts_list import Handover


def all_tables(
    design: Design, handover: Handover | None = None, first_fix: FirstFix | None = None, pack: Pack | None = None
) -> dict[str, pd.DataFrame]:
    """The tables of a design and of what is handed over with it, by name; no two have one name."""
    given = (design, handover, first_fix, pack)
    return {name: frame for one in given if one is not None for name, frame in one.tables.items()}


def answers(
    design: Design, handover: Handover | None = None, first_fix: FirstFix | None = None, pack: Pack | None = None
) -> dict[str, Any]:
    """All of it in the JSON form: what `Design.to_dict` gives, then the other tables as lists of row objects, and
    the summaries of parts and commissioning as objects."""
    found = design.to_dict()
    more = all_tables(design, handover, first_fix, pack)
    found |= {name: table_records({name: frame}, {})[name] for name, frame in more.items() if name not in found}
    for name, one in (("parts_summary", handover), ("commissioning_summary", pack)):
        if one is not None:
            found[name] = table_records({}, one.summary)["summary"]
    return found


def write_files(
    design: Design,
    folder: Path | str,
    handover: Handover | None = None,
    first_fix: FirstFix | None = None,
    pack: Pack | None = None,
) -> tuple[Path, ...]:
    """Write workbook, JSON, a CSV for each table and the pages for site into an existing folder.

    OSError where it cannot.
    """
    target, tables = Path(folder), all_tables(design, handover, first_fix, pack)
    written = [
        write_workbook(target / WORKBOOK, tables, design.summary),
        write_json(target / JSON, answers(design, handover, first_fix, pack)),
        *write_csv(target, tables),
    ]
    if handover is not None:
        labels = target / LABELS
        labels.write_text(label_sheet(handover.pieces, str(design.summary["project"])), encoding="utf-8")
        written.append(labels)
    if pack is not None:
        written.append(write_sheet(pack, target))
    return tuple(written)


def write_sheet(pack: Pack, folder: Path | str) -> Path:
    """Write the sheet into an existing folder; OSError where it cannot be written."""
    path = Path(folder) / SHEET
    path.write_text(sheet_html(pack), encoding="utf-8")
    return path


def write_site_files(pack: Pack, folder: Path | str) -> tuple[Path, ...]:
    """Write the sheet and a file of readings to fill in, into a folder that is made if need be; readings that are
    there already are left as they are.

    OSError where they cannot be written.
    """
    Path(folder).mkdir(parents=True, exist_ok=True)
    readings = Path(folder) / READINGS
    try:
        with readings.open("x", encoding="utf-8", newline="\n") as file:
            file.write(readings_sheet(pack.system))
    except FileExistsError:
        return (write_sheet(pack, folder),)
    return write_sheet(pack, folder), readings


def site_text(pack: Pack, written: Sequence[Path]) -> str:
    """The files written, a line each, and after them what fails of the closed system."""
    checks = pack.handover_checks
    failed = [
        "FAILS: {check}, {subject}: found {value}, limit {limit} {unit}; {remedy}".format(
            **{column.name: cell_text(column, row[column.name]) for column in HANDOVER_CHECKS.columns}
        )
        for row in checks[checks["verdict"] == "fail"].to_dict("records")
    ]
    return "\n".join([*map(str, written), *failed])
