"""Publish a design: one page, one workbook, CSV and JSON, all of it or nothing.

Everything is made in a temporary folder beside its target and moved into place at the very end, so
that a run that fails or is interrupted leaves the files of an earlier run whole.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from heatloop.layout.build import validated_survey
from heatloop.report.columns.registry import TABLES
from heatloop.report.files.export import JSON, LABELS, MANIFEST, PAGE, PDF, SHEET, WORKBOOK, ReportError
from heatloop.report.files.pdf import find_chromium, print_pdf
from heatloop.report.notebook.notebook_page import page_html
from heatloop.report.notebook.run_notebook import Progress, find_notebook, run_notebook
from heatloop.text.formatting import printable

NOTEBOOK = "design_report.ipynb"
MANIFEST_HEAD = "Files of this report; the next report into this folder replaces or removes them and touches no others."


@dataclass(frozen=True)
class Published:
    """Where the files of a report lie."""

    folder: Path
    page: Path
    workbook: Path
    json_file: Path
    csv: tuple[Path, ...]
    for_site: tuple[Path, ...]
    pdf: Path | None = None


def publish(
    survey_path: Path | str, folder: Path | str, progress: Progress | None = None, pdf: bool = False
) -> Published:
    """Run the design report on a survey and put page, workbook, CSV, JSON and the pages for site into `folder`.

    pdf: the page as PDF too, through a Chromium of the machine. progress is called with (steps done, steps in all,
    what comes next). Files of an earlier report, which `files.txt` names, are replaced together, or removed where this
    report has none of that name; all others in the folder are left alone, and one in the way is an error.
    Raises SurveyError, ReportError (survey or disk at fault, one line for each fault) or NotebookFailed; either way,
    and when interrupted, nothing in the folder has changed.
    """
    survey, target = Path(survey_path).resolve(), Path(folder).resolve()
    if pdf:
        find_chromium()  # told at once, before anything is made
    validated_survey("report", survey)  # a fault of the file is told at once, before anything is worked out
    _refuse_foreign(target, _POSSIBLE)
    with staged(target) as stage:
        values = {"survey_path": str(survey), "export_folder": str(stage)}
        notebook = run_notebook(find_notebook(NOTEBOOK), values, progress)
        summary = json.loads((stage / JSON).read_text(encoding="utf-8"))["summary"]
        page = page_html(notebook, printable(summary["project"]), _version(), dt.date.today())
        (stage / PAGE).write_text(page, encoding="utf-8")
        if pdf:
            print_pdf(stage / PAGE, stage / PDF)
        tables = sorted(path.name for path in stage.glob("*.csv"))
        made = sorted({MANIFEST, *(path.name for path in stage.iterdir())})
        _refuse_foreign(target, made)
        (stage / MANIFEST).write_text("\n".join([MANIFEST_HEAD, *made]) + "\n", encoding="utf-8")
    return Published(
        folder=target,
        page=target / PAGE,
        workbook=target / WORKBOOK,
        json_file=target / JSON,
        csv=tuple(target / name for name in tables),
        for_site=(target / LABELS, target / SHEET),
        pdf=target / PDF if pdf else None,
    )


_POSSIBLE = (MANIFEST, PAGE, PDF, LABELS, SHEET, WORKBOOK, JSON, *(f"{name}.csv" for name in TABLES))


def _of_earlier_report(folder: Path) -> set[str]:
    """Names of the files that an earlier report put into the folder; none where no list of ours is there."""
    try:
        head, *names = (folder / MANIFEST).read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError):
        return set()
    return {MANIFEST, *(name for name in names if name == Path(name).name)} if head == MANIFEST_HEAD else set()


def _refuse_foreign(folder: Path, names: Iterable[str]) -> None:
    """ReportError where one of these files is there already and is not of an earlier report."""
    ours = _of_earlier_report(folder)
    foreign = [name for name in names if name not in ours and os.path.lexists(folder / name)]
    if foreign:
        told = ", ".join(foreign[:4]) + (f" and {len(foreign) - 4} more" if len(foreign) > 4 else "")
        raise ReportError(
            f"{folder}: found {told}, which no earlier report made (by its {MANIFEST}); wanted a folder without, so "
            "that nothing of yours is overwritten"
        )


@contextmanager
def staged(target: Path) -> Iterator[Path]:
    """A temporary folder whose files move into `target` when the block ends well, and only then.

    Disk faults come out as ReportError; on any failure `target` is as it was.
    """
    made_target = not target.exists()
    parent = target.parent if made_target else target
    try:
        parent.mkdir(parents=True, exist_ok=True)
        stage = Path(tempfile.mkdtemp(prefix=".heatloop-", dir=parent))
    except OSError as error:
        raise _disk_fault(target, error) from error
    try:
        yield stage
        with _uninterrupted():
            if made_target:
                stage.chmod(0o777 & ~_umask())
                stage.rename(target)
            else:
                _replace_together(stage, target)
    except OSError as error:
        raise _disk_fault(target, error) from error
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _replace_together(stage: Path, target: Path) -> None:
    """Move every file of `stage` into `target` and drop what an earlier report had besides; if one will not go, put
    the earlier ones back."""
    new = sorted(stage.iterdir())
    kept = Path(tempfile.mkdtemp(dir=stage))
    stale = sorted(_of_earlier_report(target) - {path.name for path in new})
    done: list[Path] = []
    try:
        for name in stale:
            if (target / name).is_file():
                (target / name).rename(kept / name)
                done.append(target / name)
        for path in new:
            place = target / path.name
            if place.exists():
                place.rename(kept / path.name)
            done.append(place)
            path.rename(place)
    except OSError:
        for place in done:
            place.unlink(missing_ok=True)
            if (kept / place.name).exists():
                (kept / place.name).rename(place)
        raise


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Ctrl-C comes too late in the moment in which files change places: all of them do."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _disk_fault(target: Path, error: OSError) -> ReportError:
    where = error.filename or target
    return ReportError(f"{target}: cannot write the report ({error.strerror or error}: {where}); nothing changed")


def _version() -> str:
    try:
        return metadata.version("heatloop")
    except metadata.PackageNotFoundError:
        return "(source checkout)"
