"""Formatting of numbers, counts and names: the same in terminal, pages, sheets, pictures and workbook."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable

from heatloop.text.column import Column

JOINERS = "\u200c\u200d"
"""Join or part two letters, or the pictures of an emoji: part of a name, though not visible by themselves."""

VERDICT_WORDS = {"pass": "pass", "caution": "caution", "fail": "fail"}
PRINTED_UNITS = {"-": "", "degC": "°C", "yes/no": "1 = yes"}
AREA_OR_VOLUME, HYPHEN_AS_MINUS = re.compile(r"\b(m?m)([23])\b"), re.compile(r"(?<![^\s(])-(?=\d)")
MIN_WRITTEN_OUT = 1e-6
"""A smaller figure is written as a power of ten where its column is narrow: written out it would not fit."""
MOST_PLACES, EQUAL = 4, 1e-6
"""Places of a share just below the whole, and the difference of a share from the whole that is none."""
NOISE_DECIMALS = 6
"""A number is rounded to so many more places first: what is beyond them is the rounding error of its calculation."""
VERDICT_MARKS = {"pass": "✓", "caution": "▲", "fail": "✗"}


def number(value: float | None, decimals: int = 0, sign: bool = False) -> str:
    """A number with `decimals` places; an en dash where there is none; no minus before a zero.

    A number that is a tie but for rounding errors is shown as the tie is: it does not depend on the order of a sum.

    >>> number(1234.56), number(-0.01), number(12.5, 1, sign=True), number(float("nan"))
    ('1235', '0', '+12.5', '–')
    >>> number(10.115, 2) == number(10.115 - 2e-15, 2) == number(10.115 + 2e-15, 2)
    True
    """
    if value is None or math.isnan(value):
        return "–"
    if math.isinf(value):
        return "unlimited" if value > 0 else "none"
    shown = round(round(float(value), decimals + NOISE_DECIMALS), decimals) + 0.0
    return f"{shown:{'+' if sign and shown else ''}.{decimals}f}"


def significant(value: float | None, digits: int = 3) -> str:
    """A number of unknown size to `digits` significant digits, written out, never as a power of ten.

    >>> significant(0.61234), significant(12345.6), significant(15.0), significant(0.0)
    ('0.612', '12346', '15', '0')
    """
    if value is None or math.isnan(value) or math.isinf(value) or value == 0:
        return number(value)
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(ratio: float | None, decimals: int = 0, sign: bool = False) -> str:
    """A ratio in per cent; below 1, with so many more places that it does not read as 100.

    >>> percent(0.934), percent(0.9971), percent(0.99996), percent(1.0), percent(1.003)
    ('93', '99.7', '99.996', '100', '100')
    """
    if ratio is None or not math.isfinite(ratio):
        return number(ratio, decimals, sign)
    while decimals < MOST_PLACES and 0.0 < ratio < 1.0 - EQUAL and round(100.0 * ratio, decimals) >= 100.0:
        decimals += 1
    return number(100.0 * ratio, decimals, sign)


def plural(count: int, noun: str, many: str | None = None) -> str:
    """A count with its noun in the right number.

    >>> plural(1, "room"), plural(3, "room"), plural(0, "loss", "losses")
    ('1 room', '3 rooms', '0 losses')
    """
    return f"{count} {noun if count == 1 else many or noun + 's'}"


def listing(words: Iterable[str], last: str = "and") -> str:
    """Words as a list in a sentence.

    >>> listing(["Hall"]), listing(["Hall", "Kitchen"]), listing(["Hall", "Kitchen", "Study"])
    ('Hall', 'Hall and Kitchen', 'Hall, Kitchen and Study')
    """
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def listing_with_commas(words: Iterable[str]) -> str:
    """Words as a list in a sentence, with semicolons between them where one has a comma itself.

    >>> listing_with_commas(["Hall", "Study"]), listing_with_commas(["Hall, wall 1", "Study, wall 2"])
    ('Hall and Study', 'Hall, wall 1; Study, wall 2')
    """
    items = list(words)
    return "; ".join(items) if any("," in item for item in items) else listing(items)


def yes_or_no_text(value: float) -> str:
    """The word of a check that is met or not met.

    >>> yes_or_no_text(1.0), yes_or_no_text(0.0)
    ('yes', 'no')
    """
    return "yes" if value else "no"


def short_listing(words: Iterable[str], maximum: int = 4) -> str:
    """A list in a sentence, the first few by name and the rest by their number.

    >>> short_listing(["Hall", "Kitchen", "Study", "Attic"], 4), short_listing(["Hall", "Kitchen", "Study"], 2)
    ('Hall, Kitchen, Study and Attic', 'Hall, Kitchen and 1 more')
    """
    items = list(words)
    return listing(items if len(items) <= maximum else [*items[:maximum], f"{len(items) - maximum} more"])


def escape_control_characters(text: object) -> str:
    """Text in which every character that is not visible, a joiner or a space is replaced by a space.

    A name can then neither control a terminal nor break a file.

    >>> escape_control_characters("Kitchen\\x1b[31m\\n")
    'Kitchen [31m '
    """
    words = str(text)
    return words if words.isprintable() else "".join(" " if _hides(c) else c for c in words)


def _hides(c: str) -> bool:
    return unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c not in JOINERS


def truncated(text: str, width: int) -> str:
    """Text cut to `width` characters with dots where something is left out.

    >>> truncated("Kitchen", 10), truncated("Kitchen and dining room", 10)
    ('Kitchen', 'Kitchen a…')
    """
    return text if len(text) <= width else text[: width - 1] + "…"


def unit_text(unit: object) -> str:
    """A unit as printed: °C for degrees, empty for a plain ratio.

    >>> unit_text("degC"), unit_text("-"), unit_text("m3/h")
    ('°C', '', 'm³/h')
    """
    if unit in PRINTED_UNITS:
        return PRINTED_UNITS[str(unit)]
    return escape_control_characters(unit).replace("m2", "m²").replace("m3", "m³")


def with_powers(text: str) -> str:
    """Units of area and volume in a sentence as they are printed; names such as "room2" stay.

    >>> with_powers("room2: 0.05 W/(m2 K), openings of 500 mm2/m")
    'room2: 0.05 W/(m² K), openings of 500 mm²/m'
    """
    return AREA_OR_VOLUME.sub(lambda found: f"{found[1]}{'²³'[int(found[2]) - 2]}", text)


def with_minus_signs(text: str) -> str:
    """Text with a minus sign in place of the hyphen before a negative number.

    >>> with_minus_signs("at -3 °C outside (-16): one-way, EN 442-2")
    'at −3 °C outside (−16): one-way, EN 442-2'
    """
    return HYPHEN_AS_MINUS.sub("−", text)


def is_missing(value: object) -> bool:
    """Whether there is no value: None, not a number, or a missing value of pandas."""
    if value is None:
        return True
    try:
        return bool(value != value)
    except TypeError:  # pandas' NA is neither equal to itself nor not
        return True


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
        return unit_text(value)
    if column.kind == "text" or isinstance(value, str):
        return escape_control_characters(value)
    figure = float(value)  # type: ignore[arg-type]
    if column.kind == "percent":
        return percent(figure, column.decimals, column.sign)
    if column.kind == "figure":
        return significant(figure)
    if column.kind == "residual":
        return f"{figure:.1e}"
    return number(figure, column.decimals, column.sign)


def spreadsheet_format(column: Column, value: object) -> str:
    """The number format of a spreadsheet's cell that shows a value as :func:`cell_text` writes it.

    >>> spreadsheet_format(Column("margin_w", "Margin", "W", "number", 1, True), 12.0)
    '+0.0;-0.0;0'
    >>> spreadsheet_format(Column("calculated", "Calculated", "", "figure"), 2.9e-11)
    '0.0E+00'
    """
    if not isinstance(value, int | float) or not column.is_numeric:
        return "General"
    if column.kind == "residual":
        return "0.0E+00"
    if column.kind == "figure" and 0.0 < abs(value) < MIN_WRITTEN_OUT:
        return "0.0E+00"
    decimals = column.decimals
    if column.kind in ("figure", "percent"):
        shown = significant(value) if column.kind == "figure" else percent(value, decimals)
        decimals = len(shown.partition(".")[2])
    digits = "0" + ("." + "0" * decimals if decimals else "") + ("%" if column.kind == "percent" else "")
    return f"+{digits};-{digits};0" if column.sign else digits


def in_ranges(numbers: Iterable[int]) -> str:
    """Whole numbers in rising order, three or more in a row as first to last.

    >>> in_ranges([2, 3, 4, 7, 9, 10])
    '2 to 4, 7, 9, 10'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(parts)
