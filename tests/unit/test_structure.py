"""The layers of the package: imports point downwards only, no cycle of any kind, files and folders keep their size."""

import ast
import functools
import subprocess
import sys
from collections import Counter
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import heatloop

PACKAGE = Path(heatloop.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
NAMES = {
    path: ".".join(("heatloop", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")
    for path in FILES
}
MODULES = set(NAMES.values())

LAYERS = (
    ("physics", "text", "findings"),
    ("survey",),
    ("heat_loss", "layout"),
    ("hydraulics",),
    ("results", "handover", "diagnosis"),
    ("report",),
    ("workflows",),
    ("cli", "heatloop"),
    ("__main__",),
)
"""Lowest first: a unit imports only units of lower layers. "heatloop" is the package's own `__init__`."""
LAYER_OF = {name: number for number, names in enumerate(LAYERS, start=1) for name in names}
MAX_LINES, MAX_FILES = 400, 12
ROOT = {"__init__.py", "__init__.pyi", "__main__.py", "py.typed"}


@pytest.fixture(scope="module")
def nodes():
    """All nodes of each file, the module itself first."""
    return {path: list(ast.walk(ast.parse(path.read_text(encoding="utf-8")))) for path in FILES}


def imported(nodes):
    """Modules of the package that a file imports: at the top, inside functions and under TYPE_CHECKING alike."""
    for node in nodes:
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "heatloop":
            for alias in node.names:
                longer = f"{node.module}.{alias.name}"
                yield longer if longer in MODULES else node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] == "heatloop")


@pytest.fixture(scope="module")
def files(nodes):
    """The modules that each module imports."""
    return {NAMES[path]: set(imported(nodes[path])) - {NAMES[path]} for path in FILES}


def unit(module):
    """The folder, or the file of the root, that a module belongs to."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "heatloop"


@pytest.fixture(scope="module")
def units(files):
    """The units that each unit imports."""
    found = {}
    for module, targets in files.items():
        found.setdefault(unit(module), set()).update(unit(target) for target in targets if unit(target) != unit(module))
    return found


def test_every_unit_has_a_layer_and_no_more_than_nine_there_are(units):
    assert set(units) == set(LAYER_OF)
    assert len(LAYERS) <= 9


def test_a_unit_imports_only_lower_layers(units):
    upwards = [
        f"{name} -> {below}"
        for name, targets in units.items()
        for below in sorted(targets)
        if LAYER_OF[below] >= LAYER_OF[name]
    ]
    assert not upwards


@pytest.mark.parametrize("kind", ["files", "units"])
def test_there_is_no_cycle(kind, request):
    graph = request.getfixturevalue(kind)
    assert set(TopologicalSorter(graph).static_order()) >= set(graph)  # CycleError names the cycle


SURVEY_ORDER = {
    "toml": 1, "files": 1, "survey": 1, "to_tables": 1, "workbook": 1, "rules": 2, "read": 3, "drawing": 3,
    "converting": 4, "editing": 4, "entry": 4, "starter_files": 4, "tracing": 4, "builders": 5,
}  # fmt: skip
"""Parts of `survey/`, lowest first; every other file there is a value, at 0."""


def test_the_survey_is_read_from_values_upwards(files):
    def level(module):
        return SURVEY_ORDER.get(module.split(".")[2], 0)

    upwards = [
        f"{module} -> {target}"
        for module, targets in files.items()
        for target in sorted(targets)
        if all(name.startswith("heatloop.survey.") for name in (module, target)) and level(target) > level(module)
    ]
    assert not upwards
    assert {name.split(".")[2] for name in MODULES if name.startswith("heatloop.survey.")} > set(SURVEY_ORDER)


SOLVERS = {
    "solve_state", "solve_heat_and_flow", "solve_scenarios", "apply_thermostats", "heat_at_fixed_flows",
    "variant_outputs", "isolate_loops", "isolate_each_loop", "system_curve", "pump_curves", "size_loops", "size_lot",
    "prepare_system", "size_system", "balance_and_preset",
}  # fmt: skip
"""Functions that solve a system: workflows call them, and hand what they find to tables and pages."""


def test_tables_and_pages_solve_nothing(nodes):
    """Documents and drawings included. No whole module of hydraulics is imported either, which would hide a solve."""
    folders = {".".join(name.split(".")[:3]) for name in MODULES if unit(name) == "report"}
    assert {"heatloop.report.documents", "heatloop.report.drawings"} <= folders
    solving = []
    for path in FILES:
        if unit(NAMES[path]) not in ("results", "report"):
            continue
        for node in nodes[path]:
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("heatloop.hydraulics"):
                whole = [alias.name for alias in node.names if f"{node.module}.{alias.name}" in MODULES]
                named = [alias.name for alias in node.names if alias.name in SOLVERS]
                solving += [f"{NAMES[path]}: {name}" for name in (*whole, *named)]
            elif isinstance(node, ast.Import):
                whole = [alias.name for alias in node.names if alias.name.startswith("heatloop.hydraulics")]
                solving += [f"{NAMES[path]}: {name}" for name in whole]
    assert not solving


def test_every_function_that_solves_is_there(nodes):
    named = set()
    for path in FILES:
        if unit(NAMES[path]) == "hydraulics":
            named |= {node.name for node in nodes[path] if isinstance(node, ast.FunctionDef)}
    assert named >= SOLVERS


def test_imports_are_written_out(nodes):
    """No relative import, and modules by their names: what the test above cannot see is not there."""
    hidden = []
    for path in FILES:
        for node in nodes[path]:
            if isinstance(node, ast.ImportFrom) and node.level:
                hidden.append(f"{NAMES[path]}: relative import")
            if isinstance(node, ast.Name | ast.Attribute) and path.name != "__init__.py":
                name = node.id if isinstance(node, ast.Name) else node.attr
                hidden += [f"{NAMES[path]}: {name}"] if name in ("import_module", "__import__") else []
    assert not hidden


def test_files_and_folders_keep_their_size():
    long = {NAMES[path]: n for path in FILES if (n := path.read_text(encoding="utf-8").count("\n")) > MAX_LINES}
    assert not long
    folders = Counter(path.parent for path in PACKAGE.rglob("*") if path.is_file() and "__pycache__" not in path.parts)
    full = {str(folder): n for folder, n in folders.items() if n - (folder / "__init__.py").is_file() > MAX_FILES}
    assert not full
    assert {path.name for path in PACKAGE.iterdir() if path.is_file()} == ROOT


MOST_FUNCTION_LINES, MOST_PARAMETERS = 60, 6
MANY_BY_NAME = {
    "build.survey": 14, "survey_from_schedule": 10, "simulate": 10, "skirting_run": 9, "build.rectangle": 7,
    "simulate_readings": 7, "start_project": 7,
}  # fmt: skip
"""Public functions with more parameters, each with its number: all beyond six are options given by name only."""


@pytest.fixture(scope="module")
def functions(nodes):
    """Every function and method of the package, with the module that it is in."""
    defined = ast.FunctionDef | ast.AsyncFunctionDef
    return [(NAMES[path], node) for path in FILES for node in nodes[path] if isinstance(node, defined)]


def test_functions_keep_their_size(functions):
    """Lines without the docstring."""
    long = {}
    for module, node in functions:
        lines = node.end_lineno - node.lineno + 1
        if ast.get_docstring(node):
            lines -= node.body[0].end_lineno - node.body[0].lineno + 1
        if lines > MOST_FUNCTION_LINES:
            long[f"{module}.{node.name}"] = lines
    assert not long


def test_functions_have_few_parameters(functions):
    """`self` does not count; `*` and `**` do."""
    many = set()
    for _, node in functions:
        given = node.args
        positional = [one.arg for one in (*given.posonlyargs, *given.args) if one.arg not in ("self", "cls")]
        by_name = [one.arg for one in (*given.kwonlyargs, given.vararg, given.kwarg) if one]
        assert len(positional) <= MOST_PARAMETERS, node.name
        if len(positional) + len(by_name) > MOST_PARAMETERS:
            many.add((node.name, len(positional) + len(by_name)))
    assert many == {(name.split(".")[-1], count) for name, count in MANY_BY_NAME.items()}
    for name in MANY_BY_NAME:
        assert callable(functools.reduce(getattr, name.split("."), heatloop)), name


def test_importing_costs_no_coolprop_and_no_matplotlib():
    code = (
        "import sys, heatloop; names = ('CoolProp', 'matplotlib', 'nbclient', 'openpyxl'); "
        "print([name for name in names if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_public_function_has_a_docstring(nodes):
    bare = []
    for path in FILES:
        tree = nodes[path][0]
        own = [n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef)]
        bare += [f"{NAMES[path]}: {n.name}" for n in own if not n.name.startswith("_") and not ast.get_docstring(n)]
        bare += [] if ast.get_docstring(tree) else [f"{NAMES[path]}: module"]
    assert not bare
