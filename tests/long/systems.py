"""Random surveys sized one after the other: whether all settle, how well balances close, how long it takes."""

from __future__ import annotations

import argparse
import statistics
import time

import heatloop as hl
from heatloop.findings.input_errors import InputError
from tests.helpers.random_systems import random_survey, worst_residual

MAX_RESIDUAL = 1e-9


def systems(arguments: list[str]) -> int:
    """Size `--count` surveys from the seed `--first` on; 1 where one stops or its balances do not close."""
    parser = argparse.ArgumentParser(prog="python -m tests.long systems", description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args(arguments)
    seconds, residuals, refused, stopped = [0.0], [0.0], 0, 0
    for seed in range(asked.first, asked.first + asked.count):
        start = time.perf_counter()
        try:
            residual = worst_residual(hl.size(random_survey(seed)))
        except InputError as error:
            refused += 1
            print(f"seed {seed}: refused, {error}", flush=True)
            continue
        except (ArithmeticError, ValueError, LookupError, TypeError) as error:
            stopped += 1
            print(f"seed {seed}: {type(error).__name__}, {error}", flush=True)
            continue
        seconds.append(time.perf_counter() - start)
        residuals.append(residual)
        if not residual <= MAX_RESIDUAL:
            print(f"seed {seed}: worst residual {residual:.1e}", flush=True)
    print(f"{asked.count} surveys: {stopped} stopped, {refused} refused with their reason, the others settled")
    print(f"worst residual {max(residuals):.1e}; time {statistics.median(seconds):.2f} s, at most {max(seconds):.1f} s")
    return int(stopped > 0 or not max(residuals) <= MAX_RESIDUAL)
