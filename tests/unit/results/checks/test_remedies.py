"""Remedies and the order of checks."""

from __future__ import annotations

import pandas as pd
import pytest

import heatloop as hl
from heatloop.report.pages.html_tables import checks_tables
from heatloop.results.checks.remedies import recommended_changes

CHECK = ["check", "location", "calculated", "limit", "verdict"]


@pytest.fixture(scope="module")
def design(alder_draft: hl.Design) -> hl.Design:
    return alder_draft


def test_spare_wall_is_no_remedy_where_there_is_none(design: hl.Design) -> None:
    spare = dict(zip(design.rooms["room"], design.rooms["free_wall_m"], strict=True))
    cold = design.checks[(design.checks["check"] == "heat to the room") & (design.checks["verdict"] == "fail")]
    assert len(cold)
    for row in cold.to_dict("records"):
        assert ("free wall" in row["recommendation"]) == (spare[row["location"]] > 0)


def _checks(*rows: tuple[str, str, float, float, str]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=CHECK)
    return frame.assign(unit="m/s", source="a book", recommendation="take a larger pipe")


def test_checks_are_reported_once_and_the_pressing_first() -> None:
    checks = _checks(
        ("water velocity", "Hall", 1.2, 1.0, "caution"),
        ("quiet operation of the valve", "Study, flow valve", 30.0, 20.0, "fail"),
        ("water velocity", "Attic", 1.4, 1.0, "caution"),
        ("water velocity", "Cellar", 0.4, 1.0, "pass"),
    )
    first, second = recommended_changes(checks)
    assert (first.verdict, first.where) == ("fail", "Study, flow valve")
    assert (second.verdict, second.where) == ("caution", "Hall and Attic")
    assert second.what == "water velocity: 1.2 m/s (Hall) and 1.4 m/s (Attic); required: at most 1 m/s"
    assert second.remedy == "Take a larger pipe."
    markup = checks_tables(checks).markup
    assert markup.index("Study, flow valve") < markup.index("Limits that are met") < markup.index("Cellar")
    assert "recommendation" not in markup


def test_a_limit_missed_at_many_locations_is_one_row_that_names_each() -> None:
    places = [(f"Loop {i}", 1.0 + i / 10.0) for i in range(1, 31)]
    checks = _checks(
        *(("water velocity", place, value, 1.0, "caution") for place, value in places),
        ("water velocity", "Cellar", 2.5, 1.0, "fail"),
    )
    markup = checks_tables(checks).markup
    assert markup.count("take a larger pipe") == 2, "one for the cautions, one for the failure"
    assert "; ".join(f"{place}: {value:.3g}" for place, value in places) in markup
    assert "1.1 to 4" in markup
    assert ">Cellar<" in markup, "a single location has its value in the column of values alone"


def test_where_all_limits_are_met_a_sentence_stands_before_their_table() -> None:
    markup = checks_tables(_checks(("water velocity", "Cellar", 0.4, 1.0, "pass"))).markup
    assert markup.startswith("<p>Limits not met, and cautions: none.</p><")
    assert markup.count("<table") == 1
    assert "&lt;" not in markup


def test_of_many_locations_the_one_nearest_to_the_limit_is_named() -> None:
    rooms = ("Attic", 0.2), ("Cellar", 0.4), ("Hall", 0.9), ("Study", 0.3)
    most = checks_tables(_checks(*(("water velocity", room, value, 1.0, "pass") for room, value in rooms))).markup
    assert "4 locations; nearest to the limit: Hall" in most
    least = checks_tables(_checks(*(("heat to the room", room, 1.0 + value, 1.0, "pass") for room, value in rooms)))
    assert "4 locations; nearest to the limit: Attic" in least.markup


def test_long_lists_are_reported_by_their_number() -> None:
    checks = _checks(*(("water velocity", f"Loop {i}", 1.0 + i, 1.0, "fail") for i in range(1, 8)))
    (change,) = recommended_changes(checks)
    assert change.where == "Loop 1, Loop 2, Loop 3, Loop 4 and 3 more"
    assert change.what.endswith("(Loop 4) and 3 more; required: at most 1 m/s")
    valves = _checks(*(("quiet valve", f"{loop}, flow valve", 30.0, 20.0, "fail") for loop in ("Hall", "Attic")))
    assert recommended_changes(valves)[0].where == "Hall, flow valve; Attic, flow valve"
