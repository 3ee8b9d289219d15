"""Publish a design: write the documents for every reader, all of them or none.

Everything is made in a temporary folder beside its target and moved into place at the end. So a run that fails or is
interrupted does not damage the files of an earlier run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.handover.price_file import read_prices
from heatloop.handover.quotation import quotation_from
from heatloop.report.columns.registry import TABLES
from heatloop.report.control.control import DocumentControl, document_control
from heatloop.report.control.register import REGISTER
from heatloop.report.documents.index_page import READERS
from heatloop.report.files.export import JSON, LABELS, MANIFEST, PAGE, PDF, SHEET, WORKBOOK
from heatloop.report.files.issue import AUDIENCES, INDEX, Audience, Release, Writer, documents, finish
from heatloop.report.files.pdf import find_chromium
from heatloop.report.folders.manifest import file_hash, manifest_text, refuse_foreign
from heatloop.report.folders.staging import atomic_write, disk_faults, files_below, tidy
from heatloop.text.formatting import escape_control_characters
from heatloop.workflows.commission import commission
from heatloop.workflows.order import first_fix, parts_list
from heatloop.workflows.publishing.plan_states import plan_contents
from heatloop.workflows.size import size_survey

if TYPE_CHECKING:
    from heatloop.report.notebook.run_notebook import Progress

NOTEBOOK = "design_report.ipynb"

NAMES = re.compile(rf"(?:{'|'.join(READERS)})/[A-Za-z0-9][A-Za-z0-9._-]*\.(?:html|pdf|dxf|csv|json|xlsx)")
"""Names that the files of a report have in its folders."""

AT_THE_TOP = frozenset({INDEX, REGISTER, MANIFEST})


FLAT = frozenset({PAGE, PDF, LABELS, SHEET, WORKBOOK, JSON, *(f"{name}.csv" for name in TABLES)})
"""Names of files of a report of versions up to 0.1, which had no folders: a new report removes them."""


class ReportNames:
    """Names that files of a report may have."""

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and (name in AT_THE_TOP | FLAT or NAMES.fullmatch(name) is not None)


REPORT_NAMES = ReportNames()

NO_SURCHARGE = "Quotation without a surcharge (markup_percent is 0): its prices are the costs of purchase."


@dataclass(frozen=True)
class PublishedReport:
    """Paths of the files of a report.

    Attributes
    ----------
    folder, index : pathlib.Path
        The folder, and its index page, which lists every file.
    files : tuple of pathlib.Path
        All files that were written.
    left_out : tuple of tuple of str
        Documents that were not written, each with the reason.
    headline : str
        The verdict of the design.
    release : str
        The warning of documents of a design without a failed check that are not for construction; otherwise empty.
    remarks : tuple of str
        Remarks for the author on documents that were written, as on a quotation without a surcharge.
    is_ready : bool
        Whether no check of the design fails.
    page, workbook, json_file : pathlib.Path or None
        The design report, the workbook and the figures as JSON; None where they are not for the chosen reader.
    csv, for_site : tuple of pathlib.Path
        The tables as CSV, and the pages for the fitter.
    pdf : pathlib.Path or None
        The design report as PDF.
    """

    folder: Path
    index: Path
    files: tuple[Path, ...]
    left_out: tuple[tuple[str, str], ...]
    headline: str
    release: str
    remarks: tuple[str, ...]
    is_ready: bool
    page: Path | None
    workbook: Path | None
    json_file: Path | None
    csv: tuple[Path, ...]
    for_site: tuple[Path, ...]
    pdf: Path | None


def publish_report(
    survey: Path | str,
    folder: Path | str,
    *,
    pdf: bool = False,
    prices: Path | str | None = None,
    audience: Audience | None = None,
    progress: Progress | None = None,
) -> PublishedReport:
    """Design a survey and write the documents for all readers, or for one, into a folder.

    Parameters
    ----------
    survey : str or pathlib.Path
        The survey file (TOML or .xlsx).
    folder : str or pathlib.Path
        Folder for the files. Unchanged files of an earlier report, listed in `files.txt`, are replaced together;
        other files in the folder are not changed.
    pdf : bool, default False
        Whether to write the pages also as PDF (requires Chromium). Drawings are always PDF.
    prices : str or pathlib.Path, optional
        A price file (CSV or .xlsx): with it a quotation and a priced copy of the order are written.
    audience : {"client", "fitter", "order", "check"}, optional
        Write the documents of one reader only; None writes all.
    progress : callable, optional
        Called with the steps done, the steps in all, and the next step.

    Returns
    -------
    PublishedReport
        The paths of the files.

    Raises
    ------
    InputError
        If the survey or the price file has faults. Every issue is listed.
    ReportError
        If the folder cannot be used, or contains a file that would be overwritten.
    NotebookError
        If the notebook of the design report stops with an error. After any error the folder is unchanged.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.publish_report("data/mill-annexe/survey.toml", "build/report").index.name  # doctest: +SKIP
    'index.html'
    """
    if audience is not None and audience not in AUDIENCES:
        raise InputError([InputIssue("publish_report", "audience", repr(audience), " or ".join(AUDIENCES))])
    survey_path, target = Path(survey).resolve(), Path(folder).resolve()
    if pdf:
        find_chromium()  # reported before anything is made
    if audience in (None, "check"):
        import heatloop.report.notebook.notebook_page  # noqa: F401  what is not installed is reported first
    with disk_faults(target):
        tidy(target)
    refuse_foreign(target, sorted(AT_THE_TOP), REPORT_NAMES)
    release = _release(survey_path, None if prices is None else Path(prices), audience)
    with atomic_write(target, REPORT_NAMES) as stage:
        writer = Writer(stage, release.control, pdf)
        steps = list(documents(release, audience))
        begin = 0
        if audience in (None, "check"):
            begin = _design_report(release, writer, survey_path, len(steps), progress)
        for place, (words, write) in enumerate(steps):
            if progress:
                progress(begin + place, begin + len(steps), words)
            write(writer)
        finish(release, writer)
        if progress:
            progress(begin + len(steps), begin + len(steps), "done")
        made = {name: str(file_hash(stage / name)) for name in files_below(stage)}
        refuse_foreign(target, sorted({MANIFEST, *made}), REPORT_NAMES)
        (stage / MANIFEST).write_text(manifest_text(made), encoding="utf-8", newline="\n")
    return _published(target, release, writer)


def _release(survey_path: Path, prices: Path | None, audience: Audience | None) -> Release:
    """The design, and the handover results that the chosen readers require."""
    price_list = None if prices is None else read_prices(prices)  # a fault of the file is reported before the work
    design = size_survey(survey_path)
    control = document_control(design.survey, design.verdict, prices=prices)
    parts = parts_list(design) if audience in (None, "fitter", "order", "check") or prices is not None else None
    plan = plan_contents(design, parts) if audience in (None, "client", "check") else None
    return Release(
        design,
        control,
        commission(design),
        parts,
        first_fix(design) if audience in (None, "fitter", "check") else None,
        None if parts is None or price_list is None else quotation_from(parts, price_list),
        plan,
    )


def _design_report(release: Release, writer: Writer, survey_path: Path, more: int, progress: Progress | None) -> int:
    """Write the design report from its notebook; returns the number of its steps."""
    from heatloop.report.documents.design_report import DESIGN_REPORT, FEW_ROOMS, front_css, front_page
    from heatloop.report.documents.document import Numbering
    from heatloop.report.notebook.notebook_page import FrontPage, page_html
    from heatloop.report.notebook.run_notebook import find_notebook, run_notebook, usual_runner

    counted = [0]

    def tell(done: int, total: int, label: str) -> None:
        counted[0] = total
        if progress and done < total:
            progress(done, total + more, label)

    values = {"survey_path": str(survey_path), "export_folder": ""}
    notebook = run_notebook(find_notebook(NOTEBOOK), values, tell, usual_runner(_results(release)))
    control, numbers = release.control, Numbering()
    body = front_page(release.design, release.pack, control, numbers)
    rooms = len(release.design.frames["rooms"])
    front = FrontPage(body, front_css(control, rooms), writer.foot(DESIGN_REPORT.code), with_list=rooms > FEW_ROOMS)
    title = escape_control_characters(control.project)
    writer.page("DR", "check", page_html(notebook, title, control.version, control.made_on, front, numbers))
    return counted[0]


def _results(release: Release) -> dict[str, object]:
    """The results of a release by their names in the notebook of the design report."""
    from heatloop.workflows.design import Design  # here, because the other documents do without
    from heatloop.workflows.handed_over import Commissioning, PartsList

    results: dict[str, object] = {
        "design": Design.of(release.design),
        "commissioning": Commissioning.of(release.pack),
    }
    return results if release.parts is None else {**results, "parts": PartsList.of(release.parts)}


def _published(target: Path, release: Release, writer: Writer) -> PublishedReport:
    control: DocumentControl = release.control
    paths = {file.name: target / file.name for file in writer.files}

    def named(code: str, folder: str, extension: str = "html") -> Path | None:
        return paths.get(f"{folder}/{control.file_name(code, extension)}")

    site = [path for name, path in paths.items() if name.startswith("fitter/") and name.endswith(".html")]
    return PublishedReport(
        folder=target,
        index=target / INDEX,
        files=(target / INDEX, target / REGISTER, *paths.values()),
        left_out=tuple(writer.left_out),
        headline=control.headline,
        release="" if release.design.verdict.fails else control.warning,
        remarks=(NO_SURCHARGE,) if named("QU", "client") and not release.design.survey.quotation.markup_percent else (),
        is_ready=not release.design.verdict.fails,
        page=named("DR", "check"),
        workbook=named("WB", "check", "xlsx"),
        json_file=paths.get(f"data/{JSON}"),
        csv=tuple(path for name, path in paths.items() if name.startswith("data/") and name.endswith(".csv")),
        for_site=tuple(site),
        pdf=named("DR", "check", "pdf"),
    )
