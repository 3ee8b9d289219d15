"""All files of a design that hold figures, and the pages to print for site, in one folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.handover.labels import label_sheet
from heatloop.report.export import write_csv, write_json
from heatloop.report.filenames import JSON, LABELS, WORKBOOK
from heatloop.report.sheet import write_sheet
from heatloop.report.workbook import write_workbook
from heatloop.result import table_records

if TYPE_CHECKING:
    from heatloop.handover.first_fix import FirstFix
    from heatloop.handover.handover_pack import Pack
    from heatloop.handover.parts import Handover
    from heatloop.result import Design


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
