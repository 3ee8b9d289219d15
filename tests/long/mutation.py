"""Mutation testing: `python -m tests.long mutation --package physics --count 60`.

The repository is copied once; each mutant overwrites one module there, and the test files mapped to its package run in
a process of their own until the first failure. The tests must pass before a module is touched. A mutant that no test
can notice stands in `equivalent_mutants.csv` with its reason, and is not counted.
"""

from __future__ import annotations

import argparse
import csv
import importlib
import importlib.util
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.helpers.paths import ROOT
from tests.long.mutants import Mutant, mutants_of, mutated
from tests.long.records import read_record, write_record

EQUIVALENT = Path(__file__).parent / "equivalent_mutants.csv"
COPIED = ("heatloop", "tests", "data", "docs", "notebooks", "pyproject.toml", "README.md", "DEVELOPERS.md")
PRELOADED = ("numpy", "scipy.optimize", "scipy.sparse.linalg", "pandas", "fluids", "pydantic", "hypothesis", "jinja2")
"""Libraries that every run needs: read once, then shared by the processes that are split off."""
MIN_S, TIMES_BASELINE, MEMORY = 60.0, 4.0, 6 * 2**30
"""A mutant may run for four times what the tests need without it, a minute at least, and take 6 GiB."""


@dataclass(frozen=True)
class Package:
    """Modules to be altered, as patterns from the root, and the tests that answer for them."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]

    def paths(self) -> list[Path]:
        """The modules, in order."""
        return sorted({path for pattern in self.modules for path in ROOT.glob(pattern) if path.name != "__init__.py"})


PACKAGES = {
    "physics": Package(
        ("heatloop/physics/**/*.py",),
        ("tests/published", "tests/unit/physics", "tests/reference/test_channels_bvp.py"),
    ),
    "hydraulics": Package(
        ("heatloop/hydraulics/**/*.py",),
        (
            "tests/unit/hydraulics",
            "tests/published/test_networks.py",
            "tests/reference",
            "tests/unit/workflows/test_operating_point.py",
            "tests/unit/workflows/test_size.py",
        ),
    ),
    "heat_loss": Package(
        ("heatloop/heat_loss/*.py",),
        ("tests/published/test_heat_loss.py", "tests/published/test_fabric.py", "tests/unit/heat_loss"),
    ),
    "layout": Package(("heatloop/layout/*.py",), ("tests/unit/layout",)),
    "handover/cutting": Package(("heatloop/handover/cutting/*.py",), ("tests/unit/handover/cutting",)),
    "handover/commissioning": Package(
        ("heatloop/handover/commissioning/*.py",),
        ("tests/published/test_vessel.py", "tests/unit/handover/commissioning"),
    ),
}


def equivalent() -> dict[str, str]:
    """Reason of each mutant that no test can notice, by its key."""
    with EQUIVALENT.open(encoding="utf-8", newline="") as stream:
        return {row["mutant"]: row["because"] for row in csv.DictReader(stream, strict=True)}


def mutation(arguments: list[str]) -> int:
    """Try a seeded number of mutants of each package; 1 where one survived that has no reason to."""
    parser = argparse.ArgumentParser("python -m tests.long mutation")
    parser.add_argument("--package", action="append", choices=PACKAGES)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="mutants whose key holds this text, all of them; nothing is kept")
    parser.add_argument("--again", action="store_true", help="those that survived the last run, which is kept else")
    chosen = parser.parse_args(arguments)
    for name in PRELOADED:
        importlib.import_module(name)
    left = 0
    with tempfile.TemporaryDirectory(prefix="heatloop-mutants-") as folder:
        copy = _copied(Path(folder))
        for name in chosen.package or PACKAGES:
            kept = read_record("mutation").get("figures", {})
            if chosen.again:
                drawn = [one for one in _drawn(name, 0, 0, "::") if one.key in kept[name]["survivors"]]
                kept[name] = _with_the_rest(kept[name], _tried(name, drawn, copy))
            else:
                drawn = _drawn(name, chosen.count, chosen.seed, chosen.only)
                kept[name] = {"seed": chosen.seed, **_tried(name, drawn, copy)}
            left += len(kept[name]["survivors"])
            if not chosen.only:
                write_record("mutation", kept)
    return 1 if left else 0


def _with_the_rest(before: dict[str, Any], again: dict[str, Any]) -> dict[str, Any]:
    """A run whose survivors were tried again: those of them that changed or went with the code are not counted."""
    gone = len(before["survivors"]) - again["tried"]
    return {
        "seed": before["seed"],
        "tried": before["tried"] - gone,
        "killed": before["killed"] + again["killed"],
        "equivalent": before["equivalent"] + again["equivalent"],
        "survivors": again["survivors"],
    }


def _drawn(name: str, count: int, seed: int, only: str | None) -> list[Mutant]:
    """The mutants of a package that are tried."""
    found = [mutant for path in PACKAGES[name].paths() for mutant in mutants_of(path, ROOT)]
    if only:
        return [mutant for mutant in found if only in mutant.key]
    return random.Random(f"{seed} {name}").sample(found, min(count, len(found)))


def _tried(name: str, drawn: list[Mutant], copy: Path) -> dict[str, Any]:
    """What became of the mutants of one package."""
    tests, reasons = PACKAGES[name].tests, equivalent()
    began = time.monotonic()
    code = _run(copy, tests, None)
    baseline_s = time.monotonic() - began
    if code:
        raise SystemExit(f"{name}: the tests fail without a mutant ({code})")
    limit_s = max(MIN_S, TIMES_BASELINE * baseline_s)
    killed, excused, survivors = 0, 0, []
    for mutant in drawn:
        if mutant.key in reasons:
            excused += 1
            continue
        module = copy / mutant.path
        source = module.read_text(encoding="utf-8")
        module.write_text(mutated(source, mutant), encoding="utf-8")
        Path(importlib.util.cache_from_source(str(module))).unlink(missing_ok=True)
        try:
            if _run(copy, (*tests, mutant.path), limit_s):
                killed += 1
            else:
                survivors.append(mutant.key)
                print(f"{name}: line {mutant.line} {mutant.key}", flush=True)
        finally:
            module.write_text(source, encoding="utf-8")
    print(
        f"{name}: {killed} of {len(drawn) - excused} noticed, {excused} equivalent; tests {baseline_s:.0f} s",
        flush=True,
    )
    return {"tried": len(drawn), "killed": killed, "equivalent": excused, "survivors": survivors}


def _copied(folder: Path) -> Path:
    """The repository in another place."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__", "found"))
        else:
            shutil.copy(source, folder / name)
    return folder


def _run(copy: Path, tests: tuple[str, ...], limit_s: float | None) -> int:
    """Exit code of the tests in a process of their own, not 0 where one fails or the time is up."""
    process = os.fork()
    if process == 0:
        _tests_in_copy(copy, tests)
    end = None if limit_s is None else time.monotonic() + limit_s
    while True:
        ended, status = os.waitpid(process, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        if end is not None and time.monotonic() > end:
            os.killpg(process, signal.SIGKILL)
            os.waitpid(process, 0)
            return -signal.SIGKILL
        time.sleep(0.02)


def _tests_in_copy(copy: Path, tests: tuple[str, ...]) -> None:
    """In the process that is split off: run the tests on the copied package, and end."""
    os.setsid()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nothing, stream)
    os.chdir(copy)
    os.environ["PYTHONPATH"] = str(copy)
    sys.dont_write_bytecode = True
    for name in [name for name in sys.modules if name.split(".")[0] in ("heatloop", "tests")]:
        del sys.modules[name]
    sys.path[:] = [str(copy), *(path for path in sys.path if path not in ("", str(ROOT)))]
    import pytest
    from hypothesis import Phase, settings

    settings.register_profile("unshrunk", derandomize=True, database=None, phases=[Phase.explicit, Phase.generate])
    code = pytest.main(["-x", "-q", "-p", "no:randomly", "--hypothesis-profile=unshrunk", *tests])
    os._exit(int(code))
