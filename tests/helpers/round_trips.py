"""Tables of a survey written in each form that a survey may have, and read again: what is lost on the way."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

from heatloop.survey import read
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.toml.toml_writer import toml_text
from heatloop.survey.workbook.frames import frames_of, tables_of_frames
from heatloop.survey.workbook.read_workbook import workbook_tables
from heatloop.survey.workbook.sheets import SURVEY_SHEETS
from heatloop.survey.workbook.write_workbook import workbook_bytes


def is_close(one: Any, other: Any) -> bool:
    """Whether tables are equal, numbers to the fifteen digits that a spreadsheet keeps."""
    if isinstance(one, dict):
        return isinstance(other, dict) and one.keys() == other.keys() and all(is_close(one[k], other[k]) for k in one)
    if isinstance(one, list):
        return isinstance(other, list) and len(one) == len(other) and all(map(is_close, one, other))
    if isinstance(one, float) and not isinstance(other, bool):
        return math.isclose(one, other, rel_tol=1e-14, abs_tol=1e-300)
    return type(one) is type(other) and bool(one == other)


def values_in(node: Any) -> int:
    """How many values tables have."""
    if isinstance(node, dict):
        return sum(map(values_in, node.values()))
    return sum(map(values_in, node)) if isinstance(node, list) else 1


def round_trip_faults(tables: dict[str, Any], folder: Path) -> Iterator[str]:
    """The forms in which tables of a survey are not what they were: a workbook on disk, TOML, frames, frozen values."""
    path = folder / "survey.xlsx"
    path.write_bytes(workbook_bytes(path, SURVEY_SHEETS, tables))
    if not is_close(tables, workbook_tables(path, SURVEY_SHEETS)[0]):
        yield "workbook"
    if tomllib.loads(toml_text(tables, "a test")) != tables:
        yield "TOML"
    again = tables_of_frames(SURVEY_SHEETS, frames_of(SURVEY_SHEETS, tables), "frames")
    if again.issues or again.tables != tables:
        yield "data frames"
    with patch.object(read, "check_survey", lambda *_: None):  # names and walls are drawn by chance
        survey = read.survey_of(tables, None, Catalogue())
        if read.survey_of(survey_to_tables(survey), None, Catalogue()) != survey:
            yield "frozen values"
