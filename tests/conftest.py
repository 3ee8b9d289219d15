"""The demonstration designs, sized once a session; random cases that are the same on every run.

One command has one verdict; `--hypothesis-profile=explore` draws new cases. Designs are shared by all tests and are
changed by none: they are frozen, and their tables are copies.
"""

import gc
import os
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis.internal.conjecture import providers

import heatloop as hl
from heatloop.handover.parts import parts_list
from heatloop.report.notebook import jupyter  # noqa: F401  loads jsonschema without what takes it a second
from heatloop.survey.water_system import WaterSystem
from tests.helpers.cut_plans import searched_once
from tests.helpers.paths import DATA, HARBOUR_LOFT

# memory is swept as seldom as by the program itself: by Python's own thresholds half the time of collection is sweeping
gc.set_threshold(50_000, 20, 50)

# the matrices of the tests are small: with several processes, threads of the linear algebra only wait for each other
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# the tests start processes of the program: its bytecode is written once, not made anew by each
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

settings.register_profile("repeatable", derandomize=True)
settings.register_profile("explore", derandomize=False)
settings.load_profile("repeatable")
# numbers that stand in the modules loaded so far would be drawn too, and make cases depend on the tests run before
providers.__dict__["_get_local_constants"] = lambda: providers.__dict__["_local_constants"]


def pytest_collection_finish():
    """Leave the collected tests and all that they import out of later sweeps."""
    gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Tests that share what is costly to make run in one process, unless another way is asked for."""
    if config.getvalue("dist") != "load":
        return None
    from tests.helpers.shared_work import SharedWork

    config.option.loadscopereorder = False
    return SharedWork(config, log)


@pytest.fixture(scope="session")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all processes of this run share."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "shared"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture(scope="session", autouse=True)
def _the_same_work_once(run_folder: Path):
    """One search for the cuts of the same pieces."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(parts_list, "plan_cuts", searched_once(parts_list.plan_cuts, run_folder))
        yield


@pytest.fixture(scope="session")
def alder_lodge() -> hl.Design:
    """A house of nine rooms that meets all limits."""
    return hl.size(DATA / "alder-lodge" / "survey.toml")


@pytest.fixture(scope="session")
def alder_draft() -> hl.Design:
    """The first draft of that house: one room is short of heat."""
    return hl.size(DATA / "alder-lodge" / "draft.toml")


@pytest.fixture(scope="session")
def lodge_of_unknown_system(alder_draft: hl.Design) -> hl.Design:
    """The draft of Alder Lodge, with nothing said of its closed system."""
    return hl.size(replace(alder_draft.survey, system=WaterSystem()))


@pytest.fixture(scope="session")
def mill_annexe() -> hl.Design:
    """A small job in which every check passes."""
    return hl.size(DATA / "mill-annexe" / "survey.toml")


@pytest.fixture(scope="session")
def harbour_loft() -> hl.Design:
    """A job with a trunk mixed to a lower temperature."""
    return hl.size(HARBOUR_LOFT / "survey.toml")


def pytest_terminal_summary(terminalreporter):
    """What was skipped, in one line, each reason with how often."""
    reports = terminalreporter.stats.get("skipped", [])
    reasons = Counter(" ".join(report.longrepr[2].removeprefix("Skipped: ").split()) for report in reports)
    if reasons:
        told = "; ".join(reason if count == 1 else f"{reason} ({count})" for reason, count in reasons.items())
        terminalreporter.write_line(f"skipped: {told}")
