"""A design's tables as HTML: headings with units, numbers as the trade writes them, every name escaped.

What a value looks like is decided once, by :func:`cell_text`; the plain-text listing uses it too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import pandas as pd

from heatloop.report.columns.column import Column, TableSpec
from heatloop.report.columns.design import SUMMARY, table_spec
from heatloop.text.formatting import VERDICT_MARKS, VERDICT_WORDS, listing, number, printable, significant, unit_words

LONG = 24
"""A cell of more letters may be broken anywhere."""
WIDE = 11
"""A table of so many columns is printed smaller."""
SHORT = 9
"""A table of so few rows stays on one sheet of paper."""


@dataclass(frozen=True)
class Html:
    """A piece of a page; a notebook shows it as it is."""

    markup: str

    def _repr_html_(self) -> str:
        return self.markup


def is_missing(value: object) -> bool:
    """Whether there is no value: None or not a number."""
    return value is None or value is pd.NA or (isinstance(value, float) and math.isnan(value))


def cell_text(column: Column, value: object) -> str:
    """One value as it is read: formatted by its column, an en dash where there is none.

    >>> cell_text(Column("flow_l_h", "Flow", "l/h", "number", 0), 151.7)
    '152'
    >>> cell_text(Column("coverage", "Coverage", "%", "percent"), 0.934)
    '93'
    """
    if is_missing(value):
        return "–" if column.kind not in ("text", "flag") else ""
    if column.kind == "flag":
        return "yes" if value else ""
    if column.kind == "verdict":
        return f"{VERDICT_MARKS.get(str(value), '')} {VERDICT_WORDS.get(str(value), str(value))}".strip()
    if column.kind == "unit":
        return unit_words(value)
    if column.kind == "text" or isinstance(value, str):
        return printable(value)
    figure = float(value)  # type: ignore[arg-type]
    if column.kind == "percent":
        return number(100 * figure, column.decimals, column.sign)
    if column.kind == "figure":
        return significant(figure)
    if column.kind == "residual":
        return f"{figure:.1e}"
    return number(figure, column.decimals, column.sign)


def chosen(frame: pd.DataFrame, spec: TableSpec, names: Sequence[str] | None) -> tuple[Column, ...]:
    """The columns to show: those named, or all of the frame's that hold anything to read."""
    if names is not None:
        return tuple(spec.column(name) for name in names)
    columns = [spec.column(str(name)) for name in frame.columns]
    return tuple(c for c in columns if _worth_a_column(c, frame[c.name]))


def _worth_a_column(column: Column, values: pd.Series[Any]) -> bool:
    """Whether a column of words or flags holds any; one of figures always stays."""
    if column.kind not in ("text", "flag") or values.empty:
        return True
    return any(cell_text(column, value) for value in values)


def table(
    frame: pd.DataFrame,
    name: str,
    columns: Sequence[str] | None = None,
    caption: str | None = None,
    explain: bool = True,
) -> Html:
    """One table as HTML.

    frame: rows of the table called `name` (its headings and formats come from there); columns: those to show,
    in order, less those without a word in them; caption: what the table says; explain: add what the columns mean
    below it.
    """
    spec = table_spec(name)
    shown = tuple(c for c in chosen(frame, spec, columns) if _worth_a_column(c, frame[c.name]))
    title = spec.title if caption is None else caption
    head = "".join(f'<th scope="col"{_css(column)}>{_heading(column)}</th>' for column in shown)
    rows = "".join(_row(shown, values) for values in frame[[c.name for c in shown]].itertuples(index=False))
    body = rows or f'<tr><td colspan="{len(shown)}">nothing to list</td></tr>'
    return Html(
        f'<div class="scroll" role="region" tabindex="0" aria-label="{escape(title)}">'
        f"<table{_size(shown, len(frame))}><caption>{escape(title)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>" + (_meanings(shown) if explain else "")
    )


def checks_tables(checks: pd.DataFrame, caption: str = "Limits that are not met, and cautions") -> Html:
    """What is not met in full under that caption, then what is met in brief: each limit once, with the range found."""
    unmet = checks[checks["verdict"] != "pass"]
    met = checks[checks["verdict"] == "pass"]
    rows = [
        {
            "check": check,
            "subject": f"{len(group)} places" if len(group) > 3 else listing(group["subject"]),
            "found": " to ".join(dict.fromkeys(map(significant, (group["value"].min(), group["value"].max())))),
            "limit": limit,
            "unit": unit,
            "source": source,
        }
        for (check, limit, unit, source), group in met.groupby(["check", "limit", "unit", "source"], sort=False)
    ]
    brief = pd.DataFrame(rows, columns=["check", "subject", "found", "limit", "unit", "source"])
    return Html(
        table(unmet, "checks", caption=caption).markup
        + table(brief, "checks_met", caption="Limits that are met").markup
    )


def summary_table(
    summary: Mapping[str, object], names: Sequence[str] | None = None, caption: str = "The job in figures"
) -> Html:
    """The summary as a table of two columns: what and how much; `names` picks rows and their order."""
    known = {column.name: column for column in SUMMARY}
    wanted = [n for n in (list(known) if names is None else names) if n in summary and not is_missing(summary[n])]
    rows = "".join(
        f'<tr><th scope="row">{escape(known[n].heading)}</th>'
        f'<td class="{"words" if known[n].kind == "text" else "n"}">{escape(cell_text(known[n], summary[n]))}</td>'
        f"<td>{escape(known[n].unit)}</td></tr>"
        for n in wanted
    )
    head = f"<caption>{escape(caption)}</caption>"
    region = f'class="scroll" role="region" tabindex="0" aria-label="{escape(caption)}"'
    return Html(f'<div {region}><table class="facts short">{head}{rows}</table></div>')


def _size(columns: Sequence[Column], rows: int) -> str:
    names = [name for name, is_so in (("wide", len(columns) >= WIDE), ("short", rows <= SHORT)) if is_so]
    return f' class="{" ".join(names)}"' if names else ""


def _heading(column: Column) -> str:
    unit = escape(column.unit).replace(" ", "\N{NO-BREAK SPACE}")
    return escape(column.heading) + (f', <span class="unit">{unit}</span>' if unit else "")


def _css(column: Column) -> str:
    return ' class="n"' if column.kind in ("number", "figure", "residual", "percent") else ""


def _row(columns: Sequence[Column], values: Sequence[object]) -> str:
    cells = []
    for position, (column, value) in enumerate(zip(columns, values, strict=True)):
        text = escape(cell_text(column, value))
        if column.kind == "verdict":
            cells.append(f'<td><span class="verdict {escape(str(value))}">{text}</span></td>')
        elif position == 0:
            cells.append(f'<th scope="row"{_css(column)}>{text}</th>')
        else:
            long = ' class="long"' if len(text) > LONG else ""
            cells.append(f"<td{_css(column) or long}>{text}</td>")
    return f"<tr>{''.join(cells)}</tr>"


def _meanings(columns: Sequence[Column]) -> str:
    told = [f"<b>{escape(c.heading)}</b>: {escape(c.meaning)}" for c in columns if c.meaning]
    return f'<p class="meanings">{"; ".join(told)}.</p>' if told else ""
