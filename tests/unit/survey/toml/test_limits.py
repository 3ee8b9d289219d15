"""What a TOML file may not hold is one line with its place in plain words, without those of the parser."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.toml.toml_reader import toml_tables

DIGITS = "required: a number of at most 18 digits"
DEEP = "found tables or lists nested too deeply to read; required: at most 30 in each other; a survey has at most eight"
ENDS = "found a line that ends with a carriage return alone; required: a line feed at the end of each line (LF or CRLF)"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (f"a = 1\nb = {'9' * 400}\n", f'line 2, column 5: found a whole number of 400 digits as "b"; {DIGITS}'),
        (f"a = 1\nb = -{'9' * 5000}\n", f'line 2, column 5: found a whole number of 5000 digits as "b"; {DIGITS}'),
        (
            f'a = "{"9" * 30}" # {"9" * 30}\n{"9" * 30} = 1\nb.c = [\n  1, {"9" * 20},\n]',
            f"line 4, column 6: found a whole number of 20 digits; {DIGITS}",
        ),
        (f"a = [{'9' * 19}]", f'line 1, column 6: found a whole number of 19 digits as "a"; {DIGITS}'),
        (f"a = 0x{'f' * 20}", f'line 1, column 5: found a whole number of 22 digits as "a"; {DIGITS}'),
        (f"a = 1\n{'b.' * 40}c = 1", f"line 2, column 1: {DEEP}"),
        (f"a = 1\nb = {'[' * 40}{']' * 40}", f"line 2, column 35: {DEEP}"),
        (f"a = 1\nb = {'[' * 5000}{']' * 5000}", f"line 2, column 35: {DEEP}"),
        (f"a = 1\n[{'b.' * 20}c]\n{'d.' * 20}e = 1", f"b: {DEEP}"),
        ("a = 1\rb = 2\r", f"line 1, column 6: {ENDS}"),
        ("a = 1\r\nb = 2\rc = 3\r\n", f"line 2, column 6: {ENDS}"),
    ],
    ids=["400", "5000", "among texts", "list", "hex", "dotted", "lists", "5000 lists", "heading", "CR", "one CR"],
)
def test_what_a_file_may_not_hold_is_one_line_with_its_place(text: str, line: str) -> None:
    with pytest.raises(InputError) as caught:
        toml_tables(Path("x.toml"), text)
    assert str(caught.value) == f"x.toml: {line}"


@pytest.mark.parametrize(
    ("text", "tables"),
    [
        (f"a = {10**18}\r\nb = -{10**18}\r\n", {"a": 10**18, "b": -(10**18)}),
        (f"a = 1.{'3' * 40}\nb = 0x0000000000000000000000ff", {"a": 4 / 3, "b": 255}),
    ],
)
def test_the_largest_numbers_and_long_fractions_are_read(text: str, tables: dict[str, object]) -> None:
    assert toml_tables(Path("x.toml"), text) == tables
