"""The drawings of first fix as files of an issue, each with its identification."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.register import RegisteredFile
from heatloop.report.drawings.first_fix_sheets import CODE, first_fix_sheets
from heatloop.report.drawings.writers.sheet_dxf import write_sheets_dxf
from heatloop.report.drawings.writers.sheet_pdf import write_sheets_pdf
from heatloop.text.formatting import number

DRAWING_CODE = "DX"


def write_first_fix(first_fix: FirstFixResult, control: DocumentControl, folder: Path) -> tuple[RegisteredFile, ...]:
    """Write all sheets as one PDF, and a DXF file for each level where the library for it is installed.

    Nothing is written for a first fix without positions. OSError where a file cannot be written.
    """
    sheets = first_fix_sheets(first_fix, control)
    if not sheets:
        return ()
    name = control.file_name(CODE, "pdf")
    write_sheets_pdf(folder / name, sheets, f"{control.project}: first fix", control.issued_on)
    written = [RegisteredFile(name, control.identification(CODE))]
    if find_spec("ezdxf") is None:
        return tuple(written)
    for index, level_m in enumerate(dict.fromkeys(sheet.level_m for sheet in sheets), start=1):
        own = [sheet for sheet in sheets if sheet.level_m == level_m]
        level = f"level {number(level_m, 2)}"
        name = control.file_name(DRAWING_CODE, "dxf", index, level)
        write_sheets_dxf(folder / name, own)
        written.append(RegisteredFile(name, control.identification(DRAWING_CODE, index), f"{level} m"))
    return tuple(written)
