"""Title, sentences and small tables that summarise a result, as plain text and as HTML.

Names and figures are given by the caller; names may contain any character and are escaped.
"""

from __future__ import annotations

import re
import textwrap
from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from markupsafe import Markup

from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, escape_control_characters, truncated
from heatloop.text.html import Cell, Heading, HtmlTable, rendered, table_html

WIDTH = 100

LINE_WIDTH: ContextVar[int] = ContextVar("LINE_WIDTH", default=WIDTH)
"""Columns that the text of a result may take."""

MIN_WIDTH = 40

NARROWEST = 8

MAX_WORD = 20
"""Characters of a word that a column keeps together."""

FOLDS = 12
"""Lines that a text in a cell may take."""

GAP = "  "

FIGURE_AND_UNIT = re.compile(
    r"(\d) (?=(?:%|°C|K|W|kW|W/m|kPa|Pa|l|l/h|m|mm|m/s|h|hours|EUR)(?![\w/]))|(?<=\bRe) (?=\d)"
)


@contextmanager
def line_width(columns: int) -> Iterator[None]:
    """Set text in lines of so many columns, from 40 to 100, inside the `with` block."""
    token = LINE_WIDTH.set(min(max(columns, MIN_WIDTH), WIDTH))
    try:
        yield
    finally:
        LINE_WIDTH.reset(token)


@dataclass(frozen=True)
class SummaryTable:
    """A small table: headings with their units, cells as they are read, which columns are figures, and a note below."""

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: tuple[bool, ...]
    note: str = ""


@dataclass(frozen=True)
class BulletList:
    """Points one below another under a caption."""

    caption: str
    items: tuple[str, ...]


@dataclass(frozen=True)
class Summary:
    """Title, sentences, tables and lists that summarise a result."""

    title: str
    sentences: tuple[str, ...] = ()
    grids: tuple[SummaryTable, ...] = ()
    points: tuple[BulletList, ...] = ()


class HasSummary(ABC):
    """Base of results with a summary: printed as plain text, shown in a notebook as HTML."""

    @abstractmethod
    def summary_block(self) -> Summary:
        """Title, sentences and tables that summarise this result."""

    def __str__(self) -> str:
        return as_text(self.summary_block())

    def _repr_html_(self) -> str:
        return as_html(self.summary_block())


def grid(caption: str, rows: Iterable[Mapping[Any, object]], columns: Sequence[Column], note: str = "") -> SummaryTable:
    """A small table of these columns, each value formatted by its column, with a note below."""
    cells = tuple(tuple(cell_text(column, row.get(column.name)) for column in columns) for row in rows)
    headings = tuple(column.full_heading for column in columns)
    return SummaryTable(caption, headings, cells, tuple(column.is_numeric for column in columns), note)


def as_text(summary: Summary) -> str:
    """The summary as plain text of at most 100 columns, or of as many as :func:`line_width` sets."""
    lines = _wrapped(summary.title) or [""]
    for sentence in summary.sentences:
        lines += _wrapped(sentence, "  ", "    ")
    for table in summary.grids:
        lines += ["", *_wrapped(table.caption), *grid_lines(table), *_wrapped(table.note, "  ", "  ")]
    for some in summary.points:
        lines += ["", *_wrapped(some.caption)]
        for item in some.items:
            lines += _wrapped(item, "  - ", "    ")
    return "\n".join(lines)


def grid_lines(table: SummaryTable) -> list[str]:
    """A grid as aligned lines, with a rule under the headings.

    Where it does not fit the line, headings and texts are folded; a text longer than twelve lines is cut. A grid that
    is still too wide is divided into parts, one below another, each with the first column.
    """
    if not table.rows:
        return [f"{GAP}none"]
    rows = [[escape_control_characters(cell) for cell in row] for row in table.rows]
    cells = [max(map(len, column)) for column in zip(*rows, strict=True)]
    widths = [max(cell, len(heading)) for cell, heading in zip(cells, table.headings, strict=True)]
    if _together(widths) > LINE_WIDTH.get():
        longest = [max(map(len, heading.split()), default=0) for heading in table.headings]
        whole = [_longest_word(column) for column in zip(*rows, strict=True)]
        wide = [max(cell, word) for cell, word in zip(cells, longest, strict=True)]
        widths = _fitted(wide, [min(max(word, NARROWEST), MAX_WORD) for word in whole], table.figures)
    lines: list[str] = []
    for part in _parts(widths):
        lines += [*([""] if lines else []), *_part_lines(table, rows, widths, part)]
    return lines


def _together(widths: Sequence[int]) -> int:
    return sum(widths) + len(GAP) * (len(widths) - 1)


def _longest_word(texts: Iterable[str]) -> int:
    return max((len(word) for text in texts for word in text.split()), default=0)


def _fitted(widths: list[int], least: Sequence[int], figures: Sequence[bool]) -> list[int]:
    """Widths of columns that fit a line: the widest text columns are narrowed first, none below its longest
    word, figures never."""
    kept = list(widths)
    words = [place for place, figure in enumerate(figures) if not figure]
    while _together(kept) > LINE_WIDTH.get() and (free := [place for place in words if kept[place] > least[place]]):
        kept[max(free, key=lambda place: kept[place])] -= 1
    return kept


def _parts(widths: Sequence[int]) -> list[list[int]]:
    """Columns that are together on a line: all of them, or several parts that each begin with the first."""
    parts = [[0]]
    for place in range(1, len(widths)):
        if len(parts[-1]) > 1 and _together([widths[i] for i in (*parts[-1], place)]) > LINE_WIDTH.get():
            parts.append([0])
        parts[-1].append(place)
    return parts


def _part_lines(table: SummaryTable, rows: list[list[str]], widths: Sequence[int], part: Sequence[int]) -> list[str]:
    """The lines of some columns of a grid."""
    heads = [textwrap.wrap(table.headings[i], widths[i]) or [""] for i in part]
    deep = max(map(len, heads))
    folded = [[""] * (deep - len(head)) + head for head in heads]
    rule = ["-" * widths[i] for i in part]
    lines = [*zip(*folded, strict=True), rule]
    for row in rows:
        lines += zip_longest(*(_folded(row[i], widths[i]) for i in part), fillvalue="")
    return [
        GAP.join(
            text.rjust(widths[i]) if table.figures[i] else text.ljust(widths[i])
            for i, text in zip(part, line, strict=True)
        ).rstrip()
        for line in lines
    ]


def _folded(text: str, width: int) -> list[str]:
    """A text in lines of a width, at most twelve; the whole text where it fits one."""
    if len(text) <= width:
        return [text]
    lines = textwrap.wrap(text, width, break_on_hyphens=False)
    return lines if len(lines) <= FOLDS else [*lines[: FOLDS - 1], truncated(" ".join(lines[FOLDS - 1 :]), width)]


def _wrapped(text: str, first: str = "", other: str = "") -> list[str]:
    """Lines of a text without control characters; a figure and its unit stay on one line."""
    joined = FIGURE_AND_UNIT.sub("\\g<1>\N{NO-BREAK SPACE}", escape_control_characters(text))
    lines = textwrap.wrap(
        joined, LINE_WIDTH.get(), initial_indent=first, subsequent_indent=other, break_on_hyphens=False
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def as_html(summary_block: Summary) -> str:
    """The summary as HTML that needs no style sheet and no script."""
    tables = [(Markup(grid_html(table)), table.note) for table in summary_block.grids]
    return rendered("heatloop.text", "summary.html", summary=summary_block, tables=tables)


def grid_html(table: SummaryTable) -> str:
    """A grid as an HTML table with a caption and scoped headings."""
    sides = ["n" if figure else "" for figure in table.figures]
    headings = tuple(Heading(text, css=side) for text, side in zip(table.headings, sides, strict=True))
    rows = tuple(
        tuple(Cell(text, sides[place], heads=place == 0) for place, text in enumerate(row)) for row in table.rows
    )
    return table_html(HtmlTable(headings, rows, table.caption, empty="none", inline=True))
