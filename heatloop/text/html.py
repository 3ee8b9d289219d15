"""HTML from templates that escape every value; all tables are written as HTML here."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, escape_control_characters, with_minus_signs
from heatloop.text.units import UNITS

if TYPE_CHECKING:
    import jinja2


DISTANCE = re.compile(r"(?<=\d) (?=m\b)")
"""The space between a number and its unit."""

PRINTED_UNITS = sorted({unit for unit, _ in UNITS.values()} | {"bar", "h", "ml"}, key=len, reverse=True)
UNIT_AFTER_NUMBER = re.compile(rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, PRINTED_UNITS))})(?!\w)(?![^<>]*>))")
"""The space between a number and any unit, outside of tags."""


@dataclass(frozen=True)
class Heading:
    """The heading of a column: its words and unit, its class, and its width on paper where that is fixed."""

    text: str
    unit: str = ""
    css: str = ""
    width_mm: float | None = None


@dataclass(frozen=True)
class Cell:
    """A cell: its text, its class, the verdict that marks it, small lines `under` the text; `heads` its row or not."""

    text: str
    css: str = ""
    verdict: str = ""
    under: tuple[str, ...] = ()
    heads: bool = False


@dataclass(frozen=True)
class HtmlTable:
    """A table as it is shown. `css` is its class; `inline` writes alignment into it, for where no style sheet is."""

    headings: tuple[Heading, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: str = ""
    css: str = ""
    empty: str = "nothing to list"
    inline: bool = False


def heading_of(column: Column) -> Heading:
    """The heading of a column, its unit kept on one line."""
    heading = DISTANCE.sub("\N{NO-BREAK SPACE}", column.heading)
    return Heading(heading, column.unit.replace(" ", "\N{NO-BREAK SPACE}"), "n" if column.is_numeric else "")


def cell_of(column: Column, value: object, heads: bool = False) -> Cell:
    """A value as its column writes it; `heads` its row or not."""
    verdict = str(value) if column.kind == "verdict" else ""
    text = cell_text(column, value)
    shown = with_minus_signs(text) if column.is_numeric else text
    return Cell(shown, "n" if column.is_numeric else "", verdict, heads=heads)


def table_html(table: HtmlTable) -> str:
    """The table as markup."""
    return rendered("heatloop.text", "table.html", table=table)


def with_units_kept(markup: str) -> str:
    """Markup in which no line ends between a number and its unit.

    >>> with_units_kept('<p title="5 m">at 5 m, 16 kPa</p>').replace("\N{NO-BREAK SPACE}", "~")
    '<p title="5 m">at 5~m, 16~kPa</p>'
    """
    return UNIT_AFTER_NUMBER.sub("\N{NO-BREAK SPACE}", markup)


def rendered(package: str, template: str, **values: object) -> str:
    """A template of a package's folder `templates` with these values, all of them escaped but markup.

    It may include the templates of this folder, such as the head of a page.

    Markup is what is given as `markupsafe.Markup`. Raises jinja2.UndefinedError for a value that is not given.
    """
    return _templates(package).get_template(template).render(values)


@cache
def _templates(package: str) -> jinja2.Environment:
    import jinja2  # here, so that importing the library does not wait for it

    return jinja2.Environment(
        loader=jinja2.ChoiceLoader([jinja2.PackageLoader(package), jinja2.PackageLoader(__package__)]),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_without_controls,
    )


def _without_controls(value: object) -> object:
    """Plain text without characters that cannot be seen; markup and all else as it is."""
    return escape_control_characters(value) if type(value) is str else value
