"""Two designs side by side: what differs, and what only one of them has."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.results.compare import COMPARISON, differences


@pytest.fixture(scope="module")
def survey(mill_annexe: hl.Design) -> hl.Survey:
    return mill_annexe.survey


@pytest.fixture(scope="module")
def design(mill_annexe: hl.Design) -> hl.Design:
    return mill_annexe


@pytest.fixture(scope="module")
def warmer(survey: hl.Survey) -> hl.Design:
    return hl.size(replace(survey, project=replace(survey.project, flow_temp_c=survey.project.flow_temp_c + 4.0)))


def test_a_design_does_not_differ_from_itself(design: hl.Design) -> None:
    same = design.compare(design)
    assert same.empty
    assert list(same.columns) == COMPARISON.names


def test_what_differs_stands_side_by_side(design: hl.Design, warmer: hl.Design) -> None:
    found = design.compare(warmer).set_index(["what", "name", "quantity"])
    flow = found.loc[("job", "", "flow_temp_c")]
    assert (flow["before"], flow["after"], flow["change"]) == (
        design.summary["flow_temp_c"],
        warmer.summary["flow_temp_c"],
        pytest.approx(4.0),
    )
    room = str(design.rooms["room"].iloc[0])
    gained = warmer.rooms["heat_to_rooms_w"].iloc[0] - design.rooms["heat_to_rooms_w"].iloc[0]
    assert found.loc[("room", room, "heat_to_rooms_w"), "change"] == pytest.approx(gained)
    assert ("room", room, "heat_loss_w") not in found.index
    back = warmer.compare(design).set_index(["what", "name", "quantity"])
    assert back.loc[("room", room, "heat_to_rooms_w"), "change"] == pytest.approx(-gained)


def test_rooms_and_checks_that_only_one_has_are_reported(design: hl.Design) -> None:
    tables = design.tables
    fewer = {**tables, "rooms": tables["rooms"].iloc[:0], "checks": tables["checks"].assign(verdict="fail")}
    found = differences((design.summary, tables), (design.summary, fewer))
    gone = found[found["what"] == "room"].to_dict("records")
    assert [(row["quantity"], row["before"], row["after"]) for row in gone] == [("room", "present", None)]
    checks = found[found["what"] == "check"]
    assert len(checks) == (tables["checks"]["verdict"] != "fail").sum()
    assert set(checks["after"]) == {"fail"}
