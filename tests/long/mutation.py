"""Mutation testing: `python -m tests.long mutation --package physics --count 400 --jobs 2`.

The repository is copied once for each package and its mutants are tried there (tests/long/mutation_run.py). Which
mutants are drawn follows from the seed alone, so that a greater count adds to the earlier ones. What was noticed is
kept in `records/mutation.json` after every mutant: a later run goes on from there, tries again what survived, and
tries anew what stands in functions that have changed since. A mutant that no test can notice stands in
`equivalent_mutants.csv` with its reason, and is not counted.
"""

from __future__ import annotations

import argparse
import csv
import fcntl
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from hashlib import sha1
from pathlib import Path
from typing import Any

from tests.helpers.paths import ROOT
from tests.long.mutants import Mutant, mutants_of
from tests.long.records import RECORDS, commit, read_record, write_record

EQUIVALENT = Path(__file__).parent / "equivalent_mutants.csv"
COPIED = ("heatloop", "tests", "data", "docs", "notebooks", "pyproject.toml", "README.md", "DEVELOPERS.md")


@dataclass(frozen=True)
class Package:
    """Modules to be altered, as patterns from the root, the tests that answer for them, and the share of mutants that
    these are to notice at least."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]
    aim: float = 0.90

    def paths(self) -> list[Path]:
        """The modules, in order."""
        return sorted({path for pattern in self.modules for path in ROOT.glob(pattern) if path.name != "__init__.py"})

    @property
    def folder(self) -> str:
        """Where the modules stand, with the examples in their docstrings."""
        return self.modules[0].split("/*")[0]


PACKAGES = {
    "physics": Package(
        ("heatloop/physics/**/*.py",),
        ("tests/published", "tests/unit/physics", "tests/unit/test_physics.py", "tests/reference/test_channels_bvp.py"),
        0.95,
    ),
    "hydraulics": Package(
        ("heatloop/hydraulics/**/*.py",),
        (
            "tests/unit/hydraulics",
            "tests/published/test_networks.py",
            "tests/unit/workflows/test_operating_point.py",
            "tests/unit/workflows/test_size.py",
            "tests/unit/workflows/many_dwellings",
        ),
        0.95,
    ),
    "layout": Package(("heatloop/layout/*.py",), ("tests/unit/layout",)),
    "heat_loss": Package(
        ("heatloop/heat_loss/*.py",),
        ("tests/published/test_heat_loss.py", "tests/published/test_fabric.py", "tests/unit/heat_loss"),
    ),
    "handover/cutting": Package(("heatloop/handover/cutting/*.py",), ("tests/unit/handover/cutting",)),
    "handover/commissioning": Package(
        ("heatloop/handover/commissioning/*.py",),
        ("tests/published/test_vessel.py", "tests/unit/handover/commissioning"),
    ),
}


ENVIRONMENT = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "HEATLOOP_EXAMPLES": "10"}
"""Of the tests of a mutant: one thread, and ten random systems where a run of all tests takes a hundred."""

QUICK_SHARE = 0.35
"""Share of the time of all tests that the quickest of them take, which a quick run takes alone."""

MAX_EQUIVALENT = 0.05
"""Share of the mutants of a package that may be called equivalent at most."""


def equivalent() -> dict[str, str]:
    """Reason of each mutant that no test can notice, by its key."""
    with EQUIVALENT.open(encoding="utf-8", newline="") as stream:
        return {row["mutant"]: row["because"] for row in csv.DictReader(stream, strict=True)}


def mutation(arguments: list[str]) -> int:
    """Try a seeded number of mutants of each package; 1 where one survived that has no reason to."""
    parser = argparse.ArgumentParser("python -m tests.long mutation")
    parser.add_argument("--package", action="append", choices=PACKAGES)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2, help="mutants tried side by side")
    parser.add_argument(
        "--quick", action="store_true", help="without the slowest tests; a later run tries again what survives"
    )
    parser.add_argument("--only", help="mutants whose key holds this text, all of them; nothing is kept")
    parser.add_argument("--fresh", action="store_true", help="nothing of earlier runs counts")
    asked = parser.parse_args(arguments)
    left = 0
    for name in asked.package or PACKAGES:
        outcome = _Outcome.of(name, asked.count, asked.seed, asked.only, asked.fresh)
        for found in _tried(PACKAGES[name], outcome.waiting(), asked.jobs, QUICK_SHARE if asked.quick else 1.0):
            outcome.add(found)
            if not asked.only:
                outcome.write()
        print(outcome.line(), flush=True)
        left += len(outcome.survivors)
    return 1 if left else 0


@dataclass
class _Outcome:
    """What has become of the mutants of one package so far, each by its digest."""

    package: str
    seed: int
    drawn: dict[str, Mutant]
    excused: int
    noticed: dict[str, None]
    survivors: dict[str, str]
    seconds: list[float]

    @classmethod
    def of(cls, package: str, count: int, seed: int, only: str | None, fresh: bool) -> _Outcome:
        """The mutants that the seed draws, with what earlier runs have found of them."""
        mutants = {_digest(one): one for path in PACKAGES[package].paths() for one in mutants_of(path, ROOT)}
        order = sorted(mutants, key=lambda digest: sha1(f"{seed} {digest}".encode()).digest())
        names = [one for one in order if only in mutants[one].key] if only else order[:count]
        reasons = equivalent()
        drawn = {one: mutants[one] for one in names if mutants[one].key not in reasons}
        kept = {} if fresh or only else read_record("mutation").get("figures", {}).get(package, {})
        same = kept.get("noticed", "").split() if kept.get("seed") == seed else []
        seconds = [kept["seconds"]] if same else []
        return cls(
            package, seed, drawn, len(names) - len(drawn), {one: None for one in same if one in drawn}, {}, seconds
        )

    def waiting(self) -> dict[str, Mutant]:
        """Those not yet tried, or not noticed when they were."""
        return {digest: mutant for digest, mutant in self.drawn.items() if digest not in self.noticed}

    def add(self, found: dict[str, Any]) -> None:
        """Take in the outcome of one mutant; print it where it survived."""
        digest = found["digest"]
        self.seconds.append(found["seconds"])
        if found["by"] is not None:
            self.noticed[digest] = None
            return
        mutant = self.drawn[digest]
        self.survivors[digest] = mutant.key
        print(f"{self.package}: line {mutant.line} {mutant.key}", flush=True)

    def write(self) -> None:
        """Keep it beside what other packages have, whose runs may be under way."""
        own = {
            "commit": commit(),
            "seed": self.seed,
            "tried": len(self.noticed) + len(self.survivors) + self.excused,
            "killed": len(self.noticed),
            "equivalent": self.excused,
            "seconds": round(statistics.median(self.seconds), 2),
            "survivors": list(self.survivors.values()),
            "noticed": " ".join(self.noticed),
        }
        with _one_at_a_time():
            figures = {**read_record("mutation").get("figures", {}), self.package: own}
            write_record("mutation", {name: figures[name] for name in PACKAGES if name in figures})

    def line(self) -> str:
        """The outcome in a line."""
        tried = len(self.noticed) + len(self.survivors)
        taken = f"; {statistics.median(self.seconds):.2f} s a mutant" if self.seconds else ""
        return f"{self.package}: {len(self.noticed)} of {tried} noticed, {self.excused} equivalent{taken}"


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """The records are written by one run at a time."""
    folder = os.open(RECORDS, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def _digest(mutant: Mutant) -> str:
    """Short name of a mutant, another one where its function has changed."""
    return sha1(f"{mutant.key}\n{mutant.text}".encode()).hexdigest()[:10]


def _tried(package: Package, mutants: dict[str, Mutant], jobs: int, share: float) -> Iterator[dict[str, Any]]:
    """The outcome of each mutant as it comes, from a process that works in a copy of the repository.

    The quickest tests are run, which take this share of the time of all.
    """
    if not mutants:
        return
    with tempfile.TemporaryDirectory(prefix="heatloop-mutants-") as folder:
        copy = _copied(Path(folder) / "copy")
        job = Path(folder) / "job.json"
        asked = {
            "tests": [*package.tests, package.folder],
            "jobs": jobs,
            "share": share,
            "mutants": {digest: asdict(mutant) for digest, mutant in mutants.items()},
        }
        job.write_text(json.dumps(asked), encoding="utf-8")
        with subprocess.Popen(
            [sys.executable, "-m", "tests.long.mutation_run", str(job)],
            cwd=copy,
            env={**os.environ, "PYTHONPATH": str(copy), **ENVIRONMENT},
            stdout=subprocess.PIPE,
            text=True,
        ) as process:
            yield from map(json.loads, _lines(process))
        if process.returncode:
            raise SystemExit(f"{package.folder}: the tests fail without a mutant ({process.returncode})")


def _lines(process: subprocess.Popen[str]) -> Sequence[str] | Iterator[str]:
    """What the process writes, line by line."""
    return process.stdout or ()


def _copied(folder: Path) -> Path:
    """The repository in another place."""
    folder.mkdir()
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__", "found"))
        else:
            shutil.copy(source, folder / name)
    return folder
