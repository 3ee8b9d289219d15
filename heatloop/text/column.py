"""Descriptions of columns and tables: name, heading, unit, format, meaning and source, each stated once.

A description is beside the function that makes its table. Pages, sheets, workbook, terminal, JSON schema and
documentation use it; :mod:`heatloop.text.formatting` formats values by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from heatloop.text.units import heading_and_unit

Kind = Literal["text", "number", "count", "figure", "residual", "percent", "flag", "verdict", "unit"]

NUMERIC: tuple[Kind, ...] = ("number", "count", "figure", "residual", "percent")


@dataclass(frozen=True)
class Column:
    """One column: its heading without unit, the unit, how a value is written, what it means and where it is from.

    `kind` number has fixed `decimals`, with a plus where `sign` is set; count is a whole number; figure has three
    significant digits, for columns that mix units; residual is a tiny number as a power of ten; percent a ratio,
    written times 100; flag yes or blank; verdict pass, caution or fail; unit the unit of the row; text words.
    `source` is the standard or publication of the formula, "" where the value is only passed on or added up.
    """

    name: str
    heading: str
    unit: str = ""
    kind: Kind = "text"
    decimals: int = 0
    sign: bool = False
    meaning: str = ""
    source: str = ""

    @property
    def full_heading(self) -> str:
        """Heading with its unit: 'Flow, l/h'."""
        return f"{self.heading}, {self.unit}" if self.unit else self.heading

    @property
    def explanation(self) -> str:
        """Meaning and source in one: 'radiant, 1 m before its middle (ISO 7726)'."""
        return f"{self.meaning} ({self.source})" if self.meaning and self.source else self.meaning or self.source

    @property
    def documented_heading(self) -> str:
        """Heading with the unit of the values: a share of 1 has none, although it is written in per cent."""
        return self.heading if self.kind == "percent" else self.full_heading

    @property
    def documented_meaning(self) -> str:
        """Meaning and source, and how to read the values of a share or a flag."""
        kind = {"percent": "a ratio, 1 is 100 %", "flag": "yes or no"}.get(self.kind, "")
        return "; ".join(filter(None, (self.explanation, kind)))

    @property
    def is_numeric(self) -> bool:
        """Whether it holds numbers that are read as numbers."""
        return self.kind in NUMERIC


@dataclass(frozen=True)
class TableDescription:
    """One table: its name, its title, a sentence on its contents, and its columns in order."""

    name: str
    title: str
    about: str
    columns: tuple[Column, ...]

    @cached_property
    def by_name(self) -> Mapping[str, Column]:
        """Its columns by their names."""
        return {column.name: column for column in self.columns}

    @property
    def names(self) -> list[str]:
        """The names of its columns in order."""
        return [column.name for column in self.columns]

    def column(self, name: str) -> Column:
        """The column of that name; one read from the name where the table describes none."""
        return self.by_name.get(name) or plain_description(name)

    def headed(self, headings: Mapping[str, str]) -> tuple[Column, ...]:
        """Some of its columns with other, shorter headings. KeyError for an unknown column."""
        return tuple(replace(self.by_name[name], heading=heading) for name, heading in headings.items())


def plain_description(name: str) -> Column:
    """A column that no table describes, by its name: words from underscores, unit and decimals from the end.

    >>> plain_description("cut_length_mm").full_heading
    'Cut length, mm'
    """
    heading, unit, decimals = heading_and_unit(name)
    if decimals is None:
        return Column(name, heading)
    return Column(name, heading, unit, "number", decimals)


def text_column(name: str, heading: str, meaning: str = "", source: str = "") -> Column:
    """A column of words."""
    return Column(name, heading, meaning=meaning, source=source)


def number_column(name: str, heading: str, unit: str, decimals: int, meaning: str = "", source: str = "") -> Column:
    """A column of numbers in one unit."""
    return Column(name, heading, unit, "number", decimals, meaning=meaning, source=source)


def change_column(name: str, heading: str, unit: str, decimals: int, meaning: str = "") -> Column:
    """A column of differences in one unit, with their sign."""
    return Column(name, heading, unit, "number", decimals, True, meaning)


def count_column(name: str, heading: str, meaning: str = "") -> Column:
    """A column of whole numbers."""
    return Column(name, heading, "", "count", meaning=meaning)


def share_column(name: str, heading: str, meaning: str = "", source: str = "") -> Column:
    """A column of shares of 1, written in per cent."""
    return Column(name, heading, "%", "percent", meaning=meaning, source=source)


def figure_column(name: str, heading: str, meaning: str = "") -> Column:
    """A column of numbers whose unit is in another column."""
    return Column(name, heading, "", "figure", meaning=meaning)


def flag_column(name: str, heading: str, meaning: str = "") -> Column:
    """A column of yes or no."""
    return Column(name, heading, "", "flag", meaning=meaning)


def residual_column(name: str, heading: str) -> Column:
    """A column of tiny numbers as powers of ten."""
    return Column(name, heading, "", "residual")


def box_column(name: str, heading: str, unit: str = "") -> Column:
    """A column left empty, to be filled in by hand."""
    return Column(name, heading, unit, meaning="left empty, to be filled in by hand")


CHECK_COLUMNS = (
    text_column("check", "Check"),
    text_column("location", "Location"),
    figure_column("calculated", "Calculated"),
    figure_column("limit", "Limit"),
    Column("unit", "Unit", kind="unit"),
    Column("verdict", "Verdict", kind="verdict"),
    text_column("source", "Source of the limit"),
    text_column("recommendation", "Recommendation"),
)
"""Columns of every table that compares what was found with limits."""
