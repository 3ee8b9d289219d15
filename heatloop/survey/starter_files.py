"""Files to begin with: a small invented survey that runs at once, its catalogue, and a notebook that shows it."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Any

from heatloop.survey.drawing.options import DrawingOptions
from heatloop.survey.drawing.read_dxf import read_drawing
from heatloop.survey.drawing.survey_template import TemplateOptions, survey_skeleton, write_if_absent
from heatloop.survey.read import read_catalogue

SURVEY, CATALOGUE, NOTEBOOK = "survey.toml", "catalogue.toml", "design.ipynb"

CELLS: tuple[tuple[str, str], ...] = (
    (
        "markdown",
        "# Design of a survey\n\n"
        "Edit `survey.toml` and `catalogue.toml` beside this notebook, then run all cells again. Every fault of the\n"
        "files is told in one line with its place. The rooms and the products are invented until you replace them.",
    ),
    (
        "code",
        "import heatloop as hl\n"
        "from heatloop.handover.first_fix.plan import plan_first_fix\n"
        "from heatloop.layout.plan_coordinates import rooms_by_storey\n"
        "from heatloop.report.pages import captions\n"
        "from heatloop.report.plans import first_fix as first_fix_plot\n"
        "from heatloop.report.plans import storey_plan\n"
        "from heatloop.report.plots import room_output\n\n"
        f'design = hl.size("{SURVEY}")\n'
        "captions.verdict(design)",
    ),
    ("markdown", "## Rooms\n\nHeat loss at the outdoor design temperature beside what the skirting gives, in watts."),
    ("code", "room_output.room_output(design)\ndesign.rooms"),
    ("markdown", "## Loops\n\nFlow, temperatures, pressure drop and presetting of each loop."),
    ("code", "design.loops"),
    ("markdown", "## Plan"),
    (
        "code",
        "for level_m, rooms in rooms_by_storey(design.survey, design.layout).items():\n"
        "    storey_plan.level_plan_plot(design, level_m, rooms)",
    ),
    ("markdown", "## What to change or watch\n\nEvery limit that is not met or nearly reached, and what would help."),
    ("code", 'design.checks[design.checks["verdict"] != "pass"]'),
    ("markdown", "## Parts"),
    ("code", "parts = hl.parts(design)\nparts.parts"),
    ("markdown", "## First fix\n\nWhere each pipe must stand before the floors close."),
    (
        "code",
        "first_fix = plan_first_fix(design.survey, design.layout)\n"
        "for sheet in first_fix_plot.sheets(first_fix):\n"
        "    first_fix_plot.first_fix_plot(first_fix, sheet)\n"
        "first_fix.pipe_totals",
    ),
)


def start_files(folder: str | Path) -> list[Path]:
    """Write a survey, its catalogue and a notebook into a folder, made if need be; the paths written.

    The survey is of two invented rooms and can be sized as it stands. Raises SurveyError, with nothing written, if
    one of the files is there already or the folder cannot be written to.
    """
    target = Path(folder)
    texts = resources.files("heatloop.survey").joinpath("templates")
    return write_if_absent(
        target,
        {
            SURVEY: texts.joinpath(SURVEY).read_text(encoding="utf-8"),
            CATALOGUE: texts.joinpath(CATALOGUE).read_text(encoding="utf-8"),
            NOTEBOOK: json.dumps(_notebook(), indent=1, ensure_ascii=False) + "\n",
        },
    )


def drawn_files(
    folder: str | Path, drawing: str | Path, layer: str, options: DrawingOptions | None = None
) -> list[Path]:
    """Write a survey of the rooms drawn on a layer of a DXF file, to be filled in, and a catalogue; the paths written.

    What the drawing does not tell stands as "?". Raises SurveyError, with nothing written, for every fault of the
    drawing, each with its coordinates, and as :func:`start_files`.
    """
    texts = resources.files("heatloop.survey").joinpath("templates")
    catalogue = texts.joinpath(CATALOGUE)
    with resources.as_file(catalogue) as path:
        entries = read_catalogue(path)
    rooms = read_drawing(drawing, layer, options)
    known = TemplateOptions(project=Path(drawing).stem, catalogue=CATALOGUE, entries=entries)
    files = {SURVEY: survey_skeleton(rooms, known), CATALOGUE: catalogue.read_text(encoding="utf-8")}
    return write_if_absent(Path(folder), files)


def _notebook() -> dict[str, Any]:
    """The notebook in format 4.5, without outputs."""
    cells = []
    for number, (kind, text) in enumerate(CELLS, start=1):
        cell: dict[str, Any] = {"cell_type": kind, "id": f"cell-{number:02}", "metadata": {}}
        if kind == "code":
            cell |= {"execution_count": None, "outputs": []}
        cells.append({**cell, "source": text.splitlines(keepends=True)})
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    metadata = {"kernelspec": kernel, "language_info": {"name": "python"}}
    return {"cells": cells, "metadata": metadata, "nbformat": 4, "nbformat_minor": 5}
