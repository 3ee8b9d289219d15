"""What kind of file a TOML file or a workbook is, and which files it names; the file is not read as a survey."""

from __future__ import annotations

import html
import re
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path

from heatloop.survey.files.catalogue_tables import CatalogueTable
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.files.year_tables import YearTable
from heatloop.survey.workbook.read_workbook import DAMAGED, UNPACKED_BYTES, is_workbook
from heatloop.text.files import UnusableFile, file_bytes

TABLE = re.compile(r"^\s*\[{1,2}\s*\"?(\w+)", re.MULTILINE)
OWN_KEY = re.compile(r"^\s*(\w+)\s*[.=]", re.MULTILINE)
NAMED = re.compile(r"""catalogue\s*=\s*("[^"\n]*"|'[^'\n]*')""")
TEXT_OF_CELL = re.compile(r"<t(?: [^>]*)?>([^<]*\.(?:toml|xlsx))\s*</t>", re.IGNORECASE)
SHEET_NAME = re.compile(r"<sheet [^>]*?name=\"([^\"]*)\"")
TEXT_PARTS = re.compile(r"xl/(sharedStrings|worksheets/\w+)\.xml")

OF_OTHERS = {*CatalogueTable.model_fields, *YearTable.model_fields} - {*SurveyTable.model_fields}
"""Tables of catalogues and year files that no survey has."""


def is_other_file(path: Path) -> bool:
    """Whether a file is a catalogue, a year file or another file of a project, and not a survey with faults."""
    if is_workbook(path):
        titles = _sheet_titles(path)
        return bool(titles) and "Rooms" not in titles and not ({"Loops", "Walls"} & titles)
    text = _text(path)
    tables = {*TABLE.findall(text), *OWN_KEY.findall(text.partition("\n[")[0])}
    return "project" not in tables and not tables & {"room", "loop"} and bool(tables & OF_OTHERS)


def is_survey_workbook(path: Path) -> bool:
    """Whether a workbook has sheets of a survey."""
    return bool({"Rooms", "Loops"} & _sheet_titles(path))


def named_files(path: Path) -> Iterator[Path]:
    """The files that a survey may name as its catalogue and that exist; more than these does not matter."""
    for name in dict.fromkeys(_names_in_workbook(path) if is_workbook(path) else _names_in_toml(path)):
        place = path.parent / name
        try:
            if place.is_file():
                yield place
        except (OSError, ValueError):
            continue


def _names_in_toml(path: Path) -> Iterator[str]:
    text = _text(path)
    for quoted in NAMED.findall(text):
        if "\\" in quoted and quoted[0] == '"':
            try:
                yield str(tomllib.loads(f"name = {quoted}")["name"])
            except tomllib.TOMLDecodeError:
                continue
        else:
            yield quoted[1:-1]


def _names_in_workbook(path: Path) -> Iterator[str]:
    for part in _parts(path, TEXT_PARTS):
        yield from (html.unescape(text) for text in TEXT_OF_CELL.findall(part))


def _sheet_titles(path: Path) -> set[str]:
    return {html.unescape(name) for part in _parts(path, re.compile(r"xl/workbook\.xml")) for name in
            SHEET_NAME.findall(part)}  # fmt: skip


def _parts(path: Path, names_of_parts: re.Pattern[str]) -> list[str]:
    """The parts of a workbook with these names; none of a damaged one."""
    try:
        with zipfile.ZipFile(path) as book:
            inside = [part for part in book.infolist() if names_of_parts.fullmatch(part.filename)]
            if sum(part.file_size for part in inside) > UNPACKED_BYTES:
                return []
            return [book.read(part).decode("utf-8", errors="replace") for part in inside]
    except DAMAGED:
        return []


def _text(path: Path) -> str:
    """The text of a file; empty where it cannot be read, which its reader reports."""
    try:
        return file_bytes(path).decode("utf-8", errors="replace")
    except (OSError, ValueError, UnusableFile):
        return ""
