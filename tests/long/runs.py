"""Full counts of runs that the ordinary tests sample; each keeps its figures for docs/reference/reliability.md."""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import resource
import subprocess
import sys
import tempfile
import time
from datetime import date
from importlib.metadata import version
from pathlib import Path
from xml.etree import ElementTree

from tests.fuzz.__main__ import keep_found
from tests.fuzz.targets import run
from tests.helpers.paths import ROOT
from tests.long.records import commit, read_record, write_record

SOLVERS = ("tests/reference", "tests/unit/hydraulics/test_solver.py")
DIAGNOSED, IN_ALL = ("tests/unit/diagnosis/test_diagnosis.py",), 60
KILLED = ("tests/unit/report/test_folders.py", "tests/unit/report/notebook/test_run_notebook.py")
PEERS = ("wntr", "pandapipes", "scipy")


def marked(arguments: list[str]) -> int:
    """The tests that are marked as too long for every change."""
    parser = argparse.ArgumentParser("python -m tests.long marked")
    parser.parse_args(arguments)
    return subprocess.run([sys.executable, "-m", "pytest", "-q", "-m", "long"], cwd=ROOT, check=False).returncode


def references(arguments: list[str]) -> int:
    """Random networks and channels against EPANET, pandapipes and solve_bvp, and random whole systems."""
    parser = argparse.ArgumentParser("python -m tests.long references")
    parser.add_argument("--examples", type=int, default=400, help="random cases of each kind")
    asked = parser.parse_args(arguments).examples
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "agreement.json"
        code, tests = _pytest(SOLVERS, HEATLOOP_EXAMPLES=str(asked), HEATLOOP_AGREEMENT=str(kept))
        if code == 0:
            write_record(
                "references",
                {
                    "asked": asked,
                    "tests": len(tests),
                    "versions": {name: version(name) for name in PEERS},
                    "agreement": json.loads(kept.read_text(encoding="utf-8")),
                },
            )
    return code


def diagnosis(arguments: list[str]) -> int:
    """Random sites of the second site model diagnosed and scored: the tables of the explanation of the diagnosis.

    Before that, unless only the score is asked for, the sixty systems whose score is bounded by a test.
    """
    from tests.helpers.second_site.score import score_system, share, tables

    parser = argparse.ArgumentParser("python -m tests.long diagnosis")
    parser.add_argument("--systems", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=720_000, help="seed of the first system")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--score-only", action="store_true", help="print the tables, run no test, keep no record")
    asked = parser.parse_args(arguments)
    code = 0 if asked.score_only else _pytest(DIAGNOSED, HEATLOOP_DIAGNOSED=str(IN_ALL))[0]
    if code:
        return code
    seeds = range(asked.seed, asked.seed + asked.systems)
    with multiprocessing.Pool(asked.jobs) as pool:
        groups = list(pool.imap(score_system, seeds, chunksize=2))
    scores = [score for group in groups for score in group]
    print(f"{sum(map(bool, groups))} systems of {asked.systems} from seed {asked.seed}, {len(scores)} sites")
    for answer, title in (("at_first", "First visit"), ("at_last", "After the readings asked for")):
        print(f"\n### {title}\n\n{tables(scores, answer)}")
    if asked.score_only:
        return 0
    by = {name: [one for one in scores if one.group == name] for name in ("no fault", "one fault", "two faults")}
    write_record(
        "diagnosis",
        {
            "systems": sum(map(bool, groups)),
            "asked": asked.systems,
            "seed": asked.seed,
            "right": {name: share(sites, lambda one: one.at_last.first == one.truth) for name, sites in by.items()},
        },
    )
    return 0


def fuzz(arguments: list[str]) -> int:
    """Altered files read for some minutes; 1 where a reader failed."""
    parser = argparse.ArgumentParser("python -m tests.long fuzz")
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(arguments)
    end = time.monotonic() + 60.0 * asked.minutes
    tally = run(asked.seed, lambda count: time.monotonic() > end)
    figures = {
        "minutes": asked.minutes,
        "seed": asked.seed,
        "tried": tally.tried,
        "faults": len(tally.found),
        "longest_s": round(tally.longest_s, 2),
        "memory_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0),
    }
    before = read_record("fuzz").get("figures", {}).get("runs", [])
    this_run = {"date": date.today().isoformat(), "commit": commit(), **figures, "tried": sum(tally.tried.values())}
    write_record("fuzz", {**figures, "runs": [*before, this_run]})
    for (name, wrong), count in keep_found(tally, asked.seed).items():
        print(f"{count} x {name}: {wrong[:200]}")
    return 1 if tally.found else 0


def kills(arguments: list[str]) -> int:
    """Writers killed at every step that changes the disk."""
    argparse.ArgumentParser("python -m tests.long kills").parse_args(arguments)
    code, tests = _pytest(KILLED)
    if code == 0:
        count = sum(
            int(one.get("value", "0")) for test in tests for one in test.iter("property") if one.get("name") == "kills"
        )
        write_record("kills", {"kills": count, "tests": len(tests)})
    return code


def _pytest(files: tuple[str, ...], **environment: str) -> tuple[int, list[ElementTree.Element]]:
    """Exit code of the tests in these files, and each as pytest reports it."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "tests.xml"
        code = subprocess.run(
            [
                sys.executable,
                "-m",
                "pytest",
                "-q",
                "-p",
                "no:randomly",
                "-o",
                "junit_family=xunit1",
                f"--junitxml={report}",
                *files,
            ],
            cwd=ROOT,
            env={**os.environ, **environment},
            check=False,
        ).returncode
        return code, list(ElementTree.parse(report).iter("testcase")) if report.exists() else []
