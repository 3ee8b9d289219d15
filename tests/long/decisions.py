"""Decisions at their full counts: lowest flow temperatures against a scan, ranges of uncertainty against houses.

The first are compared with fresh sizes at all temperatures, the second with houses that are solved one by one.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import heatloop as hl
from heatloop.findings.input_errors import InputError
from tests.helpers.flow_temperature_scan import scanned_c
from tests.helpers.paths import DATA
from tests.helpers.random_systems import random_survey
from tests.helpers.uncertain_site import BANDS, COVERED, TRUTHS, covered
from tests.long.records import write_record

MIN_C, MAX_C = 30.0, 90.0
AGREE_K = 0.01


def lowest(arguments: list[str]) -> int:
    """Lowest flow temperatures of `--count` random surveys, every third sized by loss, against fresh sizes."""
    parser = argparse.ArgumentParser(prog="python -m tests.long lowest", description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args(arguments)
    agreed, cold, wrong = 0, 0, []
    for seed in range(asked.first, asked.first + asked.count):
        survey = random_survey(seed)
        by = "loss" if seed % 3 == 2 else "drop"
        survey = replace(
            survey,
            project=replace(survey.project, size_by=by),
            source=replace(survey.source, max_flow_temp_c=MAX_C),
        )
        scanned = scanned_c(survey, MIN_C, MAX_C)
        try:
            found: float | None = hl.lowest_flow_temperature(survey, MIN_C).flow_temp_c
        except InputError:
            found = None
        if found is None and scanned is None:
            cold += 1
        elif found is not None and scanned is not None and abs(found - scanned) <= AGREE_K:
            agreed += 1
        else:
            wrong.append(seed)
            print(f"seed {seed}, sized by {by}: found {found}, scanned {scanned}", flush=True)
    print(f"{asked.count} surveys: {agreed} agree to {AGREE_K} K, {cold} too cold at {MAX_C:g} °C, {len(wrong)} differ")
    if not wrong:
        write_record("lowest", {"surveys": asked.count, "first": asked.first, "agreed": agreed, "cold": cold})
    return int(bool(wrong))


def uncertainty(arguments: list[str]) -> int:
    """Ranges of 90 % of Alder Lodge against houses as built, and the time of a thousand samples in sizes."""
    parser = argparse.ArgumentParser(prog="python -m tests.long uncertainty", description=__doc__)
    parser.add_argument("--truths", type=int, default=TRUTHS)
    asked = parser.parse_args(arguments)
    design = hl.size(DATA / "alder-lodge" / "survey.toml")
    start = time.process_time()
    hl.size(DATA / "alder-lodge" / "survey.toml")
    sized = time.process_time()
    found = hl.uncertainty(design, BANDS)
    sizes = (time.process_time() - sized) / (sized - start)
    counts = covered(design, found, range(asked.truths))
    shares = {room: count / asked.truths for room, count in counts.items()}
    low, high = COVERED
    mean = sum(shares.values()) / len(shares)
    print(f"{asked.truths} houses: {100.0 * mean:.1f} % of the margins are in their ranges, by room "
          f"{100.0 * min(shares.values()):.1f} to {100.0 * max(shares.values()):.1f} %; "
          f"{found.summary['samples']} samples took the time of {sizes:.1f} sizes")  # fmt: skip
    passed = low <= min(shares.values()) and max(shares.values()) <= high
    if passed:
        figures = {
            "truths": asked.truths,
            "samples": found.summary["samples"],
            "solved": found.summary["solved"],
            "mean_percent": round(100.0 * mean, 1),
            "min_percent": round(100.0 * min(shares.values()), 1),
            "max_percent": round(100.0 * max(shares.values()), 1),
            "sizes": round(sizes, 1),
        }
        write_record("uncertainty", figures)
    return int(not passed)
