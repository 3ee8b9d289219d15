"""How a value speaks for itself: a title, a few sentences and small tables, as plain text and as HTML.

Everything is told from names and figures that are given; names may hold anything and are escaped.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, printable, shortened
from heatloop.text.html import Cell, Heading, HtmlTable, rendered, table_html

WIDTH = 100

NARROWEST = 8

GAP = "  "


@dataclass(frozen=True)
class Grid:
    """A small table: headings with their units, cells as they are read, and which columns are figures."""

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: tuple[bool, ...]


@dataclass(frozen=True)
class Points:
    """Points one below another under a caption."""

    caption: str
    items: tuple[str, ...]


@dataclass(frozen=True)
class Account:
    """What a value tells of itself."""

    title: str
    sentences: tuple[str, ...] = ()
    grids: tuple[Grid, ...] = ()
    points: tuple[Points, ...] = ()


class Speaks:
    """A value with an account: printed as plain text, shown in a notebook as HTML."""

    def account(self) -> Account:
        """What it tells of itself."""
        raise NotImplementedError

    def __str__(self) -> str:
        return as_text(self.account())

    def _repr_html_(self) -> str:
        return as_html(self.account())


def grid(caption: str, rows: Iterable[Mapping[Any, object]], columns: Sequence[Column]) -> Grid:
    """A grid of these columns of the rows, each value as its column writes it."""
    cells = tuple(tuple(cell_text(column, row.get(column.name)) for column in columns) for row in rows)
    return Grid(caption, tuple(c.full_heading for c in columns), cells, tuple(c.is_numeric for c in columns))


def as_text(account: Account) -> str:
    """The account as plain text of at most 100 columns."""
    lines = textwrap.wrap(printable(account.title), WIDTH) or [""]
    for sentence in account.sentences:
        lines += textwrap.wrap(printable(sentence), WIDTH, initial_indent="  ", subsequent_indent="    ")
    for one in account.grids:
        lines += ["", printable(one.caption), *grid_lines(one)]
    for some in account.points:
        lines += ["", printable(some.caption)]
        for item in some.items:
            lines += textwrap.wrap(printable(item), WIDTH, initial_indent="  - ", subsequent_indent="    ")
    return "\n".join(lines)


def grid_lines(one: Grid) -> list[str]:
    """A grid as aligned lines, a rule under the headings; long words are cut."""
    if not one.rows:
        return [f"{GAP}none"]
    rows = [[printable(cell) for cell in row] for row in one.rows]
    widths = _fitted([max(map(len, column)) for column in zip(one.headings, *rows, strict=True)], one.figures)
    rows = [[shortened(cell, width) for cell, width in zip(row, widths, strict=True)] for row in rows]
    return [_line(one, texts, widths) for texts in (one.headings, ["-" * width for width in widths], *rows)]


def _fitted(widths: list[int], figures: Sequence[bool]) -> list[int]:
    """Widths of columns that fit a line: the widest words are cut first, figures never."""
    kept = list(widths)
    words = [place for place, figure in enumerate(figures) if not figure]
    while words and sum(kept) + len(GAP) * (len(kept) - 1) > WIDTH:
        widest = max(words, key=lambda place: kept[place])
        if kept[widest] <= NARROWEST:
            break
        kept[widest] -= 1
    return kept


def _line(one: Grid, texts: Sequence[str], widths: Sequence[int]) -> str:
    cells = (
        text.rjust(width) if figure else shortened(text, width).ljust(width)
        for text, width, figure in zip(texts, widths, one.figures, strict=True)
    )
    return GAP.join(cells).rstrip()


def as_html(account: Account) -> str:
    """The account as HTML that needs no style sheet and no script."""
    tables = [Markup(grid_html(one)) for one in account.grids]
    return rendered("heatloop.text", "account.html", account=account, tables=tables)


def grid_html(one: Grid) -> str:
    """A grid as an HTML table with a caption and scoped headings."""
    sides = ["n" if figure else "" for figure in one.figures]
    headings = tuple(Heading(text, css=side) for text, side in zip(one.headings, sides, strict=True))
    rows = tuple(
        tuple(Cell(text, sides[place], heads=place == 0) for place, text in enumerate(row)) for row in one.rows
    )
    return table_html(HtmlTable(headings, rows, one.caption, empty="none", inline=True))
