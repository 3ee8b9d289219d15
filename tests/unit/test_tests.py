"""What unit tests rest on: the package and shared helpers, neither each other, benchmarks nor a reference library."""

import ast
from pathlib import Path

from tests.helpers.paths import ROOT, TESTS

FOREIGN = ("wntr", "pandapipes", "tests.benchmarks", "tests.reference", "tests.published", "tests.unit")
"""What several unit tests share stands in tests/helpers: none takes it from another."""


def imported(path):
    """Modules that a file imports, `from a import b` as a and as a.b."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path}: relative import"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def test_unit_tests_import_no_benchmark_and_no_reference_library():
    """Directly and through other files of the tests."""
    waiting, seen, found = sorted((TESTS / "unit").rglob("*.py")), set(), []
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen.add(path)
        for name in imported(path):
            if any(name == foreign or name.startswith(f"{foreign}.") for foreign in FOREIGN):
                found.append(f"{path.relative_to(ROOT)}: {name}")
            file = ROOT.joinpath(*name.split(".")).with_suffix(".py")
            if name.startswith("tests.") and file.is_file():
                waiting.append(file)
    assert TESTS / "helpers" / "dwelling.py" in seen
    assert not found


def places(path):
    """Names that a test beside a module or folder of the package may begin with, by the folder of the package."""
    folder = ROOT / "heatloop" / path.parent.relative_to(TESTS / "unit")
    return (
        {item.stem for item in folder.iterdir() if item.is_dir() or item.suffix == ".py"} if folder.is_dir() else set()
    )


def test_a_unit_test_is_named_for_the_module_or_folder_that_it_tests():
    """`test_<name>.py` or `test_<name>_<aspect>.py`, at the same place as heatloop/.../<name>; the exceptions are of
    the whole package, its documentation and its notebooks."""
    unit = TESTS / "unit"
    astray = []
    for path in sorted(unit.rglob("test_*.py")):
        name = path.stem.removeprefix("test_")
        if not any(name == place or name.startswith(f"{place}_") for place in places(path)):
            astray.append(path.relative_to(unit))
    beside = {path for path in astray if path.parts[0] not in ("docs", "notebooks")}
    assert {str(path) for path in beside} == {
        "test_public_api.py", "test_structure.py", "test_tables_described.py", "test_tests.py"
    }  # fmt: skip


def test_every_folder_of_the_package_has_its_tests():
    """In the folder of its name under tests/unit, or in a test named for it beside that folder."""
    package, unit = ROOT / "heatloop", TESTS / "unit"
    folders = {path.parent.relative_to(package) for path in package.rglob("*.py")} - {Path()}
    assert not [
        str(folder)
        for folder in sorted(folders)
        if not list((unit / folder).glob("test_*.py"))
        and not list((unit / folder.parent).glob(f"test_{folder.name}.py"))
    ]
