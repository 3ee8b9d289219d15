"""What DEVELOPERS.md, the documentation and docstrings name of the code exists: files, modules, names and layers."""

import ast
import re
from importlib import import_module
from importlib.util import find_spec

import pytest

from tests.helpers.paths import ROOT, TESTS
from tests.helpers.scripts import loaded

DEVELOPERS = ROOT / "DEVELOPERS.md"
PAGES = [DEVELOPERS, ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
PACKAGE = ROOT / "heatloop"
FOLDERS = {"heatloop", "tests", "docs", "data", "notebooks", ".ci"}
UNITS = {path.name for path in PACKAGE.iterdir() if path.is_dir()} - {"__pycache__"}
SCRIPTS = {path.name for folder in ("heatloop", "tests", "docs") for path in (ROOT / folder).rglob("*.py")}

PATH = re.compile(r"(?<![\w/.$~-])(\.?[\w-]+/[\w./*-]*)")
SCRIPT = re.compile(r"(?<![\w/*])(\w+\.py)\b")
MODULE = re.compile(r"(?<![\w/.])(heatloop(?:\.[A-Za-z_]\w*)+)")


def name(path):
    return str(path.relative_to(ROOT))


def missing(text, folders=FOLDERS):
    """Paths in these folders, scripts and modules named in a text that are not in the repository."""
    found = []
    for path in PATH.findall(text):
        first, path = path.split("/")[0], path.rstrip(".-")
        of_package = first in UNITS and path.endswith((".py", "/"))
        if (first in folders and not list(ROOT.glob(path))) or (of_package and not list(PACKAGE.glob(path))):
            found.append(path)
    found += [script for script in SCRIPT.findall(text) if script not in SCRIPTS]
    return found + [dotted for dotted in MODULE.findall(text) if not is_there(dotted)]


def is_there(dotted):
    """Whether a dotted name is a module of the package or what one defines; `heatloop.name` is public."""
    module, names = dotted, []
    while module != "heatloop" and not exists(module):
        module, _, last = module.rpartition(".")
        names.insert(0, last)
    held = import_module(module)
    for one in names:
        if not hasattr(held, one):
            return False
        held = getattr(held, one)
    return True


def exists(module):
    try:
        return find_spec(module) is not None
    except ModuleNotFoundError:
        return False


def test_what_is_missing_is_found():
    there = "`heatloop/cli/main.py`, `report/columns/`, make.py, heatloop.text.column.Column, heatloop.size, docs/*.md"
    assert not missing(there)
    gone = ["heatloop/circuit/", "tests/nothing.py", "report/cautions.py", "nothing.py", "heatloop.circuit.model"]
    assert set(missing(", ".join(f"`{one}`" for one in gone))) >= set(gone)


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_files_and_modules_that_a_page_names_exist(page):
    assert not missing(page.read_text(encoding="utf-8"))


@pytest.mark.parametrize("unit", sorted({*UNITS, "__init__.py", "__main__.py"}))
def test_files_and_modules_that_docstrings_and_comments_name_exist(unit):
    files = [PACKAGE / unit] if unit.endswith(".py") else sorted((PACKAGE / unit).rglob("*.py"))
    assert files
    gone = {name(path): missing(path.read_text(encoding="utf-8"), FOLDERS - {"data"}) for path in files}
    assert not {path: found for path, found in gone.items() if found}


def rows(heading):
    """Cells of the table under a heading of DEVELOPERS.md, row by row."""
    part = re.search(rf"^## {heading}\n(.*?)(?=^## |\Z)", DEVELOPERS.read_text(encoding="utf-8"), re.M | re.S)[1]
    lines = [line for line in part.splitlines() if line.startswith("| ")]
    return [[cell.strip().strip("`") for cell in line.strip("|").split("|")] for line in lines[2:]]


def defined(path):
    """Names at the top of a file: functions, classes, constants."""
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.add(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            found |= {n.id for target in targets for n in ast.walk(target) if isinstance(n, ast.Name)}
    return found


def test_the_map_leads_to_names_that_are_defined_there():
    questions = rows("Where to find a subject")
    assert len(questions) >= 40
    assert not [f"{file}: {look_for}" for _, file, look_for in questions if look_for not in defined(ROOT / file)]


def test_layers_are_those_of_the_structure_test():
    tree = ast.parse((TESTS / "unit" / "test_structure.py").read_text(encoding="utf-8"))
    layers = next(
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "LAYERS"
    )
    required = {(str(number), unit) for number, units in enumerate(layers, start=1) for unit in units}
    files = {"heatloop/__init__.py": "heatloop", "heatloop/__main__.py": "__main__"}
    shown = {(row[0], files.get(row[1], row[1].split("/")[1])) for row in rows("Layers")}
    assert shown == required


def test_developers_stays_short():
    assert DEVELOPERS.read_text(encoding="utf-8").count("\n") <= 250


# --- the picture of the flow of data ---------------------------------------------------------------------


@pytest.fixture(scope="module")
def flow():
    return loaded(ROOT / "docs" / "pictures" / "data_flow.py")


@pytest.fixture(scope="module")
def source(flow):
    """The source of the package, read once."""
    return flow.read_source()


def test_the_stored_picture_is_current(flow, source, monkeypatch):
    monkeypatch.setattr(flow, "read_source", lambda: source)
    figure = flow.draw()
    shown = {text.get_text() for text in figure.axes[0].texts}
    assert {step.value for step in flow.STEPS} <= shown
    assert flow.written(figure) == flow.stored(), "run python docs/pictures/data_flow.py and look at the picture"
    flow.plt.close(figure)


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (("Survey", "size", ()), "does not make Survey"),
        (("Design", "size", ("Diagnosis",)), "does not make Design from Diagnosis"),
        (("Design", "no_such_function", ()), "is not in the package"),
    ],
)
def test_a_step_that_the_code_does_not_take_is_refused(flow, source, monkeypatch, step, words):
    monkeypatch.setattr(flow, "STEPS", (flow.Step(*step, 0.5),))
    with pytest.raises(ValueError, match=words):
        flow.check(source)
