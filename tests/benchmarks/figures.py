"""What one design and its documents cost, as ratios to an early version of this program on the same house.

    python -m tests.benchmarks.figures [ROUNDS]

The early version is checked out of the history into a temporary folder. Both run by turns on this machine, in one
interpreter with one thread each; what counts is processor time, the least of many turns. The table goes to the page
"Performance" of the documentation too. Without the history at hand nothing is measured.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from heatloop.survey.starter_files import start_project
from tests.helpers.paths import DATA, ROOT

COMMIT = "d821e46"
EARLY_SURVEY, SURVEY = Path("data", "alder-lodge", "survey.toml"), DATA / "alder-lodge" / "draft.toml"
"""The same house of nine rooms and five loops, in the keys of each version."""

COMPLETE = DATA / "alder-lodge" / "survey.toml"
"""The house with everything surveyed that its documents show; the early version has one file for both."""

PAGE = ROOT / "docs" / "explanation" / "performance.md"
BEGIN, END = "<!-- figures of one design -->\n", "<!-- end of the figures -->\n"

STEPS_K = (0.5, -0.5, 2.0, -2.0)
"""Changes of the flow temperature of a design that is sized again."""

LOWEST_EVERY = 4
"""Rounds of the other figures for one search of the lowest flow temperature."""

MANY, PORTFOLIO = 80, 10_000
"""Dwellings that are timed, and those of a portfolio for which the time is stated."""

REPORT_EVERY = 6
"""Rounds of the other figures for one report of each kind."""

WORKER = Path(__file__).parent / "worker.py"
"""A process that does one task for each line that it reads."""

DESIGN_REPORT = """
import datetime as dt, gc, sys

gc.set_threshold(50_000, 20, 50)
from heatloop.report.notebook.notebook_page import page_html
from heatloop.report.notebook.run_notebook import find_notebook, run_notebook

notebook = run_notebook(find_notebook("design_report.ipynb"), {"survey_path": sys.argv[1]})
with open(sys.argv[2], "w", encoding="utf-8") as page:
    page.write(page_html(notebook, "Alder Lodge", "1", dt.date(2026, 1, 2)))
"""
"""A process that makes the page of the design report and nothing else."""


@contextmanager
def early_version() -> Iterator[Path | None]:
    """A folder with the early version, None where the history is not at hand."""
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder, "early")
        add = ["git", "-C", str(ROOT), "worktree", "add", "--detach", str(tree), COMMIT]
        try:
            done = subprocess.run(add, capture_output=True, check=False).returncode == 0
        except FileNotFoundError:
            done = False
        try:
            yield tree if done else None
        finally:
            if done:
                remove = ["git", "-C", str(ROOT), "worktree", "remove", "--force", str(tree)]
                subprocess.run(remove, capture_output=True, check=True)


def environment(tree: Path, threads: str | None) -> dict[str, str]:
    """The environment in which `tree` is the program, with so many threads for matrices (None: as it comes)."""
    kept = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    return {**kept, "PYTHONPATH": str(tree)} | ({} if threads is None else {"OPENBLAS_NUM_THREADS": threads})


@contextmanager
def worker(tree: Path, survey: Path, *others: object) -> Iterator[Callable[[str], float]]:
    """A process of that version that has sized the survey: a function that has it do a task and gives its time, s.

    `others`: how many dwellings it may size too, and a small survey.
    """
    command = [sys.executable, str(WORKER), str(survey), *map(str, others)]
    with subprocess.Popen(
        command, cwd=tree, env=environment(tree, "1"), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        tasks, answers = process.stdin, process.stdout
        assert answers.readline() == "ready\n"

        def seconds(task: str) -> float:
            print(task, file=tasks, flush=True)
            return float(answers.readline())

        yield seconds


def process_s(tree: Path, threads: str | None, *arguments: object) -> float:
    """Processor time of a run of Python from its start to its end, s."""
    before = os.times()
    command = [sys.executable, *map(str, arguments)]
    # the status is that of the verdict, which differs between versions
    subprocess.run(
        command,
        cwd=tree,
        env=environment(tree, threads),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def cold_s(tree: Path, survey: Path) -> float:
    """Processor time of `heatloop size`, s."""
    return process_s(tree, None, "-m", "heatloop", "size", survey)


def report_s(tree: Path, survey: Path, *options: str) -> float:
    """Processor time of `heatloop report` into a new folder, s."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder, "report")
        seconds = process_s(tree, "1", "-m", "heatloop", "report", survey, "-o", out, *options)
        assert list(out.glob("**/*.html")), "no report was written"
        return seconds


def design_report_s(survey: Path) -> float:
    """Processor time of the page of the design report alone, from the start of its process, s."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder, "page.html")
        seconds = process_s(ROOT, "1", "-c", DESIGN_REPORT, survey, page)
        assert page.stat().st_size, "no page was written"
        return seconds


def _measure_designs(
    before: Callable[[str], float],
    now: Callable[[str], float],
    rounds: int,
    folder: str,
    note: Callable[[str, float], None],
) -> None:
    """Times of the tasks of both versions by turns."""
    for turn in range(rounds):
        step_k = STEPS_K[turn % len(STEPS_K)]
        note("early", before("whole"))
        note("whole", now("whole"))
        for task in ("live", "lean", "step"):
            note(f"{task} {step_k}", now(f"{task} {step_k}"))
        for task in ("read", "friction", "small"):
            note(task, now(task))
    for _ in range(rounds // LOWEST_EVERY + 1):
        for size_by in ("drop", "loss"):
            note(f"lowest {size_by}", now(f"lowest {size_by}"))
            note(f"many {size_by}", now(f"many {size_by}") / MANY)
            note(f"early {size_by}", before(f"sized_by {size_by}"))
        note("samples", now("samples"))
        now(f"write_files {folder}")
        note("files", now(f"from_files {folder}") / MANY)


def measured(early: Path, rounds: int) -> dict[str, float]:
    """Ratios of the figures to the early version."""
    least: dict[str, float] = {}

    def note(name: str, seconds: float) -> None:
        least[name] = min(least.get(name, np.inf), seconds)

    with tempfile.TemporaryDirectory() as folder, worker(early, early / EARLY_SURVEY) as before:
        start_project(Path(folder, "small"))
        with worker(ROOT, SURVEY, MANY, Path(folder, "small", "survey.toml")) as now:
            _measure_designs(before, now, rounds, folder, note)
    for _ in range(rounds):
        note("early cold", cold_s(early, early / EARLY_SURVEY))
        note("cold", cold_s(ROOT, SURVEY))
    for _ in range(rounds // REPORT_EVERY + 1):
        note("early report", report_s(early, early / EARLY_SURVEY))
        note("report", report_s(ROOT, COMPLETE))
        note("client", report_s(ROOT, COMPLETE, "--for", "client"))
        note("check", report_s(ROOT, COMPLETE, "--for", "check"))
        note("design report", design_report_s(COMPLETE))

    def mean(task: str) -> float:
        return float(np.mean([least[f"{task} {step_k}"] for step_k in STEPS_K]))

    return {
        "size, all tables, warm": least["whole"] / least["early"],
        "resize: rooms, loops and output range": mean("live") / least["early"],
        "resize: loops alone": mean("lean") / least["early"],
        "step of the live design: rooms, loops and verdict": mean("step") / least["early"],
        "lowest flow temperature, sized by drop": least["lowest drop"] / least["early"],
        "lowest flow temperature, sized by heat loss": least["lowest loss"] / least["early"],
        "`heatloop size` from a cold start": least["cold"] / least["early cold"],
        "`heatloop report`: all documents": least["report"] / least["early report"],
        "`heatloop report --for client`": least["client"] / least["early report"],
        "`heatloop report --for check`": least["check"] / least["early report"],
        "design report alone": least["design report"] / least["early report"],
        "a dwelling of many, sized by drop": least["many drop"] / least["early drop"],
        "a dwelling of many, sized by heat loss": least["many loss"] / least["early loss"],
        f"{PORTFOLIO:,} dwellings from files on two cores, in minutes": least["files"] * PORTFOLIO / 2.0 / 60.0,
        "1,024 samples of uncertain inputs": least["samples"] / least["early"],
        "limit of a size: the evaluations of pipe friction alone": least["friction"] / least["early"],
        "limit of a size: the calls alone (two rooms, one loop)": least["small"] / least["early"],
        "limit of a size: reading its file": least["read"] / least["early"],
    }


GOALS = {
    "size, all tables, warm": 0.75,
    "resize: rooms, loops and output range": 0.25,
    "resize: loops alone": 0.125,
    "step of the live design: rooms, loops and verdict": 0.70,
    "lowest flow temperature, sized by drop": 3.0,
    "lowest flow temperature, sized by heat loss": 6.0,
    "`heatloop size` from a cold start": 0.80,
    "`heatloop report`: all documents": 1.0,
    "`heatloop report --for client`": 0.3,
    "`heatloop report --for check`": 0.75,
    "design report alone": 0.6,
    "a dwelling of many, sized by drop": 0.05,
    "a dwelling of many, sized by heat loss": 0.05,
    f"{PORTFOLIO:,} dwellings from files on two cores, in minutes": 5.0,
    "1,024 samples of uncertain inputs": 15.0,
}
"""Goals; what limits the time has none."""


def decimals(ratio: float) -> int:
    """Decimals of a ratio in the table."""
    return 3 if ratio < 0.1 else 2


def table(ratios: dict[str, float]) -> str:
    """The figures as a table of the page."""
    rows = [f"| {name} | {_printed(name, ratio)} | {_judged(name, ratio)} |" for name, ratio in ratios.items()]
    return "\n".join(["| what | time over the early version | goal | met |", "| --- | --- | --- | --- |", *rows, ""])


def _printed(name: str, ratio: float) -> str:
    """A ratio with its decimals, and more where these would hide that it misses its goal."""
    goal, places = GOALS.get(name, np.inf), decimals(ratio)
    while ratio > goal >= float(f"{ratio:.{places}f}"):
        places += 1
    return f"{ratio:.{places}f}"


def _judged(name: str, ratio: float) -> str:
    """Goal of a figure and whether it is met; for a limit, dashes."""
    return f"{GOALS[name]:g} | {'yes' if ratio <= GOALS[name] else 'no'}" if name in GOALS else "– | –"


def write(text: str) -> None:
    """Put the table into its place on the page."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = page.index(BEGIN) + len(BEGIN), page.index(END)
    PAGE.write_text(f"{page[:start]}\n{text}\n{page[end:]}", encoding="utf-8")


def main() -> int:
    """Measure, print and write the figures; 1 where the early version is not at hand."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 4 * len(STEPS_K)
    if rounds < len(STEPS_K):
        print(f"figures: {rounds} rounds: must be at least {len(STEPS_K)}, one for each step", file=sys.stderr)
        return 2
    with early_version() as early:
        if early is None:
            print(f"figures: commit {COMMIT} is not in the history here; nothing measured", file=sys.stderr)
            return 1
        text = table(measured(early, rounds))
    print(text, end="")
    write(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
