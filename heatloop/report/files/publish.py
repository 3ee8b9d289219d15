"""Publish a design: one page, one workbook, CSV and JSON, all of it or nothing.

Everything is made in a temporary folder beside its target and moved into place at the very end, so
that a run that fails or is interrupted leaves the files of an earlier run whole.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from heatloop.layout.build import validated_survey
from heatloop.report.columns.registry import TABLES
from heatloop.report.files.export import JSON, LABELS, MANIFEST, PAGE, PDF, SHEET, WORKBOOK
from heatloop.report.files.pdf import find_chromium, print_pdf
from heatloop.report.folders.manifest import file_hash, manifest_text, refuse_foreign
from heatloop.report.folders.staging import atomic_write, disk_faults, tidy
from heatloop.report.notebook.notebook_page import page_html
from heatloop.report.notebook.run_notebook import Progress, find_notebook, run_notebook
from heatloop.text.formatting import escape_control_characters

NOTEBOOK = "design_report.ipynb"


@dataclass(frozen=True)
class PublishedReport:
    """Where the files of a report lie."""

    folder: Path
    page: Path
    workbook: Path
    json_file: Path
    csv: tuple[Path, ...]
    for_site: tuple[Path, ...]
    pdf: Path | None = None


def publish_report(
    survey_path: Path | str, folder: Path | str, progress: Progress | None = None, pdf: bool = False
) -> PublishedReport:
    """Run the design report on a survey and put page, workbook, CSV, JSON and the pages for site into `folder`.

    pdf: the page as PDF too, through a Chromium of the machine. progress is called with (steps done, steps in all,
    what comes next). Files of an earlier report, which `files.txt` names and nobody has changed since, are replaced
    together, or removed where this report has none of that name; all others in the folder are left alone, and one in
    the way is an error.
    Raises SurveyError, ReportError (survey or disk at fault, one line for each fault) or NotebookFailed; either way,
    and when interrupted, nothing in the folder has changed.
    """
    survey, target = Path(survey_path).resolve(), Path(folder).resolve()
    if pdf:
        find_chromium()  # told at once, before anything is made
    validated_survey("report", survey)  # a fault of the file is told at once, before anything is worked out
    with disk_faults(target):
        tidy(target)
    refuse_foreign(target, POSSIBLE, POSSIBLE)
    with atomic_write(target, POSSIBLE) as stage:
        values = {"survey_path": str(survey), "export_folder": str(stage)}
        notebook = run_notebook(find_notebook(NOTEBOOK), values, progress)
        summary = json.loads((stage / JSON).read_text(encoding="utf-8"))["summary"]
        page = page_html(notebook, escape_control_characters(summary["project"]), _version(), dt.date.today())
        (stage / PAGE).write_text(page, encoding="utf-8")
        if pdf:
            print_pdf(stage / PAGE, stage / PDF)
        tables = sorted(path.name for path in stage.glob("*.csv"))
        made = {path.name: str(file_hash(path)) for path in stage.iterdir()}
        refuse_foreign(target, sorted({MANIFEST, *made}), POSSIBLE)
        (stage / MANIFEST).write_text(manifest_text(made), encoding="utf-8", newline="\n")
    return PublishedReport(
        folder=target,
        page=target / PAGE,
        workbook=target / WORKBOOK,
        json_file=target / JSON,
        csv=tuple(target / name for name in tables),
        for_site=(target / LABELS, target / SHEET),
        pdf=target / PDF if pdf else None,
    )


POSSIBLE = (MANIFEST, PAGE, PDF, LABELS, SHEET, WORKBOOK, JSON, *(f"{name}.csv" for name in TABLES))


def _version() -> str:
    try:
        return metadata.version("heatloop")
    except metadata.PackageNotFoundError:
        return "(source checkout)"
