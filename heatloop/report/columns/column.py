"""What a column and a table are called, how values are written and what they mean: the kinds and their makers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.text.units import named_unit

Kind = Literal["text", "number", "figure", "residual", "percent", "flag", "verdict", "unit"]


@dataclass(frozen=True)
class Column:
    """One column: its heading without unit, the unit, how a value is written and what it means.

    `kind` number has fixed `decimals`; figure three significant digits, for columns that mix units;
    residual is a tiny number as a power of ten; percent a share of 1; flag yes or blank.
    """

    name: str
    heading: str
    unit: str = ""
    kind: Kind = "text"
    decimals: int = 0
    sign: bool = False
    meaning: str = ""

    @property
    def full_heading(self) -> str:
        """Heading with its unit: 'Flow, l/h'."""
        return f"{self.heading}, {self.unit}" if self.unit else self.heading


@dataclass(frozen=True)
class TableSpec:
    """One table: its title, what it holds in a sentence, and its columns."""

    name: str
    title: str
    about: str
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """The column of that name; a plain text column where the table describes none."""
        for column in self.columns:
            if column.name == name:
                return column
        return undescribed(name)


def undescribed(name: str) -> Column:
    """A column that no table describes, by its name: words from underscores, unit from the suffix.

    >>> undescribed("cut_length_mm").full_heading
    'Cut length, mm'
    """
    heading, unit, decimals = named_unit(name)
    if decimals is None:
        return Column(name, heading)
    return Column(name, heading, unit, "number", decimals)


def text_column(name: str, heading: str, meaning: str = "") -> Column:
    """A column of words."""
    return Column(name, heading, meaning=meaning)


def number_column(name: str, heading: str, unit: str, decimals: int, meaning: str = "") -> Column:
    """A column of numbers in one unit."""
    return Column(name, heading, unit, "number", decimals, meaning=meaning)


def count_column(name: str, heading: str, meaning: str = "") -> Column:
    """A column of whole numbers."""
    return Column(name, heading, "", "number", meaning=meaning)


def residual_column(name: str, heading: str) -> Column:
    """A column of tiny numbers as powers of ten."""
    return Column(name, heading, "", "residual")
