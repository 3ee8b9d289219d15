"""The least costly survey against all combinations, in houses of three rooms with four remedies each."""

from __future__ import annotations

import argparse
import math

from tests.helpers.small_houses import small_house
from tests.long.records import write_record


def improvement(arguments: list[str]) -> int:
    """Search `--cases` houses from the seed `--first` on; 1 where a search does not equal all combinations."""
    parser = argparse.ArgumentParser(prog="python -m tests.long improvement", description=__doc__)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args(arguments)
    unlike, sized, searched, without, failing = [], 0, 0, 0, 0
    for seed in range(asked.first, asked.first + asked.cases):
        case = small_house(seed)
        found = case.searched()
        searched += case.trials.count
        cost, _ = case.exhaustive()
        sized += case.trials.count
        without += found.trial is None
        failing += found.trial is not None and bool(found.trial.verdict.fails)
        same = math.isinf(cost) if found.trial is None else abs(found.bound - cost) < 1e-6
        if not same:
            unlike.append(seed)
            print(f"seed {seed}: found {found.bound:.2f}, of all combinations {cost:.2f}", flush=True)
    print(f"{asked.cases} houses: {len(unlike)} differ; {searched} surveys sized by the search, {sized} in all")
    if not unlike and not failing:
        write_record(
            "improvement",
            {"cases": asked.cases, "first": asked.first, "searched": searched, "sized": sized, "without": without},
        )
    return int(bool(unlike) or bool(failing))
