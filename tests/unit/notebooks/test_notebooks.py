"""Notebooks: stored clean, parameters strict, run from a clean kernel and agreeing with the library."""

from __future__ import annotations

import json
from pathlib import Path

import nbformat
import pytest

import heatloop as hl
from heatloop.report.files.export import NotebookError, ReportError, json_text
from heatloop.report.notebook.run_notebook import find_notebook, run_notebook, with_parameters
from tests.helpers.executed import complaints, printed
from tests.helpers.paths import DATA, ROOT

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_are_stored_without_outputs(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert code
    assert all(not cell.outputs and cell.execution_count is None for cell in code)


def _notebook(*sources: str, tagged: int = 1) -> nbformat.NotebookNode:
    cells = [nbformat.v4.new_code_cell(source) for source in sources]
    for cell in cells[:tagged]:
        cell.metadata["tags"] = ["parameters"]
    return nbformat.v4.new_notebook(cells=cells)


def test_parameters_are_set_after_the_tagged_cell_and_the_stored_notebook_stays() -> None:
    stored = _notebook('survey_path = "a"\nlimit: float = 1.0', "survey_path")
    ready = with_parameters(stored, {"survey_path": 'it\'s "here"\n', "limit": 2.5})
    assert [cell.source for cell in ready.cells[1:]] == [
        "survey_path = 'it\\'s \"here\"\\n'\nlimit = 2.5",
        "survey_path",
    ]
    assert len(stored.cells) == 2


def test_an_unknown_parameter_is_an_error() -> None:
    with pytest.raises(ReportError, match="unknown parameter survey_pth; it has survey_path"):
        with_parameters(_notebook('survey_path = "a"'), {"survey_pth": "b"})


@pytest.mark.parametrize("tagged", [0, 2])
def test_one_cell_must_be_tagged(tagged: int) -> None:
    with pytest.raises(ReportError, match=f"found {tagged} cells tagged 'parameters'; required: one"):
        with_parameters(_notebook("a = 1", "a = 2", tagged=tagged), {"a": 3})


def test_a_notebook_that_is_nowhere_is_named() -> None:
    with pytest.raises(ReportError, match=r"no_such\.ipynb"):
        find_notebook("no_such.ipynb")


def test_a_fault_in_a_cell_is_one_line(tmp_path: Path) -> None:
    notebook = _notebook("a = 1", "1 / a")
    notebook.cells.insert(1, nbformat.v4.new_markdown_cell("## Reckoning"))
    path = tmp_path / "n.ipynb"
    nbformat.write(notebook, path)
    with pytest.raises(NotebookError, match=r"'Reckoning': ZeroDivisionError") as caught:
        run_notebook(path, {"a": 0})
    assert "\n" not in str(caught.value)


def test_the_design_report_exports_what_the_library_answers(alder_draft: hl.Design, tmp_path: Path) -> None:
    survey = DATA / "alder-lodge" / "draft.toml"
    values = {"survey_path": str(survey), "export_folder": str(tmp_path)}
    notebook = run_notebook(find_notebook("design_report.ipynb"), values)
    exported = json.loads((tmp_path / "design.json").read_text(encoding="utf-8"))
    design = alder_draft
    required = json.loads(json_text(design.to_dict()))
    assert {name: exported[name] for name in required} == required
    parts = json.loads(design.parts().parts.to_json(orient="records"))
    assert [row["item"] for row in exported["parts"]] == [row["item"] for row in parts]
    assert exported["parts_summary"]["pieces"] == len(exported["pieces"]) > 0
    assert exported["commissioning_summary"]["project"] == design.summary["project"]
    assert {"pipe_positions", "cuts", "thermal_movement", "commissioning", "user_guide", "pipe_totals"} <= set(exported)
    assert not complaints(notebook)
    assert not printed(notebook)
