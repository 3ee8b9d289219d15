"""How time rises with size: `python -m tests.benchmarks.curve` writes the figures that the docs draw.

Process milliseconds of one coupled solve and of a scenario among many side by side, systems of 1 to 1,000 loops, of the
peers' solver calls on the dwelling of twelve, of designs of houses of 2 to 40 rooms, and of a dwelling among many.
"""

from __future__ import annotations

import csv
import os
import tempfile
import warnings
from pathlib import Path

import pandapipes

import heatloop as hl
from heatloop.hydraulics.solver.scenarios import solve_scenarios
from heatloop.survey.starter_files import start_project
from tests.benchmarks.pandapipes_dwelling import pandapipes_dwelling
from tests.benchmarks.test_coupled import AT_45, WATER, drawn, epanet_of, ours
from tests.benchmarks.timing import min_s
from tests.helpers.dwelling import HEAD_PA, dwelling, plain_pipes
from tests.helpers.guest_house import guest_house
from tests.helpers.large_house import large_house
from tests.helpers.paths import DATA, ROOT
from tests.helpers.portfolio import portfolio

LOOPS = (1, 3, 12, 40, 100, 300, 1000)
DWELLING = 12
TIMES = ROOT / "docs" / "pictures" / "times.csv"


DWELLINGS = (1, 3, 10, 30, 100, 300, 1000)


def designs(folder: Path) -> list[tuple[str, int, float]]:
    """One design with all its tables, by the number of rooms."""
    start_project(folder / "small")
    surveys = [
        hl.read_survey(path)
        for path in (
            folder / "small" / "survey.toml",
            DATA / "mill-annexe" / "survey.toml",
            DATA / "alder-lodge" / "survey.toml",
            large_house(folder / "large"),
            guest_house(folder / "guest"),
        )
    ]
    calls = [(lambda survey=survey: hl.size(survey).to_dict(), 1) for survey in surveys]
    return [
        ("a design", len(survey.rooms), 1e3 * seconds)
        for survey, seconds in zip(surveys, min_s(4, *calls), strict=True)
    ]


def dwellings() -> list[tuple[str, int, float]]:
    """A dwelling among so many."""
    surveys = list(portfolio(max(DWELLINGS)))
    found = []
    for count in DWELLINGS:
        own = surveys[:count]
        (seconds,) = min_s(2 if count > 100 else 4, (lambda own=own: [lot.tables for lot in hl.size_many(own)], 1))
        found.append(("a dwelling among many", count, 1e3 * seconds / count))
    return found


def rows() -> list[tuple[str, int, float]]:
    """What was timed, the number of loops, and its least process milliseconds."""
    found = []
    for loops in LOOPS:
        system = dwelling(loops)
        guess, asked = ours(system).loop_flow_kg_s, drawn(system, 20 if loops >= 100 else 200)
        one, many = min_s(
            3,
            (lambda system=system: ours(system), 6 if loops < 100 else 2),
            (lambda system=system, asked=asked, guess=guess: solve_scenarios(system, asked, WATER, guess), 1),
        )
        found += [("one solve", loops, 1e3 * one), ("a scenario among many", loops, 1e3 * many / asked.count)]
    peer = plain_pipes(dwelling(DWELLING))
    net, epanet = pandapipes_dwelling(peer, HEAD_PA, AT_45), epanet_of(peer, "curve")

    def pandapipes_call() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            pandapipes.pipeflow(net, mode="bidirectional", friction_model="colebrook", iter=100)

    pandapipes_call()
    theirs, hydraulics = min_s(6, (pandapipes_call, 1), (epanet.ENsolveH, 5))
    return [*found, ("pandapipes", DWELLING, 1e3 * theirs), ("EPANET, flow alone", DWELLING, 1e3 * hydraulics)]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)  # EPANET keeps scratch files where it runs
        measured = [*rows(), *designs(Path(folder)), *dwellings()]
    with TIMES.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("what", "count", "process_ms"))
        writer.writerows((what, count, f"{ms:.3f}") for what, count, ms in measured)
