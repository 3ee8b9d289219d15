"""The parts of a report: wording, columns, tables, findings, plain text, workbook, plots, plans."""

from __future__ import annotations

import re

import pytest

import heatloop as hl
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.summaries import design_summary
from heatloop.text.summary import WIDTH, as_text


@pytest.fixture(scope="module")
def design(alder_draft: hl.Design) -> hl.Design:
    return alder_draft


def test_plain_text_fits_and_holds_the_answers(design: hl.Design) -> None:
    text = str(design)
    assert max(map(len, text.splitlines())) <= WIDTH
    for row in design.rooms.to_dict("records"):
        assert re.search(
            rf"^{row['room']} .*\b{row['heat_loss_w']:.0f}\b.*\b{row['heat_to_rooms_w']:.0f}\b", text, re.M
        )
    for row in design.loops.to_dict("records"):
        assert re.search(rf"^{row['loop']} .*\b{row['flow_l_h']:.0f}\b", text, re.M)
    failed = design.summary["checks_failed"]
    assert text.splitlines()[1].strip().startswith("Not ready" if failed else "Ready")
    told = [line for line in text.splitlines() if line.startswith("  - ")]
    assert len(told) == len(recommended_changes(design.checks))


def test_plain_text_of_names_that_do_not_fit(design: hl.Design) -> None:
    tables = design.tables
    tables["rooms"].loc[0, "room"] = "A room \x1b[2J with a name that goes on and on until no one can remember it"
    text = as_text(design_summary(design.summary, tables, design.verdict))
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= WIDTH
