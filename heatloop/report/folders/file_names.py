"""Check of the name of a file to which a result is saved."""

from __future__ import annotations

from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.text.formatting import listing
from heatloop.text.quoting import single_line


def file_to_save(path: str | Path, *suffixes: str) -> Path:
    """Return the path as given; raise InputError where its name has none of the suffixes."""
    target = Path(path)
    if target.suffix not in suffixes:
        found = f'"{single_line(str(target))}"'
        raise InputError([InputIssue("save", "path", found, f"a name that ends in {listing(suffixes, 'or')}")])
    return target
