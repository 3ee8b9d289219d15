"""Tables of a design as parts of a page: headings with units, formatted numbers, escaped names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd
from markupsafe import Markup

from heatloop.findings.limits import YES_OR_NO
from heatloop.report.columns.registry import CHECKS_MET, SUMMARY, table_description
from heatloop.results.checks.signs import AT_LEAST, limit_signs
from heatloop.text.column import Column, TableDescription
from heatloop.text.formatting import (
    MIN_WRITTEN_OUT,
    cell_text,
    is_missing,
    listing,
    listing_with_commas,
    significant,
    with_minus_signs,
    yes_or_no_text,
)
from heatloop.text.html import Cell, HtmlTable, cell_of, heading_of, rendered, table_html
from heatloop.text.table_set import table_frame

PAGES = "heatloop.report.pages"
"""The package whose folder `templates` holds those of pages and sheets."""

BRIEF, LONG = 16, 24
"""A cell of so few letters stays on one line; one of more than the other may be broken anywhere."""
WIDE = 11
"""A table of so many columns is printed smaller."""
SHORT = 9
"""A table of so few rows stays on one sheet of paper."""


@dataclass(frozen=True)
class HtmlFragment:
    """A part of a page; a notebook displays it."""

    markup: str

    def _repr_html_(self) -> str:
        return self.markup


def part(template: str, **values: object) -> HtmlFragment:
    """A piece of a page from its template; what is given as :class:`HtmlFragment` is markup, all else is escaped."""
    markup_values = {
        name: Markup(value.markup) if isinstance(value, HtmlFragment) else value for name, value in values.items()
    }
    return HtmlFragment(rendered(PAGES, template, **markup_values))


def selected_columns(
    frame: pd.DataFrame, described: TableDescription, names: Sequence[str] | None
) -> tuple[Column, ...]:
    """The columns to show: those named, or all of the frame's that hold anything to read."""
    if names is not None:
        return tuple(described.column(name) for name in names)
    columns = [described.column(str(name)) for name in frame.columns]
    return tuple(c for c in columns if _worth_a_column(c, frame[c.name]))


def _worth_a_column(column: Column, values: pd.Series[Any]) -> bool:
    """Whether a column of words or flags contains any; a column of figures is always kept."""
    if column.kind not in ("text", "flag") or values.empty:
        return True
    return any(cell_text(column, value) for value in values)


def html_table(
    frame: pd.DataFrame,
    name: str,
    columns: Sequence[str] | None = None,
    caption: str | None = None,
    explain: bool = True,
) -> HtmlFragment:
    """One table as HTML.

    frame: rows of the table called `name` (its headings and formats come from there); columns: those to show,
    in order, less those without a word in them; caption: caption of the table; explain: add the meaning of the
    columns below it.
    """
    described = table_description(name)
    shown = tuple(c for c in selected_columns(frame, described, columns) if _worth_a_column(c, frame[c.name]))
    title = described.title if caption is None else caption
    rows = frame[[c.name for c in shown]].itertuples(index=False)
    held = HtmlTable(
        tuple(map(heading_of, shown)),
        tuple(tuple(_cell(shown, values, place) for place in range(len(shown))) for values in rows),
        title,
        _size(shown, len(frame)),
    )
    meanings = [column for column in shown if column.explanation] if explain else []
    return part("table.html", title=title, table=HtmlFragment(table_html(held)), meanings=meanings)


def _figure(value: float) -> str:
    """A calculated value or a limit: three significant digits; a residual as a power of ten."""
    return f"{value:.1e}".replace("-", "\N{MINUS SIGN}") if 0.0 < abs(value) < MIN_WRITTEN_OUT else significant(value)


def _range(values: pd.Series) -> str:
    """The smallest and the largest of calculated values; the word of a check that is met or not."""
    if any(isinstance(value, str) for value in values):
        return listing(dict.fromkeys(values))
    return " to ".join(dict.fromkeys(map(_figure, (values.min(), values.max()))))


def _places(group: pd.DataFrame, limit: str) -> str:
    """The locations of a limit that is met; of many, their number and the one nearest to the limit."""
    if len(group) <= MOST_LISTED:
        return listing_with_commas(group["location"])
    values = group["calculated"]
    if any(isinstance(value, str) for value in values):
        return f"{len(group)} locations"
    figures = values.tolist()
    nearest = figures.index(min(figures) if limit.startswith(AT_LEAST) else max(figures))
    return f"{len(group)} locations; nearest to the limit: {group['location'].tolist()[nearest]}"


def with_signs(checks: pd.DataFrame) -> pd.DataFrame:
    """A table of checks whose limits are written with their signs; a check that is met or not has yes and no."""
    signs = limit_signs(checks.to_dict("records"))
    yes_or_no = checks["unit"] == YES_OR_NO
    limits = [f"{sign} {_figure(limit)}".strip() for sign, limit in zip(signs, checks["limit"], strict=True)]
    found = checks["calculated"].astype(object).mask(yes_or_no, checks["calculated"].map(yes_or_no_text))
    return checks.assign(
        calculated=found,
        limit=pd.Series(limits, checks.index, dtype=object).mask(yes_or_no, checks["limit"].map(yes_or_no_text)),
        unit=checks["unit"].mask(yes_or_no, ""),
    )


UNMET = "Limits not met, and cautions"

MOST_LISTED = 3
"""Locations of a limit that are named; of more, their number is stated."""


def checks_tables(checks: pd.DataFrame, caption: str = UNMET, columns: Sequence[str] | None = None) -> HtmlFragment:
    """Limits not met with all their locations under the caption, then each limit that is met once, with the range.

    Every limit has its sign. `columns` selects those of the first table. Where all limits are met, a sentence replaces
    that table.
    """
    signed = with_signs(checks)
    unmet = signed[checks["verdict"] != "pass"]
    met = signed[checks["verdict"] == "pass"]
    rows = [
        {
            "check": check,
            "location": _places(group, str(limit)),
            "found": _range(group["calculated"]),
            "limit": limit,
            "unit": unit,
            "source": source,
        }
        for (check, limit, unit, source), group in met.groupby(["check", "limit", "unit", "source"], sort=False)
    ]
    brief = table_frame(CHECKS_MET, rows)
    if unmet.empty:
        first = str(Markup("<p>{}.</p>").format(f"{caption}: none" if caption == UNMET else caption))
    else:
        first = html_table(_grouped(unmet), "checks", columns, caption).markup
    return HtmlFragment(first + html_table(brief, CHECKS_MET.name, caption=CHECKS_MET.title).markup)


def _grouped(unmet: pd.DataFrame) -> pd.DataFrame:
    """Limits that are not met, one row for a limit and its recommendation: every location with its value."""
    rows = []
    for _, group in unmet.groupby(["check", "limit", "unit", "verdict", "source", "recommendation"], sort=False):
        first = group.iloc[0].to_dict()
        if len(group) > 1:
            values = [value if isinstance(value, str) else _figure(value) for value in group["calculated"]]
            places = zip(group["location"], values, strict=True)
            first["location"] = "; ".join(f"{place}: {value}" for place, value in places)
            first["calculated"] = _range(group["calculated"])
        rows.append(first)
    return pd.DataFrame(rows, columns=unmet.columns)


def summary_table(
    summary: Mapping[str, object], names: Sequence[str] | None = None, caption: str = "Key figures of the project"
) -> HtmlFragment:
    """The summary as a table of two columns: what and how much; `names` picks rows and their order."""
    known = {column.name: column for column in SUMMARY}
    required = [n for n in (list(known) if names is None else names) if n in summary and not is_missing(summary[n])]
    rows = [(known[n], with_minus_signs(cell_text(known[n], summary[n]))) for n in required]
    return part("figures.html", caption=caption, rows=rows)


def _size(columns: Sequence[Column], rows: int) -> str:
    return " ".join(name for name, is_so in (("wide", len(columns) >= WIDE), ("short", rows <= SHORT)) if is_so)


def _cell(columns: Sequence[Column], values: Sequence[object], place: int) -> Cell:
    """A cell of a row; the first heads the row unless it is a verdict, and long words may be broken."""
    column = columns[place]
    cell = cell_of(column, values[place], place == 0 and column.kind != "verdict")
    if place and not cell.css and column.kind != "verdict":
        length = len(cell.text)
        return replace(cell, css="brief" if length <= BRIEF else "long" if length > LONG else "")
    return cell
