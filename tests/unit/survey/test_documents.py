"""What a survey states for documents, first fix and an offer: every key reaches its value, and faults their line."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from heatloop.survey.documents.document import Approval, DesignCheck, Document, Revision
from heatloop.survey.documents.first_fix import FirstFixBasis
from heatloop.survey.documents.quotation import QuotationTerms
from heatloop.survey.entry import read_survey
from tests.helpers.input_lines import lines_of

TABLES = """

[document]
job = "J-17"
client = "A client"
site_address = ["1 Lane", "Town"]
owner = "The owner"
prepared_by = "A designer"
status = "for comment"
issued_on = 2026-03-04
check = { by = "B", on = 2026-03-05, design = "0123456789ab" }
approval = { by = "C", on = 2026-03-06 }

[[document.revision]]
mark = "P01"
on = 2026-03-01
words = "first issue"

[[document.revision]]
mark = "P02"
on = 2026-03-04

[first_fix]
wall_finish_mm = 13.0
floor_finish_mm = 18.0
bore_reach_mm = 40.0
opening = "lagged"

[quotation]
markup_percent = 20.0
labour_rate_h = 45.0
tax_percent = 19.0
valid_days = 30
exclusions = ["Making good."]
terms = ["Half in advance.", "Half on completion."]
"""


def with_tables(job: Path, tables: str) -> Path:
    """The survey of the job with these tables in place of its own."""
    path = job / "survey.toml"
    text = path.read_text(encoding="utf-8")
    assert not {"[document]", "[first_fix]", "[quotation]"} & set(text.splitlines())
    path.write_text(text + tables, encoding="utf-8")
    return path


def test_every_key_reaches_its_value(job: Path) -> None:
    survey = read_survey(with_tables(job, TABLES))
    assert survey.document == Document(
        "J-17", "A client", ("1 Lane", "Town"), "The owner", "A designer", "for comment", dt.date(2026, 3, 4),
        DesignCheck("B", dt.date(2026, 3, 5), "0123456789ab"), Approval("C", dt.date(2026, 3, 6)),
        (Revision("P01", dt.date(2026, 3, 1), "first issue"), Revision("P02", dt.date(2026, 3, 4))),
    )  # fmt: skip
    assert survey.first_fix == FirstFixBasis(13.0, 18.0, 40.0, "lagged")
    assert survey.quotation == QuotationTerms(
        20.0, 45.0, 19.0, 30, ("Making good.",), ("Half in advance.", "Half on completion.")
    )


def test_without_the_tables_nothing_is_assumed(job: Path) -> None:
    survey = read_survey(job / "survey.toml")
    assert (survey.document, survey.first_fix, survey.quotation) == (Document(), FirstFixBasis(), QuotationTerms())


@pytest.mark.parametrize(
    ("old", "new", "place", "found"),
    [
        ('status = "for comment"', 'status = "final"', "document, status", "the text 'final'"),
        ("issued_on = 2026-03-04", 'issued_on = "soon"', "document, issued_on", "the text 'soon'"),
        ('mark = "P02"', 'mark = "P02-final"', "document", "the text 'P02-final'"),
        ("bore_reach_mm = 40.0", "bore_reach_mm = 201", "first_fix, bore_reach_mm", "201"),
        ("tax_percent = 19.0", "tax_percent = 101", "quotation, tax_percent", "101"),
        ("valid_days = 30", "valid_days = 0.5", "quotation, valid_days", "0.5"),
    ],
)
def test_a_fault_is_one_line_with_its_place(old: str, new: str, place: str, found: str, job: Path) -> None:
    assert TABLES.count(old) == 1
    (line,) = lines_of(with_tables(job, TABLES.replace(old, new)))
    assert place in line
    assert f"found {found}" in line
