"""A study killed at random moments and continued, against an undisturbed one."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import heatloop as hl
from tests.helpers.killed_studies import TASK_SIZE, survives_kills
from tests.helpers.studies import FEW, small_houses
from tests.long.records import write_record


def study(arguments: list[str]) -> int:
    """Kill a small study at `--kills` random moments, each time continued; 1 where it then differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.long study", description=__doc__)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=2026)
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        houses = small_houses(folder / "houses")
        undisturbed = hl.study(houses, folder / "undisturbed", task_size=TASK_SIZE, executor=1)
        try:
            found = survives_kills(houses, undisturbed, folder, asked.kills, asked.seed)
        except AssertionError as error:
            print(f"the study differs from an undisturbed one: {error}")
            return 1
    print(f"{asked.kills} kills of a study of {FEW} dwellings; after them {found} rows of dwellings stood, all right")
    write_record("study", {"kills": asked.kills, "seed": asked.seed, "dwellings": FEW, "found": found})
    return 0
