"""Faults of the header row of a CSV file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from heatloop.findings.input_errors import InputIssue
from heatloop.text.quoting import suggestion

SEMICOLONS = {";": "semicolons"}
"""A separator other than the comma, and its name."""


def header_faults(
    file: str,
    line: int,
    columns: Sequence[str],
    required: Sequence[str],
    optional: Sequence[str],
    separators: Mapping[str, str] = SEMICOLONS,
) -> Iterator[InputIssue]:
    """Columns that are missing, unknown or repeated in a header row, on that line of the file.

    A row of one field with one of the `separators` in it, each given with its name, is one fault.
    """
    known = (*required, *optional)
    place = f"line {line}"
    if len(columns) == 1:
        for separator, name in separators.items():
            if separator in columns[0]:
                found = f"{name} between the columns"
                yield InputIssue(file, place, found, "commas, and a decimal point in numbers")
                return
    for name in required:
        if name not in columns:
            close = suggestion(name, [column for column in columns if column not in known])
            slip = f' (there is "{close}")' if close else ""
            yield InputIssue(file, place, f'no column "{name}"{slip}', f"the columns {', '.join(required)}")
    for column in columns:
        if column not in known:
            yield InputIssue(file, place, f'the column "{column}"', f"one of {', '.join(known)}")
    for column in dict.fromkeys(c for c in columns if columns.count(c) > 1):
        yield InputIssue(file, place, f'the column "{column}" twice', "it once")
