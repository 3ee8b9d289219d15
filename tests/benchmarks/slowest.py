"""The ten tests that take the most processor time, with the reason of each, for the page "Performance".

    python -m tests.benchmarks.slowest [PYTEST ARGUMENTS]

The whole run of tests is measured, test by test, fixtures that it is the first to ask for and processes that it starts
included, but for the last test of each process. A slow test without a reason in WHY is an error, and the page stays as
it is.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.paths import ROOT

TIMES = "HEATLOOP_TIMES"
"""Names the folder for the measured times, one file for each process of the run."""

PAGE = ROOT / "docs" / "explanation" / "performance.md"
BEGIN, END = "<!-- slowest tests -->\n", "<!-- end of the slowest tests -->\n"
SHOWN = 10

CUTS = "the first to ask for the cutting plan of the house of nine rooms, whose search takes seconds"
STUDY = "a study in processes of its own, each with its imports"
LOTS = "every survey of a lot is sized by itself too"
CLUSTER = "the first to ask for the cluster begins its processes"
REPORT = "a report in a process of its own, with its notebook and its imports"
WHY = {
    "test_nothing_is_fetched_or_reported": "makes the interactive plans of one, nine and twenty rooms, opens each",
    "test_two_pages": "makes the designs of one, nine and twenty rooms that the tests beside it print",
    "test_reports_at_once_from_one_folder_leave_nothing_in_it": "four reports, each in a process of its own",
    "test_no_table_slides_in_a_wide_window": "makes the whole report of nine rooms that all tests in the browser read",
    "test_an_accessibility_scan_finds_nothing": "makes the interactive plans of one, nine and twenty rooms",
    "test_the_page_has_the_figures_of_the_design": "sizes nine rooms after each of six changes",
    "test_nothing_is_fetched_said_or_run": "makes the whole report of nine rooms that all tests in the browser read",
    "test_diagnoses_are_right_as_often_as_they_should_be": "15 random systems are sized, simulated and diagnosed",
    "test_a_house_of_nine_rooms_is_traced_in_a_notebook": "starts JupyterLab, and traces nine rooms in it by mouse",
    "test_pages": "runs the notebook of the design report and prints its pages by Chromium",
    "test_all_commands_print_one_verdict_and_end_with_one_status": "every command, the whole report among them",
    "test_an_independent_evaluator_finds_the_stored_results": "another library calculates every formula of a workbook",
    "test_a_report_from_a_folder_that_cannot_be_written_to": "a whole run of the notebook of the design report",
    "test_closed_and_full_streams": REPORT,
    "test_ctrl_c_leaves_the_earlier_files_whole": f"{REPORT}, stopped at its end",
    "test_a_full_disk_leaves_the_earlier_report_whole": REPORT,
    "test_a_kernel_of_its_own_gives_the_same_page": "the notebook twice, once in a kernel of its own",
    "test_page_stands_alone": "makes the whole report with hostile names that the tests beside it read",
    "test_the_design_report_exports_what_the_library_answers": "runs the notebook with all that it exports",
    "test_a_design_without_findings_asks_for_nothing": CUTS,
    "test_tables_hold_the_columns_of_their_descriptions_in_order": CUTS,
    "test_common_practice_most_joints_are_ends_corners_and_crossings": CUTS,
    "test_a_page_shows_what_its_blocks_print_and_every_key": "runs every command and block that the page shows",
    "test_findings_have_figure_sign_and_limit": CUTS,
    "PartsList.price": CUTS,
    "test_cuts_tapes_and_set_outs_are_whole_and_gaps_are_halves": "cutting plans of random rooms",
    "test_the_demonstration_house_stands_on_two_sheets_at_1_to_50": "draws the sheets, compares every pair of items",
    "test_twenty_rooms_stand_on_at_most_four_sheets": "draws the sheets of twenty rooms",
    "test_2000_rooms_each_like_the_next": "a survey of 2,000 rooms, read twice",
    "test_300000_unknown_keys_are_told_in_short_and_in_time": "a survey of 300,000 keys",
    "test_the_site_builds_and_fetches_nothing_from_outside": "builds all pages of the documentation",
    "test_a_remedy_has_one_number_with_and_without_prices": "two searches for the remedies of a kitchen",
    "test_a_worker_that_is_killed_loses_and_doubles_no_row": CLUSTER,
    "test_a_task_that_fails_on_a_worker_is_reported": CLUSTER,
    "test_the_last_section_lists_every_table_and_figure_once": "makes the report of nine rooms that many tests read",
    "test_a_study_killed_at_random_moments_continues": STUDY,
    "test_ctrl_c_keeps_what_is_done": STUDY,
    "test_surveys_held_in_python_are_sized_as_files_are": STUDY,
    "test_processes_continue_a_study_and_give_the_same_rows": STUDY,
    "test_a_process_that_ends_early_is_one_line_and_the_study_continues": STUDY,
    "test_without_script_every_figure_of_the_design_is_there": "makes interactive plans of three houses",
    "test_rows_with_bypasses_and_buoyancy_are_those_of_their_designs": LOTS,
    "test_a_drag_in_a_notebook_ends_on_its_last_value": "starts JupyterLab, and drags a slider for two seconds",
    "test_everyone_can_read_it": "an accessibility scan of every document but the longest",
    "test_the_cheapest_design_is_written_for_the_lowest_flow_temperature": "two searches at two flow temperatures each",
    "test_the_pdf_has_pages_numbers_and_an_outline": "makes a report and prints it by Chromium",
    "test_title_block_revisions_warning_and_hostile_names_stand_on_the_sheets": "draws all sheets of first fix",
    "test_pages_of_the_summary": "makes the designs of one, nine and twenty rooms that the tests beside it print",
    "test_rows_of_random_surveys_in_a_lot_are_those_of_their_designs": LOTS,
    "test_rows_of_any_random_surveys_are_those_of_their_designs": LOTS,
    "test_a_scan_of_fresh_sizes_finds_the_same_temperature": "a survey is sized afresh at every temperature scanned",
    "test_no_words_are_cut_off": "draws all figures of forty rooms",
    "test_nothing_touches_in_rooms_of_any_shape": "draws sheets of 25 random rooms, compares every pair of items",
    "test_random_there_and_back_runs": "scipy solves random runs as boundary value problems",
    "test_the_energy_of_a_year_is_that_of_the_cheapest_survey": "a search for remedies at two flow temperatures",
    "test_without_prices_profile_is_the_measure_at_each_flow_temperature": "a search at three flow temperatures",
    "test_every_row_is_what_size_gives_for_the_changed_survey": "the first to ask for the remedies; sizes each again",
    "test_numbers_in_the_text_are_those_of_the_cells": "runs every cell of a lesson",
    "test_after_any_walk_it_shows_what_sizing_its_survey_gives": "changes a live design of nine rooms, then sizes it",
    "test_altered_survey": "reads hundreds of altered surveys",
    "test_a_search_that_cannot_list_all_patterns_ends_by_itself_with_a_plan_as_good": "two cutting plans, searched",
    "test_every_public_name_comes_when_asked_for_and_no_module_takes_its_place": "imports the package anew",
    "test_every_page_of_a_report_has_its_pdf_where_one_is_asked_for": "prints every page of a report by Chromium",
    "test_two_runs_write_the_same_bytes": "writes all drawings twice",
}
"""Why a test takes long, by its name without its case."""


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    """Keep the processor time of one test, s."""
    before = _processor_s()
    answer = yield
    if nextitem is not None:  # with the last test of a process its browser and its server end, which are no test's own
        with Path(os.environ[TIMES], f"{os.getpid()}.jsonl").open("a", encoding="utf-8") as file:
            print(json.dumps([item.nodeid, _processor_s() - before]), file=file)
    return answer


def _processor_s() -> float:
    """Processor time of this process and of those it started that have ended, s."""
    return sum(os.times()[:4])


def measured(arguments: list[str]) -> tuple[dict[str, float], bool]:
    """Processor time of each test of a run, s, by its place and name, and whether a test failed."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pytest", "-q", "-n", "auto", "-p", "tests.benchmarks.slowest", *arguments]
        failed = subprocess.run(command, cwd=ROOT, env={**os.environ, TIMES: folder}, check=False).returncode != 0
        lines = [line for path in Path(folder).iterdir() for line in path.read_text(encoding="utf-8").splitlines()]
    return dict(json.loads(line) for line in lines), failed


def slowest(times_s: dict[str, float]) -> list[str]:
    """The tests that take longest, the slowest first."""
    return sorted(times_s, key=lambda one: -times_s[one])[:SHOWN]


def name(test: str) -> str:
    """The name of a test without its file and its case; of a docstring, the class and method."""
    last = test.rpartition("::")[2].partition("[")[0]
    return last if last.startswith("test_") else ".".join(last.split(".")[-2:])


def table(times_s: dict[str, float]) -> str:
    """The slowest tests, their times over the slowest and reasons; raises KeyError for one without a reason."""
    slow = slowest(times_s)
    rows = ["| test | time over the slowest | why |", "| --- | --- | --- |"]
    for test in slow:
        shown = test.rpartition("::")[2].replace("|", " ")
        file = test.partition("::")[0].rpartition("/")[2]
        rows.append(f"| `{shown}` of `{file}` | {times_s[test] / times_s[slow[0]]:.2f} | {WHY[name(test)]} |")
    return "\n".join(rows) + "\n"


def main() -> int:
    """Measure, print the ten and write the table to the page; 1 where a test failed or a slow one has no reason."""
    times_s, failed = measured(sys.argv[1:])
    slow = slowest(times_s)
    for test in slow:
        print(f"{times_s[test]:6.1f} s  {test}")
    if missing := [test for test in slow if name(test) not in WHY]:
        print(f"without a reason in WHY: {', '.join(missing)}", file=sys.stderr)
    if failed or missing:
        return 1
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    after = rest.partition(END)[2]
    PAGE.write_text(f"{before}{BEGIN}\n{table(times_s)}\n{END}{after}", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
