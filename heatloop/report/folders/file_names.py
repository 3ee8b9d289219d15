"""Names of files that a result is asked to be saved under."""

from __future__ import annotations

from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.text.formatting import listing
from heatloop.text.quoting import single_line


def file_to_save(path: str | Path, *suffixes: str) -> Path:
    """The path as given; InputError where its name ends in none of the suffixes."""
    target = Path(path)
    if target.suffix not in suffixes:
        found = f'"{single_line(str(target))}"'
        raise InputError([InputIssue("save", "path", found, f"a name that ends in {listing(suffixes, 'or')}")])
    return target
