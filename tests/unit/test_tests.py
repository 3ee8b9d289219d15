"""What unit tests rest on: the package and shared helpers, neither each other, benchmarks nor a reference library."""

import ast

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


def test_folders_of_unit_tests_are_those_of_the_package():
    package = {path.relative_to(ROOT / "heatloop") for path in (ROOT / "heatloop").rglob("*") if path.is_dir()}
    unit = TESTS / "unit"
    folders = {path.parent.relative_to(unit) for path in unit.rglob("test_*.py")}
    beside = {folder for folder in folders if folder not in package and folder.parts}
    assert {str(folder) for folder in beside} == {"docs", "notebooks"}
