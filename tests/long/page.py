"""docs/reference/reliability.md, written from the figures that long runs kept."""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from typing import Any

from tests.fuzz.targets import CASES
from tests.helpers.paths import ROOT
from tests.long.mutation import EQUIVALENT, MAX_EQUIVALENT, PACKAGES, equivalent
from tests.long.records import read_record

PAGE = ROOT / "docs" / "reference" / "reliability.md"
ABOUT = """# Reliability

Tests that take too long for every change are run occasionally: `python -m tests.long NAME`. This page is written from
the records of these runs in `tests/long/records/` (`python -m tests.long page`). Each section states the date of the
run, its commit (with a + if the package had changes not yet committed) and the quantity that was run.
"""


def reliability_page() -> str:
    """The whole page, a section for every kind of run that was made."""
    parts = [ABOUT]
    for name, (title, written) in SECTIONS.items():
        if record := read_record(name):
            parts.append(f"## {title}\n")
            parts.append(f"{record['date']}, commit `{record['commit']}`: `python -m tests.long {name}`.\n")
            parts.append("\n".join(written(record["figures"])) + "\n")
    return "\n".join(parts)


def page(arguments: list[str]) -> int:
    """Write the page."""
    argparse.ArgumentParser("python -m tests.long page").parse_args(arguments)
    PAGE.write_text(reliability_page(), encoding="utf-8")
    return 0


def _mutation(figures: dict[str, Any]) -> Iterator[str]:
    yield "A module is changed by one small fault at a time (a mutant), and the tests of its package must fail. Mutants"
    yield f"that no test can detect ({len(equivalent())} so far) are listed with their reasons in"
    yield f"`{EQUIVALENT.relative_to(ROOT)}` and are not counted. They may be at most"
    yield f"{100.0 * MAX_EQUIVALENT:.0f} % of the mutants that were tried. Each package has the commit at which its"
    yield "mutants were last tried.\n"
    yield "| package | commit | seed | mutants tried | equivalent | detected | score | aim | seconds each (median) |"
    yield "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    for name, one in figures.items():
        counted = one["tried"] - one["equivalent"]
        score = f"{math.floor(1000.0 * one['killed'] / counted) / 10.0:.1f} % | {100.0 * PACKAGES[name].aim:.0f} %"
        told = f"{one['tried']} | {one['equivalent']} | {one['killed']} | {score} | {one['seconds']:.2g}"
        yield f"| `{name}` | `{one['commit']}` | {one['seed']} | {told} |"
    left = [survivor for one in figures.values() for survivor in one["survivors"]]
    if left:
        yield "\nNot detected in that run:\n"
        yield from (f"- `{survivor}`" for survivor in left)


def _references(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['tests']} tests with {figures['asked']} random cases of each kind: networks against EPANET"
    yield "and pandapipes, channels against `solve_bvp`, whole systems against their own balances. All passed; the"
    yield "largest deviations are in [Validation](validation.md#other-libraries)."


def _diagnosis(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['systems']} of {figures['asked']} random systems from seed {figures['seed']} had a design;"
    yield "about six sites of each. Sites with the right explanation first, in per cent with 95 % limits:\n"
    yield "| sites | right first, % |"
    yield "| --- | --- |"
    yield from (f"| {name} | {text} |" for name, text in figures["right"].items())


def _fuzz(figures: dict[str, Any]) -> Iterator[str]:
    tried = ", ".join(f"{name} {count}" for name, count in figures["tried"].items())
    yield f"{sum(figures['tried'].values())} altered files ({tried}) were read in {figures['minutes'] / 60.0:.2g} hours"
    yield f"from seed {figures['seed']}, with {figures['faults']} faults of the program. The slowest took"
    yield f"{figures['longest_s']:.2g} s; the process used at most {figures['memory_mb']} MB."
    yield "Files whose values alone are altered are sized, with all tables and balances.\n"
    runs = figures["runs"]
    hours, files = sum(one["minutes"] for one in runs) / 60.0, sum(one["tried"] for one in runs)
    faults = sum(one["faults"] for one in runs)
    yield f"All {len(runs)} recorded runs together: {hours:.1f} hours, {files} files, {faults}"
    yield "faults of the program. Files that once broke the program, and now have a result or a line, are kept in"
    yield f"`{CASES.relative_to(ROOT)}` and read again in every test run: {len(list(CASES.iterdir()))} so far."


def _kills(figures: dict[str, Any]) -> Iterator[str]:
    yield f"The writing of a report was killed {figures['kills']} times, at each step that changes the disk. Each time"
    yield f"either all old files or all new files remained. {figures['tests']} tests of the written files passed."


def _order(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['tests']} tests passed with their files, and the tests of each file, in the order that seed"
    yield f"{figures['seed']} draws."


def _systems(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['surveys']} random surveys from seed {figures['first']}: {figures['refused']} were refused with"
    yield "their reason, all others were sized with all their tables. The worst residual of their balances is"
    yield f"{figures['worst_residual']:.1e}; the slowest took {figures['longest_by_median']:.1f} times the median."


def _lowest(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['surveys']} random surveys from seed {figures['first']}, every third sized by heat loss: for"
    yield f"{figures['agreed']} the lowest flow temperature is that of a scan of fresh sizes, to 0.01 K;"
    yield f"{figures['cold']} are too cold at the maximum flow temperature by both."


def _uncertainty(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['truths']} houses with deviations drawn from the bands, each solved by itself:"
    yield f"{figures['mean_percent']} % of the margins of their rooms are inside the ranges of 90 %, by room"
    yield f"{figures['min_percent']} to {figures['max_percent']} %. {figures['samples']:,} samples with the shares of"
    yield f"the inputs ({figures['solved']:,} solutions) took the processor time of {figures['sizes']} sizes."


def _entry(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['wrong']} cells of workbooks made wrong and {figures['wrong']} keys of survey files misspelt, one"
    yield "at a time: each was reported at its cell or its table, and no exception other than InputError was"
    yield f"raised. {figures['surveys']} random surveys from seed {figures['seed']}, in which every key occurs, with"
    yield f"{figures['values']:,} values: written as a workbook, TOML and data frames and read again, nothing was lost."


def _wheel(figures: dict[str, Any]) -> Iterator[str]:
    yield f"Wheel and source archive of version {figures['version']} were built by Python {figures['python']}."
    yield "The wheel was installed in an empty environment; there a job was started, sized and reported."


def _drawings(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['plans']} random plans from seed {figures['seed']}: {figures['pipes']} pipes on"
    yield f"{figures['sheets']} sheets, {figures['without_plan']} of them with table and details only. No text"
    yield "overlapped another text, a wall or the frame. Every pipe was once on a plan or in a detail, and once in the"
    yield "table."


def _installed(figures: dict[str, Any]) -> Iterator[str]:
    yield f"Python {figures['python']}, {figures['outcome']}.\n"
    yield ", ".join(f"{name} {version}" for name, version in figures["versions"].items()) + "."


def _pythons(figures: dict[str, Any]) -> Iterator[str]:
    yield f"The tests of {', '.join(figures['tests'])} passed by Python {', '.join(figures['passed'])}. Not on that"
    yield f"machine, so not run: {', '.join(figures['absent']) or 'none'}."


def _improvement(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['cases']} random houses of three rooms from seed {figures['first']}, four remedies for each room."
    yield "The least costly survey that passes was the same as that of all combinations by rising price in each"
    yield f"house; in {figures['without']} houses neither found one. The search sized {figures['searched']} surveys;"
    yield f"with all combinations that are not dearer, {figures['sized']} were sized."


def _study(figures: dict[str, Any]) -> Iterator[str]:
    yield f"A study of {figures['dwellings']} dwellings on two processes was killed at {figures['kills']} random"
    yield f"moments (seed {figures['seed']}), and each time continued with the same command. What stood after a kill"
    yield f"was right ({figures['found']} rows of dwellings in total) and was not done again. No process was left. Each"
    yield "study in the end had the same rows and files as an undisturbed one."


def _portfolio(figures: dict[str, Any]) -> Iterator[str]:
    yield f"{figures['count']:,} different houses as survey files were sized by {figures['jobs']} processes in"
    yield f"{figures['minutes']} minutes; a house took {figures['sizes']} of the processor time of one `hl.size`."
    yield f"The largest process used {figures['process_mb']} MB; the results take {figures['megabytes']} MB. Each house"
    yield f"is one row; {figures['compared']} of them were compared with `hl.size`: the largest deviation is"
    yield f"{figures['worst']:.1e}."


SECTIONS = {
    "mutation": ("Mutation tests", _mutation),
    "references": ("Reference libraries", _references),
    "diagnosis": ("Diagnosis", _diagnosis),
    "fuzz": ("Corrupted input files", _fuzz),
    "kills": ("Interrupted reports", _kills),
    "portfolio": ("Many houses", _portfolio),
    "study": ("Interrupted studies", _study),
    "order": ("Another order of the tests", _order),
    "systems": ("Random surveys", _systems),
    "improvement": ("Least costly surveys", _improvement),
    "lowest": ("Lowest flow temperature", _lowest),
    "uncertainty": ("Uncertainty", _uncertainty),
    "drawings": ("First-fix sheets", _drawings),
    "entry": ("Wrong entries and round trips of surveys", _entry),
    "wheel": ("Wheel and source archive", _wheel),
    "oldest": ("Oldest dependencies", _installed),
    "newest": ("Newest dependencies", _installed),
    "pythons": ("Versions of Python", _pythons),
}
