"""Notebooks and documentation use the library as a user does: by its public names alone."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import nbformat
import pytest

import heatloop as hl
from heatloop.survey.starter_files import CELLS
from tests.helpers.paths import ROOT

NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
ALLOWED = {
    "heatloop", "numpy", "pandas", "matplotlib", "ipywidgets", "IPython", "pathlib", "tempfile", "dataclasses", "json",
}  # fmt: skip
"""Libraries that a notebook or an example may import; of heatloop itself only the package and its `physics`."""


def imports(code: str) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


def wrong(code: str) -> list[str]:
    public = {f"heatloop.{name}" for name in hl.__all__}
    return sorted(
        name
        for name in imports(code)
        if name.split(".")[0] not in ALLOWED
        or (name.startswith("heatloop.") and name not in public and not name.startswith("heatloop.physics"))
    )


def code_of(notebook: Path) -> str:
    return "\n".join(cell.source for cell in nbformat.read(notebook, as_version=4).cells if cell.cell_type == "code")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_imports_the_package_alone(path: Path) -> None:
    assert not wrong(code_of(path))


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_a_page_imports_the_package_alone(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    for block in re.findall(r"```python\n(.*?)```", text, re.S):
        assert not wrong(block)
    assert not re.findall(r"`heatloop\.(?!physics|toml\b)[a-z_]+\.[a-z_.]+`", text)


def test_the_starter_notebook_imports_the_package_alone() -> None:
    assert not wrong("\n".join(text for kind, text in CELLS if kind == "code"))


def test_a_column_list_is_no_part_of_the_design_report() -> None:
    stored = json.loads((ROOT / "notebooks" / "design_report.ipynb").read_text(encoding="utf-8"))
    code = "\n".join("".join(cell["source"]) for cell in stored["cells"] if cell["cell_type"] == "code")
    assert not [node for node in ast.walk(ast.parse(code)) if isinstance(node, ast.List)]


def test_what_is_wrong_is_seen() -> None:
    assert wrong("from heatloop.report.plots import style") == ["heatloop.report.plots.style"]
    assert wrong("import scipy.optimize") == ["scipy.optimize"]
    assert (
        wrong("import heatloop as hl\nfrom heatloop.physics.water import plain_water\nfrom heatloop import size") == []
    )
