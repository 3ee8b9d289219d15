"""Files of a new project: a small invented survey that can be sized, its catalogue, and a notebook."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from importlib import resources
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.drawing.options import DrawingOptions
from heatloop.survey.drawing.read_dxf import read_drawing
from heatloop.survey.drawing.rooms import DrawnRoom
from heatloop.survey.drawing.survey_template import TemplateOptions, survey_skeleton, write_if_absent
from heatloop.survey.read import read_catalogue
from heatloop.survey.toml.toml_reader import load_toml
from heatloop.survey.workbook.sheets import SURVEY_SHEETS

SURVEY, WORKBOOK, CATALOGUE, NOTEBOOK = "survey.toml", "survey.xlsx", "catalogue.toml", "design.ipynb"

CELLS: tuple[tuple[str, str], ...] = (
    (
        "markdown",
        "# Design of a survey\n\n"
        "Edit `survey.toml` and `catalogue.toml` beside this notebook, then run all cells again. Every error in the\n"
        "files is reported in one line with its place. Rooms and products are invented; replace them with your own.",
    ),
    ("code", f'import heatloop as hl\n\ndesign = hl.size("{SURVEY}")\ndesign.show.verdict()'),
    ("markdown", "## Rooms\n\nHeat loss at the outdoor design temperature and output of the skirting, in watts."),
    ("code", "display(design.plots.rooms())\ndesign.show.rooms()"),
    ("markdown", "## Loops\n\nFlow, temperatures, pressure drop and presetting of each loop."),
    ("code", "design.loops"),
    ("markdown", "## Plan"),
    ("code", "for level_m in design.levels_m:\n    display(design.plots.storey_plan(level_m))"),
    ("markdown", "## Recommended changes\n\nAll failed checks and cautions, with recommendations."),
    ("code", 'design.checks[design.checks["verdict"] != "pass"]'),
    ("markdown", "## Parts"),
    ("code", "parts = design.parts()\nparts.show.parts()"),
    ("markdown", "## First fix\n\nPosition of each pipe before the floors close."),
    (
        "code",
        "first_fix = design.first_fix()\n"
        "for sheet in first_fix.sheets():\n"
        "    display(first_fix.plots.sheet(sheet))\n"
        "first_fix.show.pipe_totals()",
    ),
)


def start_project(
    folder: str | Path,
    *,
    workbook: bool = False,
    drawing: str | Path | None = None,
    layer: str | Sequence[str] = "ROOMS",
    level_m: float | Sequence[float] = 0.0,
    units: str | None = None,
    north_deg: float = 0.0,
) -> list[Path]:
    """Write the files of a new project: a survey, its catalogue and, without a drawing, a notebook.

    Parameters
    ----------
    folder : str or pathlib.Path
        Where to put the files; the folder is created if it does not exist.
    workbook : bool, default False
        Whether the survey is a workbook (survey.xlsx) in place of a TOML file; not with a drawing.
    drawing : str or pathlib.Path, optional
        A DXF drawing whose rooms are taken; missing values are marked "?". Without a drawing
        the survey is of two invented rooms and can be sized as it is.
    layer : str or sequence of str, default "ROOMS"
        Layer of the drawing with the outlines of the rooms, or one layer for each floor.
    level_m : float or sequence of float, default 0.0
        Level of the floor in m, one for all layers or one for each.
    units : str, optional
        Unit of the drawing, "mm" or "m", where the drawing itself does not state one.
    north_deg : float, default 0.0
        Bearing of the upward direction of the drawing in degrees.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    InputError
        If a file is already there, the folder cannot be written, or the drawing has faults; nothing is written then.

    Examples
    --------
    >>> import heatloop as hl, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in hl.start_project(folder)]
    ['survey.toml', 'catalogue.toml', 'design.ipynb']
    """
    if drawing is None:
        return start_workbook(folder) if workbook else start_files(folder)
    if workbook:
        found = "workbook and drawing together"
        raise InputError([InputIssue("start_project", "workbook", found, "one of them: convert the drawn survey")])
    layers = (layer,) if isinstance(layer, str) else tuple(layer)
    levels = tuple(level_m) if isinstance(level_m, Sequence) else (level_m,) * len(layers)
    return drawn_files(folder, drawing, layers, DrawingOptions(units=units, north_deg=north_deg, levels_m=levels))


def start_files(folder: str | Path) -> list[Path]:
    """Write a survey, its catalogue and a notebook into a folder, created if necessary; return the paths.

    The survey is of two invented rooms and can be sized as it is. Raises InputError, with nothing written, if
    one of the files is there already or the folder cannot be written to.
    """
    target = Path(folder)
    texts = resources.files("heatloop.survey").joinpath("templates")
    return write_if_absent(
        target,
        {
            SURVEY: texts.joinpath(SURVEY).read_text(encoding="utf-8"),
            CATALOGUE: texts.joinpath(CATALOGUE).read_text(encoding="utf-8"),
            NOTEBOOK: json.dumps(_notebook(SURVEY), indent=1, ensure_ascii=False) + "\n",
        },
    )


def start_workbook(folder: str | Path) -> list[Path]:
    """Write a survey as a workbook, its catalogue and a notebook into a folder, as :func:`start_files`."""
    from heatloop.survey.workbook.write_workbook import workbook_bytes  # here: openpyxl takes a while

    texts = resources.files("heatloop.survey").joinpath("templates")
    with resources.as_file(texts) as held:
        entries = read_catalogue(held / CATALOGUE)
        tables = load_toml(held / SURVEY)
    target = Path(folder)
    return write_if_absent(
        target,
        {
            WORKBOOK: workbook_bytes(target / WORKBOOK, SURVEY_SHEETS, tables, entries),
            CATALOGUE: texts.joinpath(CATALOGUE).read_text(encoding="utf-8"),
            NOTEBOOK: json.dumps(_notebook(WORKBOOK), indent=1, ensure_ascii=False) + "\n",
        },
    )


def drawn_files(
    folder: str | Path, drawing: str | Path, layer: str | Sequence[str], options: DrawingOptions | None = None
) -> list[Path]:
    """Write a survey of the rooms drawn on layers of a DXF file, to be filled in, and a catalogue; the paths written.

    Values that the drawing does not contain are marked "?". Raises InputError, with nothing written,
    for every issue of the drawing, each with its coordinates, and as :func:`start_files`.
    """
    return begun_files(folder, read_drawing(drawing, layer, options), TemplateOptions(project=Path(drawing).stem))


def begun_files(folder: str | Path, rooms: Sequence[DrawnRoom], known: TemplateOptions) -> list[Path]:
    """Write a survey of rooms from a drawing, to be filled in, and a catalogue; the paths written.

    Raises InputError, with nothing written, as :func:`start_files`.
    """
    catalogue = resources.files("heatloop.survey").joinpath("templates").joinpath(CATALOGUE)
    with resources.as_file(catalogue) as path:
        entries = read_catalogue(path)
    text = survey_skeleton(rooms, replace(known, catalogue=CATALOGUE, entries=entries))
    return write_if_absent(Path(folder), {SURVEY: text, CATALOGUE: catalogue.read_text(encoding="utf-8")})


def _notebook(survey: str) -> dict[str, Any]:
    """The notebook of a survey file in format 4.5, without outputs."""
    cells = []
    for number, (kind, text) in enumerate(CELLS, start=1):
        cell: dict[str, Any] = {"cell_type": kind, "id": f"cell-{number:02}", "metadata": {}}
        if kind == "code":
            cell |= {"execution_count": None, "outputs": []}
        cells.append({**cell, "source": text.replace(SURVEY, survey).splitlines(keepends=True)})
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    metadata = {"kernelspec": kernel, "language_info": {"name": "python"}}
    return {"cells": cells, "metadata": metadata, "nbformat": 4, "nbformat_minor": 5}
