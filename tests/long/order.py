"""The ordinary tests in another order: `python -m tests.long order --seed 7`, of all or of some files.

Files are put in the order that the seed draws, and the tests of each file likewise: what one test leaves behind
another may not need. The module is a plugin of pytest too, which does the shuffling.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TypeVar
from xml.etree import ElementTree

import pytest

from tests.helpers.paths import ROOT
from tests.long.records import write_record

Item = TypeVar("Item")


def order(arguments: list[str]) -> int:
    """Run the tests in the order of a seed; the exit code of pytest. What was run in full and passed is kept."""
    parser = argparse.ArgumentParser("python -m tests.long order")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("paths", nargs="*", help="files or folders; all without one")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "tests.xml"
        options = ["-q", "-p", "tests.long.order", f"--order-seed={asked.seed}", f"--junitxml={report}"]
        code = subprocess.run(
            [sys.executable, "-m", "pytest", *options, *asked.paths], cwd=ROOT, check=False
        ).returncode
        if code == 0 and not asked.paths:
            tests = len(list(ElementTree.parse(report).iter("testcase")))
            write_record("order", {"seed": asked.seed, "tests": tests})
    return code


def pytest_addoption(parser: pytest.Parser) -> None:
    """Called by pytest: the option that this plugin takes."""
    parser.addoption("--order-seed", type=int, default=1)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Called by pytest with the tests that were found."""
    items[:] = shuffled(items, [item.nodeid.split("::")[0] for item in items], config.getoption("order_seed"))


def shuffled(items: list[Item], files: list[str], seed: int) -> list[Item]:
    """Items file by file, the files and the items of each in the order that the seed draws."""
    draw = random.Random(seed)
    of_file: dict[str, list[Item]] = {}
    for item, file in zip(items, files, strict=True):
        of_file.setdefault(file, []).append(item)
    groups = list(of_file.values())
    draw.shuffle(groups)
    for group in groups:
        draw.shuffle(group)
    return [item for group in groups for item in group]
