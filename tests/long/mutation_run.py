"""Mutants tried in a copy of the repository: `python -m tests.long.mutation_run job.json`, as mutation.py calls it.

One process reads everything and collects the tests once. It then runs them once, tracing which functions each test
calls, fixtures included. For a mutant inside a function it splits off a process, puts the altered code into the living
function and runs the tests that call it, the quickest and those that noticed most before first, up to the first
failure. A mutant of what is calculated on reading (constants, defaults) needs everything read anew: it has a process
split off before the package was read, and all tests, those that use its module first.

Each outcome is written as a line of JSON. Every test has a limit of time of its own, ten times what it needed, and so
has reading anew.
"""

from __future__ import annotations

import gc
import importlib
import itertools
import json
import os
import pickle
import resource
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from tests.long.mutants import Mutant, mutated

PRELOADED = ("numpy", "scipy.optimize", "scipy.sparse.linalg", "pandas", "fluids", "pydantic", "jinja2")
"""Libraries that every run needs: read once, then shared by the processes that are split off."""
LEAST_S, TIMES, MEMORY = 5.0, 10.0, 6 * 2**30
"""A test may take ten times what it needed without a mutant and five seconds more, and 6 GiB."""
READING_S = 60.0
"""Limit of reading package and tests anew."""
OPTIONS = ("-q", "-s", "-p", "no:randomly", "--hypothesis-profile=unshrunk")
CODE_IN_FUNCTION = 0x1
"""Flag of code that is a function's and not a class's (inspect.CO_OPTIMIZED)."""

Place = tuple[str, int, str]
"""File, first line and qualified name of a function."""


def main(path: str) -> int:
    """Try the mutants of a job; 1 where the tests fail without one."""
    job = json.loads(Path(path).read_text(encoding="utf-8"))
    told = os.fdopen(os.dup(1), "w", buffering=1)
    _silence()
    for name in PRELOADED:
        importlib.import_module(name)
    settings.register_profile(
        "unshrunk",
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    mutants = {digest: Mutant(**fields) for digest, fields in job["mutants"].items()}
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "calls"
        if _split(lambda: _tests_run(_Living(mutants, job, kept, told), job["tests"]))():
            return 1
        left, calls = pickle.loads(kept.read_bytes())
        quick = quickest(calls.seconds, job["share"])
        ways = {digest: _read_anew(mutants[digest], calls, quick) for digest in left}
        _side_by_side(ways, job["jobs"], told)
    return 0


class _Failure:
    """The first test that failed: a plugin of pytest."""

    failed: str | None = None

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Called by pytest with what became of each step of a test."""
        if report.failed:
            self.failed = self.failed or report.nodeid


class _Limits(_Failure):
    """The same, where each test has its limit of time."""

    def __init__(self, seconds: dict[str, float]) -> None:
        self.seconds = seconds

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        signal.setitimer(signal.ITIMER_REAL, LEAST_S + TIMES * self.seconds.get(item.nodeid, 0.0))
        done = yield
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        return done  # type: ignore[no-any-return]


class _Calls:
    """Which functions each test calls, and how long it takes."""

    def __init__(self) -> None:
        self.now: set[CodeType] = set()
        self.of_fixture: dict[str, set[CodeType]] = defaultdict(set)
        self.of_test: dict[str, set[Place]] = {}
        self.seconds: dict[str, float] = {}

    def trace(self, frame: Any, event: str, argument: Any) -> None:
        """For `sys.settrace`: a function is called."""
        self.now.add(frame.f_code)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        before, self.now = self.now, set()
        try:
            return (yield)  # type: ignore[no-any-return]
        finally:
            self.of_fixture[fixturedef.argname] |= self.now
            self.now |= before

    def run(self, items: list[pytest.Item]) -> None:
        """Run the tests once in order, each from empty caches."""
        caches = _caches()
        for item, following in zip(items, [*items[1:], None], strict=True):
            for clear in caches:
                clear()
            self.now, began = set(), time.perf_counter()
            sys.settrace(self.trace)
            item.ihook.pytest_runtest_protocol(item=item, nextitem=following)
            sys.settrace(None)
            self.seconds[item.nodeid] = time.perf_counter() - began
            for name in getattr(item, "fixturenames", ()):
                self.now |= self.of_fixture[name]
            self.of_test[item.nodeid] = places_of(self.now)


class _Living:
    """The mutants inside functions, tried where everything is read: a plugin of pytest."""

    def __init__(self, mutants: dict[str, Mutant], job: dict[str, Any], kept: Path, told: Any) -> None:
        self.mutants, self.jobs, self.kept, self.told = mutants, job["jobs"], kept, told
        self.share = job["share"]
        self.reading = _Calls()
        sys.settrace(self.reading.trace)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of pytest's own."""
        sys.settrace(None)
        on_reading = places_of(self.reading.now)
        if _split(lambda: self._traced(session))():
            session.testsfailed = 1
            return True
        calls: _Calls = pickle.loads(self.kept.read_bytes())
        living, ways, left = _living(), {}, []
        quick = quickest(calls.seconds, self.share)
        items = [item for item in session.items if item.nodeid in quick]
        for digest, mutant in self.mutants.items():
            codes = altered_functions(mutant)
            if codes is None or any(place in on_reading or place not in living for place in codes):
                left.append(digest)
                continue
            tests = [item for item in items if calls.of_test[item.nodeid] & codes.keys()]
            ways[digest] = _in_living(codes, living, tests, session, calls.seconds)
        self.kept.write_bytes(pickle.dumps((left, calls)))
        _side_by_side(ways, self.jobs, self.told)
        return True

    def _traced(self, session: pytest.Session) -> int:
        """In a process split off: the tests run once, what they call kept in a file."""
        calls, failure = _Calls(), _Failure()
        session.config.pluginmanager.register(calls)
        session.config.pluginmanager.register(failure)
        calls.run(session.items)
        calls.now, calls.of_fixture = set(), defaultdict(set)
        self.kept.write_bytes(pickle.dumps(calls))
        if failure.failed:
            print(f"fails without a mutant: {failure.failed}", file=sys.stderr, flush=True)
        return int(failure.failed is not None)


Attempt = Callable[[Counter[str]], str | None]
"""Runs the tests of a mutant in a process split off, given how often each test has noticed one; the one that fails."""


def _in_living(
    codes: dict[Place, CodeType],
    living: dict[Place, list[FunctionType]],
    tests: list[pytest.Item],
    session: pytest.Session,
    seconds: dict[str, float],
) -> Attempt:
    def attempt(noticed: Counter[str]) -> str | None:
        for place, code in codes.items():
            for function in living[place]:
                function.__code__ = code
        order = _Limits(seconds)
        session.config.pluginmanager.register(order)
        best = sorted(tests, key=lambda item: seconds[item.nodeid] / (1 + noticed[item.nodeid]))
        for item, following in zip(best, [*best[1:], None], strict=True):
            item.ihook.pytest_runtest_protocol(item=item, nextitem=following)
            if order.failed:
                break
        return order.failed

    return attempt


def quickest(seconds: dict[str, float], share: float) -> set[str]:
    """The quickest tests, which together take this share of the time of all, or just more."""
    order = sorted(seconds, key=seconds.__getitem__)
    before = [0.0, *itertools.accumulate(seconds[test] for test in order)]
    return {test for test, taken in zip(order, before, strict=False) if taken < share * before[-1]}


def _read_anew(mutant: Mutant, calls: _Calls, quick: set[str]) -> Attempt:
    """The files whose tests call a function of the module, then the others."""

    def attempt(noticed: Counter[str]) -> str | None:
        _alter_on_reading(mutant)
        own = str(Path(mutant.path).resolve())
        using = {test for test, places in calls.of_test.items() if any(place[0] == own for place in places)}
        files = list(dict.fromkeys(test.split("::")[0] for test in calls.of_test))
        first = [name for name in files if any(test.startswith(f"{name}::") for test in using)]
        for part in (first, [name for name in files if name not in first]):
            if part:
                order = _Anew(calls.seconds, quick, using, noticed)
                signal.setitimer(signal.ITIMER_REAL, READING_S)
                code = _tests_run(order, ["-x", *part])
                if code and code != pytest.ExitCode.NO_TESTS_COLLECTED:
                    return order.failed or "reading"
        return None

    return attempt


class _Anew(_Limits):
    """The same, the tests put in order: those that use the module, the quickest first."""

    def __init__(self, seconds: dict[str, float], quick: set[str], using: set[str], noticed: Counter[str]) -> None:
        super().__init__(seconds)
        self.quick, self.using, self.noticed = quick, using, noticed

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        def rank(item: pytest.Item) -> tuple[bool, float]:
            return item.nodeid not in self.using, self.seconds.get(item.nodeid, 0.0) / (1 + self.noticed[item.nodeid])

        items[:] = sorted((item for item in items if item.nodeid in self.quick), key=rank)


def altered_functions(mutant: Mutant) -> dict[Place, CodeType] | None:
    """New code of the functions that a mutant alters, None where it alters anything else."""
    path = str(Path(mutant.path).resolve())
    source = Path(path).read_text(encoding="utf-8")
    before = compile(source, path, "exec", dont_inherit=True)
    after = compile(mutated(source, mutant), path, "exec", dont_inherit=True)
    if _shell(before) != _shell(after):
        return None
    then = dict(_functions(before))
    return {place: code for place, code in _functions(after) if code != then.get(place)}


def _functions(code: CodeType) -> Iterator[tuple[Place, CodeType]]:
    """The functions of a module and of its classes, those inside others left to them."""
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            if inner.co_flags & CODE_IN_FUNCTION:
                yield place_of(inner), inner
            else:
                yield from _functions(inner)


def _shell(code: CodeType) -> list[Any]:
    """All of a module that is no function: instructions, names and constants, of its classes likewise."""
    own: list[Any] = [code.co_code, code.co_names, code.co_exceptiontable]
    for inner in code.co_consts:
        if not isinstance(inner, CodeType):
            own.append((type(inner).__name__, repr(inner)))
        elif not inner.co_flags & CODE_IN_FUNCTION:
            own.append(_shell(inner))
        else:
            own.append(place_of(inner))
    return own


def place_of(code: CodeType) -> Place:
    """Where a function stands."""
    return code.co_filename, code.co_firstlineno, code.co_qualname


def places_of(codes: set[CodeType]) -> set[Place]:
    """Where those of them stand that belong to the package."""
    own = str(Path("heatloop").resolve())
    return {place_of(code) for code in codes if code.co_filename.startswith(own)}


def _living() -> dict[Place, list[FunctionType]]:
    """All functions of the package in this process."""
    found: dict[Place, list[FunctionType]] = defaultdict(list)
    own = str(Path("heatloop").resolve())
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__code__.co_filename.startswith(own):
            found[place_of(one.__code__)].append(one)
    return found


def _caches() -> list[Callable[[], None]]:
    """What empties each cache of the package and of the tests."""
    found = {}
    for one in gc.get_objects():
        if hasattr(type(one), "cache_clear") and getattr(one, "__module__", "").startswith(("heatloop", "tests")):
            found[id(one)] = one.cache_clear
    return list(found.values())


def _alter_on_reading(mutant: Mutant) -> None:
    """From now on the module is read with its mutant in it."""
    path, read = str(Path(mutant.path).resolve()), SourceFileLoader.get_code

    def get_code(loader: SourceFileLoader, name: str) -> Any:
        if loader.path != path:
            return read(loader, name)
        source = Path(path).read_text(encoding="utf-8")
        return compile(mutated(source, mutant), path, "exec", dont_inherit=True)

    SourceFileLoader.get_code = get_code  # type: ignore[assignment,method-assign]


def _tests_run(plugin: object, arguments: list[str]) -> int:
    return int(pytest.main([*OPTIONS, *arguments], plugins=[plugin]))


def _side_by_side(ways: dict[str, Attempt], jobs: int, told: Any) -> None:
    """Try each mutant in a process of its own, so many at once, and report each."""
    noticed: Counter[str] = Counter()
    running: dict[int, tuple[str, float, int]] = {}
    waiting = list(ways.items())
    while waiting or running:
        while waiting and len(running) < jobs:
            digest, attempt = waiting.pop(0)
            reading, writing = os.pipe()
            process = os.fork()
            if process == 0:
                _try(attempt, noticed, writing)
            os.close(writing)
            running[process] = digest, time.monotonic(), reading
        process, status = os.wait()
        digest, began, reading = running.pop(process)
        with os.fdopen(reading, "rb") as pipe:
            by = pipe.read().decode()
        if os.waitstatus_to_exitcode(status):
            by = "time or memory"
        noticed[by] += 1
        found = {"digest": digest, "by": by or None, "seconds": round(time.monotonic() - began, 3)}
        print(json.dumps(found), file=told)


def _try(attempt: Attempt, noticed: Counter[str], writing: int) -> None:
    """In the process that is split off: try the mutant, report which test noticed, and end."""
    os.setsid()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    try:
        os.write(writing, (attempt(noticed) or "").encode())
    except BaseException:
        os._exit(1)
    os._exit(0)


def _split(work: Callable[[], int]) -> Callable[[], int]:
    """The work done in a process split off: gives its exit code."""

    def wait() -> int:
        process = os.fork()
        if process == 0:
            os._exit(work())
        return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])

    return wait


def _silence() -> None:
    """Nothing that tests print is shown."""
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1):
        os.dup2(nothing, stream)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
