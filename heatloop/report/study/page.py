"""The page of a study: which cases have no failed check, and what the others lack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
from markupsafe import Markup

from heatloop.report.plots.study_outcomes import study_plot
from heatloop.results.many_dwellings.outcomes import NOT_MADE
from heatloop.results.many_dwellings.study_result import (
    BY_FLOW_TEMP,
    CHECK_COUNTS,
    FAILED_OR_NOT_SIZED,
    StudyResult,
    outcomes,
)
from heatloop.text.column import TableDescription
from heatloop.text.formatting import escape_control_characters, number, plural
from heatloop.text.html import Cell, Heading, HtmlTable, cell_of, heading_of, rendered, table_html

MARKER = "heatloop study"
PAGE = "index.html"

MAX_ROWS = 300
"""Rows of a table on the page; the folder has all of them."""
MAX_TEMPS = 12
"""Flow temperatures for which each survey has a column."""

WORDS = {"all_met": ("✓ no failed check", "pass"), "caution": ("▲ no failed check, with cautions", "caution"),
         "failed": ("✗ with failed checks", "fail"), "not_sized": ("– not sized", "")}  # fmt: skip
"""Outcome of a dwelling as a cell writes it, and the verdict that marks it."""


def study_page(study: StudyResult) -> str:
    """The page as self-contained HTML: answer, picture, flow temperatures, cases with failed checks, checks."""
    lacking, dwellings = study.failed_or_not_sized, study.dwellings
    temps = sorted(dwellings["flow_temp_c"].dropna().round(1).unique())
    tables = [_described(BY_FLOW_TEMP, study.by_flow_temp)] if study.has_few_temps else []
    if study.is_sweep and len(temps) <= MAX_TEMPS and len(dwellings) > len(temps):
        tables.append(_by_survey(dwellings, temps))
    tables += [_described(FAILED_OR_NOT_SIZED, lacking), _described(CHECK_COUNTS, study.check_counts)]
    every = len(lacking) == 0 and study.complete
    return rendered(
        "heatloop.report.study",
        "study.html",
        marker=MARKER,
        title=escape_control_characters(study.title),
        outcome="pass" if every else "fail",
        answers=answers(study),
        complete=study.complete,
        not_made="; ".join(NOT_MADE),
        figure=Markup(study_plot(study)._repr_html_()),
        tables=[(table.caption, Markup(table_html(table))) for table in tables],
        faults=int((outcomes(dwellings) == "not_sized").sum()),
    )


def answers(study: StudyResult) -> list[str]:
    """How many cases have no failed check, of a sweep at each flow temperature where there are only a few."""
    by_temp = study.by_flow_temp.dropna(subset=["flow_temp_c"])
    if len(by_temp) == 1 or (study.is_sweep and len(by_temp) <= MAX_TEMPS):
        return [
            f"Water of {number(row['flow_temp_c'], 1)} °C: {_unfailed(row)} "
            f"({number(100.0 * row['no_failed_check_share'])} %)."
            for row in by_temp.to_dict("records")
        ]
    return [f"Each at its flow temperature: {_unfailed(study.summary)}."]


def _unfailed(counts: Mapping[Any, Any]) -> str:
    return f"{number(counts['no_failed_check'])} of {plural(int(counts['dwellings']), 'case')} with no failed check"


def _described(description: TableDescription, frame: pd.DataFrame) -> HtmlTable:
    """A table with its description; columns of words that are empty throughout are left out."""
    columns = [
        column for column in description.columns if column.kind != "text" or (frame[column.name] != "").any()
    ] or list(description.columns)
    rows = tuple(
        tuple(cell_of(column, row[column.name], heads=place == 0) for place, column in enumerate(columns))
        for row in frame.head(MAX_ROWS).to_dict("records")
    )
    return HtmlTable(tuple(map(heading_of, columns)), rows, _caption(description.title, len(frame)))


def _by_survey(dwellings: pd.DataFrame, temps: Sequence[float]) -> HtmlTable:
    """The outcome of each survey at each flow temperature; its worst where it has several cases there."""
    held = pd.DataFrame(
        {
            "survey": dwellings["survey"],
            "temp": dwellings["flow_temp_c"].round(1),
            "rank": outcomes(dwellings).map(list(WORDS).index),
        }
    )
    worst = held.pivot_table(index="survey", columns="temp", values="rank", aggfunc="max", sort=False)
    rows = []
    for survey, ranks in worst.head(MAX_ROWS).iterrows():
        cells = [Cell(escape_control_characters(survey), heads=True)]
        for temp in temps:
            rank = ranks.get(temp)
            words, verdict = ("–", "") if rank is None or rank != rank else WORDS[list(WORDS)[int(rank)]]
            cells.append(Cell(words, verdict=verdict))
        rows.append(tuple(cells))
    headings = (Heading("Survey"), *(Heading(f"{number(temp, 1)} °C") for temp in temps))
    return HtmlTable(headings, tuple(rows), _caption("Surveys by flow temperature", len(worst)))


def _caption(title: str, rows: int) -> str:
    return title if rows <= MAX_ROWS else f"{title}: the first {MAX_ROWS} of {number(rows)}"
