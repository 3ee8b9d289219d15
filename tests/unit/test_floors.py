"""The floors of the house: imports run downwards only, files stay short, the public names are few."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import heatloop

PACKAGE = Path(heatloop.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))

# lowest first; a module may import from its own floor and from those before it
FLOORS = (
    ("wording", "describe", "cautions"),
    ("physics",),
    ("survey",),
    ("heat_loss",),
    ("layout",),
    ("circuit",),
    ("plant",),
    (
        *("account", "remedies", "compare", "result", "assumptions", "band", "glazing"),
        *("check", "checks", "checks_heat"),
        *("tabulate", "tabulate_heat", "tabulate_valves", "tabulate_pumps", "tabulate_sensors", "tabulate_rating"),
    ),
    ("design", "conditions", "rate"),
    ("study", "diagnose"),
    ("handover",),
    ("report",),
    ("__init__", "commands", "__main__"),
)
FLOOR_OF = {name: number for number, names in enumerate(FLOORS) for name in names}


def floor_name(path):
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return parts[0]


def imported(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("heatloop"):
            parts = node.module.split(".")
            yield from [parts[1]] if len(parts) > 1 else [alias.name for alias in node.names]
        elif isinstance(node, ast.Import):
            yield from (alias.name.split(".")[1] for alias in node.names if alias.name.startswith("heatloop."))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_downwards(path):
    own = floor_name(path)
    assert own in FLOOR_OF, f"{own} stands on no floor: add it to FLOORS"
    above = sorted({name for name in imported(path) if FLOOR_OF.get(name, -1) > FLOOR_OF[own]})
    assert not above, f"{own} reaches up to {above}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_file_fits_in_one_head(path):
    assert path.read_text(encoding="utf-8").count("\n") <= 450


def test_importing_costs_no_coolprop_and_no_matplotlib():
    code = (
        "import sys, heatloop; names = ('CoolProp', 'matplotlib', 'nbclient', 'openpyxl'); "
        "print([name for name in names if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_public_function_has_a_docstring():
    bare = []
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        nodes = [n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef)]
        bare += [f"{path.name}: {n.name}" for n in nodes if not n.name.startswith("_") and not ast.get_docstring(n)]
        bare += [] if ast.get_docstring(tree) else [f"{path.name}: module"]
    assert not bare
