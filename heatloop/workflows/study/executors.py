"""Tasks of a study on processes of this machine, or on any executor of `concurrent.futures`."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from itertools import islice

from heatloop.report.files.export import ReportError
from heatloop.workflows.study.task import Task, run_task

MAX_PENDING = 256
"""Tasks handed to an executor at a time."""

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def default_processes() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run_here(tasks: Iterable[Task]) -> Iterator[int]:
    """Run the tasks in this process, one after the other; the number of dwellings of each when it is done."""
    yield from map(run_task, tasks)


def run_in_processes(tasks: Iterable[Task], processes: int) -> Iterator[int]:
    """Run the tasks in new processes of this machine. ReportError where one of them ends by itself."""
    context = multiprocessing.get_context("spawn")
    with _one_thread(), ProcessPoolExecutor(processes, context, _begin_process) as executor:
        try:
            yield from run_on(executor, tasks)
        except BrokenProcessPool:
            raise ReportError(
                "study: found that a process ended early; required: fewer processes if memory is short, and in a "
                'script the call below if __name__ == "__main__". The same study continues with what is done'
            ) from None


def run_on(executor: Executor, tasks: Iterable[Task]) -> Iterator[int]:
    """Run the tasks on an executor; the number of dwellings of each when it is done, in any order.

    Results are released as they come. Where a task fails, those that have not begun are cancelled.
    """
    waiting = iter(tasks)
    pending: set[Future[int]] = {executor.submit(run_task, task) for task in islice(waiting, MAX_PENDING)}
    try:
        while pending:
            done, pending = wait(pending, return_when=FIRST_COMPLETED)
            pending |= {executor.submit(run_task, task) for task in islice(waiting, len(done))}
            while done:
                yield done.pop().result()
    finally:
        for future in pending:
            future.cancel()


@contextmanager
def _one_thread() -> Iterator[None]:
    """New processes calculate in one thread each; settings of the caller are kept."""
    added = [name for name in ONE_THREAD if name not in os.environ]
    os.environ.update(dict.fromkeys(added, "1"))
    try:
        yield
    finally:
        for name in added:
            os.environ.pop(name, None)


def _begin_process() -> None:
    """Prepare a process: Ctrl-C is for the first process alone, and none outlives it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.set_threshold(50_000, 20, 50)
    first = multiprocessing.parent_process()
    if first is not None:
        threading.Thread(target=_end_after, args=(first.join,), daemon=True).start()


def _end_after(ended: Callable[[], None]) -> None:
    """End this process at once when `ended` returns; a task that it leaves is done again by the next run."""
    ended()
    os._exit(1)
