"""A process that does one task for each line that it reads, and answers with the processor time of the task.

    python tests/benchmarks/worker.py SURVEY [DWELLINGS SMALL_SURVEY]

`heatloop` is the version on the path: the early version has no task beyond `whole` and `sized_by`.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import heatloop as hl


@functools.cache
def _survey() -> Any:
    return hl.read_survey(sys.argv[1])


@functools.cache
def _design() -> Any:
    return hl.size(_survey())


def _count() -> int:
    return int(sys.argv[2])


@functools.cache
def _small() -> Any:
    return hl.read_survey(sys.argv[3])


def whole() -> None:
    """One design with all its tables."""
    hl.size(_survey()).to_dict()


def sized_by(size_by: str) -> None:
    """The same, by drop or by loss."""
    hl.size(replace(_survey(), project=replace(_survey().project, size_by=size_by))).to_dict()


def live(step_k: str) -> None:
    """The design at another flow temperature: rooms, loops and output range."""
    found = _resized(step_k)
    found.loops, found.rooms, found.output_range  # noqa: B018


def lean(step_k: str) -> None:
    """The same, loops alone."""
    _resized(step_k).loops  # noqa: B018


def _resized(step_k: str) -> Any:
    return _design().resize(flow_temp_c=_survey().project.flow_temp_c + float(step_k))


def step(step_k: str) -> None:
    """A step of the live design."""
    _interactive().change(flow_temp_c=_survey().project.flow_temp_c + float(step_k))


@functools.cache
def _interactive() -> Any:
    return hl.InteractiveDesign(_design())


def lowest(size_by: str) -> None:
    """Lowest flow temperature."""
    hl.lowest_flow_temperature(_survey().with_values({"project": {"size_by": size_by}}))


def samples() -> None:
    """Chances of rooms with 1,024 samples."""
    hl.uncertainty(_design(), {"fabric": 10.0, "air": 30.0, "rating": 5.0}, samples=1024)


@functools.cache
def _dwellings(size_by: str) -> list[hl.Survey]:
    from tests.helpers.portfolio import portfolio

    return [survey.with_values({"project": {"size_by": size_by}}) for survey in portfolio(_count())]


def many(size_by: str) -> None:
    """All dwellings of the portfolio, with the tables of their lots."""
    for lot in hl.size_many(_dwellings(size_by)):
        lot.tables  # noqa: B018


@functools.cache
def write_files(folder: str) -> list[Any]:
    """The dwellings as survey files in a folder."""
    return [dwelling.save(f"{folder}/{number}.toml") for number, dwelling in enumerate(_dwellings("drop"))]


def from_files(folder: str) -> None:
    """All dwellings of the portfolio from their files."""
    for lot in hl.size_many([f"{folder}/{number}.toml" for number in range(_count())]):
        lot.tables  # noqa: B018


def read() -> None:
    """The survey file."""
    hl.read_survey(sys.argv[1])


def small() -> None:
    """A design of two rooms and one loop: nearly nothing but the calls."""
    hl.size(_small()).to_dict()


def friction() -> float:
    """Time of the evaluations of pressure drops within one design, and of nothing else, s."""
    from heatloop.hydraulics.network.links import ElementArrays, PressureDropModel

    spent_s = 0.0

    def timed(plain: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(plain)
        def call(*arguments: Any) -> Any:
            nonlocal spent_s
            start = time.process_time()
            found = plain(*arguments)
            spent_s += time.process_time() - start
            return found

        return call

    with _replaced(PressureDropModel, "__call__", timed), _replaced(ElementArrays, "drop", timed):
        whole()
    return spent_s


@contextlib.contextmanager
def _replaced(of: type, name: str, change: Callable[..., Any]) -> Iterator[None]:
    plain = getattr(of, name)
    setattr(of, name, change(plain))
    try:
        yield
    finally:
        setattr(of, name, plain)


TASKS = (whole, sized_by, live, lean, step, lowest, samples, many, write_files, from_files, read, small, friction)


def main() -> None:
    """Answer each line: its first word is a task, the others are its arguments."""
    tasks: dict[str, Callable[..., Any]] = {task.__name__: task for task in TASKS}
    gc.set_threshold(50_000, 20, 50)
    _design()
    print("ready", flush=True)
    for line in sys.stdin:
        name, *values = line.split()
        start = time.process_time()
        inner_s = tasks[name](*values)
        elapsed_s = time.process_time() - start
        print(inner_s if isinstance(inner_s, float) else elapsed_s, flush=True)


if __name__ == "__main__":
    main()
