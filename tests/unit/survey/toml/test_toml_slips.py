"""Syntax errors of a survey are reported one by one in plain words, each with its place and what to write."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey
from heatloop.survey.read import read_catalogue
from tests.helpers.input_lines import lines_of


@pytest.mark.parametrize(
    ("old", "new", "found", "required"),
    [
        ("[[loop]]", "[loop]", "[loop]", "[[loop]] in double brackets"),
        ("[[room]]", "[room]", "[room]", "[[room]] in double brackets"),
        ("[[room]]", "[[room]", "heading of a table without its closing bracket", "[[room]]"),
        ('name = "Mill Annexe"', "name = “Mill Annexe”", "curly quotes", "straight quotes"),
        ('name = "Mill Annexe"', 'name = "Mill Annexe', "a text without its closing quote", "a quote at its end"),
        ('name = "Mill Annexe"', "name = Mill Annexe", "Mill Annexe without quotes", 'in quotes: "Mill Annexe"'),
        ("outdoor_c = -4.0", "outdoor_c = -4,0", "a decimal comma", "a decimal point, not a comma"),
        ("outdoor_c = -4.0", "x = { a = 1,5, b = 2 }", "a decimal comma", "a decimal point, not a comma"),
        ("outdoor_c = -4.0", 'x = { a = "one, b = "two" }', "a text without its closing quote", "a quote at its end"),
        ("outdoor_c = -4.0", "outdoor_c =  # on site", "a key without a value", "a value after ="),
        ("outdoor_c = -4.0", "outdoor_c = 4 C  # on site", 'found C after the value of "outdoor_c"', "without a unit"),
        ("outdoor_c = -4.0", "outdoor_c: -4.0", "a colon after a key", "key = value"),
        ("outdoor_c = -4.0", "outdoor_c = -4.0 C", 'C after the value of "outdoor_c"', "without a unit"),
        ("outdoor_c = -4.0", "outdoor_c = -4.0\noutdoor_c = -3.0", 'the key "outdoor_c" a second time', "it once"),
        ("outdoor_c = -4.0", "outdoor_c =", "a key without a value", "a value after ="),
        ("outdoor_c = -4.0", "x = { a = 1,\n b = 2 }", "a line break inside braces", "on one line"),
        ("outdoor_c = -4.0", "x = { a = 1 b = 2 }", "no comma between two keys", "a comma between them"),
        ("outdoor_c = -4.0", "x = { a = 1, }", "a comma before }", "no comma after the last key"),
        ("outdoor_c = -4.0", "x = [1 2]", "no comma between two items of a list", "a comma between them"),
        ("outdoor_c = -4.0", "x = [1, 2\ny = 3", "a list without its closing bracket", "] at its end"),
        ("outdoor_c = -4.0", 'x = "C:\\dir"', "a backslash in a text", "/ in its place"),
        ("outdoor_c = -4.0", 'x = "a\x1b[31m"', "a character that is not visible", "visible characters"),
    ],
)
def test_one_slip_is_one_line_with_its_place(old: str, new: str, found: str, required: str, job: Path) -> None:
    path = job / "survey.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    at = text[: text.index(old)].count("\n") + 1
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    (line,) = lines_of(path)
    assert any(f"line {number}, column" in line for number in (at, at + 1, at + 2))
    head, _, tail = line.partition("; required: ")
    assert found in head
    assert required in tail
    assert line.isprintable()


def test_every_heading_in_single_brackets_is_told(job: Path) -> None:
    path = job / "survey.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[[build_up]]", "[build_up]").replace("[[loop]]", "[loop]"), encoding="utf-8")
    lines = lines_of(path)
    assert len(lines) == text.count("[[build_up]]") + 1
    assert all("in double brackets, once for each" in line for line in lines)


def test_a_heading_of_a_catalogue_in_single_brackets_is_told(job: Path) -> None:
    path = job / "catalogue.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[[pipe]]", "[pipe]"), encoding="utf-8")
    with pytest.raises(InputError, match=r"found \[pipe\]; required: \[\[pipe\]\] in double brackets"):
        read_catalogue(path)


def test_words_in_brackets_inside_a_text_are_no_heading(job: Path) -> None:
    path = job / "survey.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(f"# see\n# [loop]\n{text}", encoding="utf-8")
    assert read_survey(path).loops
