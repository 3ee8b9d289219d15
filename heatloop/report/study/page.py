"""The page of a study: which cases are ready, and what the others lack."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
from markupsafe import Markup

from heatloop.report.plots.readiness import readiness_plot
from heatloop.results.many_dwellings.study_result import (
    BY_FLOW_TEMP,
    CHECK_COUNTS,
    NOT_READY,
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

WORDS = {"ready": ("✓ ready", "pass"), "caution": ("▲ ready, cautions to resolve", "caution"),
         "failed": ("✗ not ready", "fail"), "not_sized": ("– not sized", "")}  # fmt: skip
"""Outcome of a dwelling as a cell writes it, and the verdict that marks it."""


def study_page(study: StudyResult) -> str:
    """The page as self-contained HTML: answer, picture, flow temperatures, cases that are not ready, checks."""
    not_ready, dwellings = study.not_ready, study.dwellings
    temps = sorted(dwellings["flow_temp_c"].dropna().round(1).unique())
    tables = [_described(BY_FLOW_TEMP, study.by_flow_temp)] if study.has_few_temps else []
    if study.is_sweep and len(temps) <= MAX_TEMPS and len(dwellings) > len(temps):
        tables.append(_by_survey(dwellings, temps))
    tables += [_described(NOT_READY, not_ready), _described(CHECK_COUNTS, study.check_counts)]
    every = len(not_ready) == 0 and study.complete
    return rendered(
        "heatloop.report.study",
        "study.html",
        marker=MARKER,
        title=escape_control_characters(study.title),
        outcome="pass" if every else "fail",
        answers=answers(study),
        complete=study.complete,
        figure=Markup(readiness_plot(study)._repr_html_()),
        tables=[(table.caption, Markup(table_html(table))) for table in tables],
        faults=int((outcomes(dwellings) == "not_sized").sum()),
    )


def answers(study: StudyResult) -> list[str]:
    """How many cases are ready, of a sweep at each flow temperature where there are only a few."""
    by_temp = study.by_flow_temp.dropna(subset=["flow_temp_c"])
    if len(by_temp) == 1 or (study.is_sweep and len(by_temp) <= MAX_TEMPS):
        return [
            f"Water of {number(row['flow_temp_c'], 1)} °C: {number(row['ready'])} of "
            f"{plural(int(row['dwellings']), 'case')} ready ({number(100.0 * row['ready_share'])} %)."
            for row in by_temp.to_dict("records")
        ]
    facts = study.summary
    return [f"Each at its flow temperature: {number(facts['ready'])} of {plural(facts['dwellings'], 'case')} ready."]


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
