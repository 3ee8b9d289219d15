"""The empty form of readings: loop by loop, and read again once filled in."""

from __future__ import annotations

import csv
import io
import itertools

from heatloop.diagnosis.readings_file import readings_of
from heatloop.diagnosis.readings_form import readings_sheet
from tests.helpers.diagnosis.readings_text import faults_of


def test_the_empty_sheet_requires_what_is_needed_and_no_more(design):
    faults = faults_of(readings_sheet(design.system), design)
    assert len(faults) == 10
    assert all('"value": found nothing' in fault for fault in faults)


def test_the_empty_sheet_goes_loop_by_loop(design):
    rows = list(csv.DictReader(io.StringIO(readings_sheet(design.system))))
    loops = [row["of"] for row in rows if row["reading"] in ("flow temperature", "return temperature", "flow")]
    assert list(dict.fromkeys(loops)) == [name for name, _ in itertools.groupby(loops)]
    assert [row["reading"] for row in rows if row["of"] == loops[-1]][:3] == [
        "flow temperature", "return temperature", "flow"
    ]  # fmt: skip


def test_the_sheet_filled_in_is_read(design):
    sheet = readings_sheet(design.system).replace(",,degC,0.5", ",45,degC,0.5")
    found = readings_of(sheet.replace("not read,,", "off,,"), "visit.csv", design.system)
    assert len(found.items) == 10
    assert found.thermostatic_heads_removed is True
