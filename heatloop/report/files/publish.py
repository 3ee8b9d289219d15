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
from heatloop.report.files.export import JSON, LABELS, MANIFEST, PAGE, PDF, SHEET, USER_GUIDE, WORKBOOK
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
    survey: Path | str, folder: Path | str, *, pdf: bool = False, progress: Progress | None = None
) -> PublishedReport:
    """Run the design report on a survey file and put page, workbook, CSV, JSON and site sheets into a folder.

    Parameters
    ----------
    survey : str or pathlib.Path
        The survey file (TOML).
    folder : str or pathlib.Path
        Where to put the files. Unchanged files of an earlier report, which `files.txt` lists, are replaced together;
        all other files in the folder stay as they are.
    pdf : bool, default False
        Whether to write the page as PDF too, by a Chromium on this machine.
    progress : callable, optional
        Called with the steps done, the steps in all, and the next step.

    Returns
    -------
    PublishedReport
        The paths of the files.

    Raises
    ------
    InputError
        If the survey has faults. Every issue is listed.
    ReportError
        If the folder cannot be used, or holds a file in the way.
    NotebookError
        If the notebook of the report stops on a fault of its own. After any error the folder is unchanged.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.publish_report("data/mill-annexe/survey.toml", "build/report").page.name  # doctest: +SKIP
    'report.html'
    """
    survey_path, target = Path(survey).resolve(), Path(folder).resolve()
    if pdf:
        find_chromium()  # told at once, before anything is made
    validated_survey("report", survey_path)  # a fault of the file is told at once, before anything is worked out
    with disk_faults(target):
        tidy(target)
    refuse_foreign(target, POSSIBLE, POSSIBLE)
    with atomic_write(target, POSSIBLE) as stage:
        values = {"survey_path": str(survey_path), "export_folder": str(stage)}
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


POSSIBLE = (MANIFEST, PAGE, PDF, LABELS, SHEET, USER_GUIDE, WORKBOOK, JSON, *(f"{name}.csv" for name in TABLES))


def _version() -> str:
    try:
        return metadata.version("heatloop")
    except metadata.PackageNotFoundError:
        return "(source checkout)"
