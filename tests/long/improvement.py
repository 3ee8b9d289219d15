"""The least costly survey against all combinations, in houses of three rooms with four remedies each."""

from __future__ import annotations

import argparse
import math
import multiprocessing
from dataclasses import dataclass

from tests.helpers.small_houses import small_house
from tests.long.records import write_record


@dataclass(frozen=True)
class Compared:
    """One house: cost that was found and of all combinations, failed checks of what was found, surveys sized."""

    seed: int
    found: float
    least: float
    failed: int
    searched: int
    sized: int

    @property
    def is_same(self) -> bool:
        """Whether the search found what all combinations give, and this passes."""
        same = self.found == self.least if math.isinf(self.found) else abs(self.found - self.least) < 1e-6
        return same and not self.failed


def compared(seed: int) -> Compared:
    """The house of a seed by both ways."""
    case = small_house(seed)
    found = case.searched()
    searched = case.trials.count
    least, _ = case.exhaustive()
    failed = 0 if found.trial is None else len(found.trial.verdict.fails)
    return Compared(seed, math.inf if found.trial is None else found.bound, least, failed, searched, case.trials.count)


def improvement(arguments: list[str]) -> int:
    """Search `--cases` houses from the seed `--first` on; 1 where a search does not equal all combinations."""
    parser = argparse.ArgumentParser(prog="python -m tests.long improvement", description=__doc__)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args(arguments)
    houses: list[Compared] = []
    with multiprocessing.Pool(asked.jobs) as pool:
        for house in pool.imap(compared, range(asked.first, asked.first + asked.cases)):
            houses.append(house)
            if not house.is_same:
                print(f"seed {house.seed}: found {house.found:.2f}, of all combinations {house.least:.2f}", flush=True)
            elif len(houses) % 20 == 0:
                print(f"{len(houses)} houses compared", flush=True)
    figures = {
        "cases": asked.cases,
        "first": asked.first,
        "without": sum(math.isinf(house.found) for house in houses),
        "searched": sum(house.searched for house in houses),
        "sized": sum(house.sized for house in houses),
    }
    unlike = sum(not house.is_same for house in houses)
    print(f"{asked.cases} houses: {unlike} differ; {figures['searched']} of {figures['sized']} sized by the search")
    if not unlike:
        write_record("improvement", figures)
    return int(unlike > 0)
