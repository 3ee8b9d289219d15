"""Random surveys sized in turn: whether all settle, have their tables and balance, and how long each takes.

A warning of the arithmetic stops a survey as an error does. Times are those of the processor.
"""

from __future__ import annotations

import argparse
import statistics
import time
import warnings

import heatloop as hl
from heatloop.findings.input_errors import InputError
from tests.helpers.random_systems import every_table, random_survey, worst_residual
from tests.long.records import write_record

MAX_RESIDUAL = 1e-9
TIMES_MEDIAN = 20.0
"""A survey may take so many times what the median survey takes."""


def systems(arguments: list[str]) -> int:
    """Size `--count` surveys from the seed `--first` on; 1 where one stops, takes very long or does not balance."""
    parser = argparse.ArgumentParser(prog="python -m tests.long systems", description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args(arguments)
    seconds: dict[int, float] = {}
    residuals, refused, stopped = [0.0], 0, 0
    warnings.simplefilter("error", RuntimeWarning)
    for seed in range(asked.first, asked.first + asked.count):
        start = time.process_time()
        try:
            design = hl.size(random_survey(seed))
            every_table(design)
            residual = worst_residual(design)
        except InputError as error:
            refused += 1
            print(f"seed {seed}: refused, {error}", flush=True)
            continue
        except (ArithmeticError, ValueError, LookupError, TypeError, RuntimeWarning) as error:
            stopped += 1
            print(f"seed {seed}: {type(error).__name__}, {error}", flush=True)
            continue
        seconds[seed] = time.process_time() - start
        residuals.append(residual)
        if not residual <= MAX_RESIDUAL:
            print(f"seed {seed}: worst residual {residual:.1e}", flush=True)
    print(f"{asked.count} surveys: {stopped} stopped, {refused} refused with their reason, the others converged")
    median_s = statistics.median(seconds.values() or [0.0])
    slow = [seed for seed, taken in seconds.items() if taken > TIMES_MEDIAN * median_s]
    for seed in slow:
        print(f"seed {seed}: {seconds[seed]:.1f} s")
    longest_s = max(seconds.values(), default=0.0)
    print(f"worst residual {max(residuals):.1e}; time {median_s:.2f} s, at most {longest_s:.1f} s")
    passed = not stopped and not slow and max(residuals) <= MAX_RESIDUAL
    if passed:
        figures = {
            "surveys": asked.count,
            "first": asked.first,
            "refused": refused,
            "worst_residual": float(f"{max(residuals):.1e}"),
            "longest_by_median": round(longest_s / median_s, 1),
        }
        write_record("systems", figures)
    return int(not passed)
