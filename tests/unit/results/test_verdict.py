"""Texts of the report: the verdict with cold rooms first, recommended changes, and captions of tables."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult
from heatloop.report.pages.captions import (
    checks_sentence,
    closed_sentence,
    glazing_sentence,
    loops_sentence,
    movement_sentence,
    output_range_caption,
    pumps_sentence,
    shut_sentence,
    verdict,
)
from heatloop.report.pages.html_tables import checks_tables
from heatloop.results.checks.design_checks import design_checks
from heatloop.results.checks.limits import RESIDUAL
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.summaries import rooms_sentence
from heatloop.workflows.verdict import verdict_from

ROOMS = pd.DataFrame(
    {"room": ["Hall", "Kitchen", "Attic"], "margin_w": [-20.4, 5.0, -80.0], "coverage": [0.9, 1.1, 0.7]}
)
CHECK = ["check", "location", "calculated", "limit", "verdict"]


@pytest.fixture(scope="module")
def design(alder_draft: hl.Design) -> hl.Design:
    return alder_draft


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
    assert second.what == "water velocity: calculated 1.2 m/s (Hall) and 1.4 m/s (Attic), must be at most 1 m/s"
    assert second.remedy == "Take a larger pipe."
    markup = checks_tables(checks).markup
    assert markup.index("Study, flow valve") < markup.index("Limits that are met") < markup.index("Cellar")
    assert "recommendation" not in markup


def test_sentences_of_the_verdict() -> None:
    rooms = ROOMS.copy()
    assert rooms_sentence(rooms) == (
        "2 of 3 rooms are short of heat at design conditions: Attic by 80 W and Hall by 20 W."
    )
    assert rooms_sentence(rooms[1:2]) == "The room reaches its temperature at design conditions."
    loops = pd.DataFrame({"loop": ["Ground", "First"]})
    checks = _checks(("a", "First, flow valve", 2.0, 1.0, "fail"), ("a", "Firstly", 2.0, 1.0, "fail"))
    assert loops_sentence(loops, checks) == "1 of 2 loops outside a limit: First."
    assert loops_sentence(loops, checks[1:]) == "All 2 loops meet their limits."
    watched = _checks(("a", "Ground", 2.0, 1.0, "caution"), ("a", "First", 2.0, 1.0, "fail"))
    assert loops_sentence(loops, watched) == "1 of 2 loops outside a limit: First; cautions for Ground."
    assert loops_sentence(loops, watched[:1]) == "All 2 loops meet their limits; cautions for Ground."


def test_the_unmet_checks_of_the_verdict_are_listed_first(design: hl.Design) -> None:
    hot = CheckResult("pressure when hot", "system", 320.0, 250.0, "kPa", "fail", "a book", "a larger vessel")
    found = verdict_from(design.rooms, [*design.verdict.fails, hot])
    figures = SimpleNamespace(frames=design.frames, facts=design.facts, verdict=found)
    markup = verdict(replace(design, figures=figures)).markup
    assert "is 150 W short of its heat loss, and 1 other limit is not met" in markup
    assert "<b>system</b>, pressure when hot" in markup


def test_long_lists_are_reported_by_their_number() -> None:
    checks = _checks(*(("water velocity", f"Loop {i}", 1.0 + i, 1.0, "fail") for i in range(1, 8)))
    (change,) = recommended_changes(checks)
    assert change.where == "Loop 1, Loop 2, Loop 3, Loop 4 and 3 more"
    assert change.what.endswith("(Loop 4) and 3 more, must be at most 1 m/s")
    valves = _checks(*(("quiet valve", f"{loop}, flow valve", 30.0, 20.0, "fail") for loop in ("Hall", "Attic")))
    assert recommended_changes(valves)[0].where == "Hall, flow valve; Attic, flow valve"


def test_titles_of_tables_say_what_is_found(design: hl.Design) -> None:
    assert output_range_caption(design.output_range).startswith("Output range of the whole building: -")
    covered = int((design.glazing_comfort["covered_share"] >= 1).sum())
    assert glazing_sentence(design.glazing_comfort) == f"Skirting covers the heat loss of {covered} of 16 windows"
    assert glazing_sentence(design.glazing_comfort[:0]) == "No window or glazed door to a cold space"
    assert pumps_sentence(design.pumps) == f"Pump setting: source {design.pumps['control'][0]}."
    assert pumps_sentence(design.pumps[:0]) == "The survey states no pump."
    assert f"{design.loop_isolation['flow_change_percent'].abs().max():.1f} %" in shut_sentence(design.loop_isolation)
    alone = design.loop_isolation[:1].assign(flow_change_percent=float("nan"))
    assert shut_sentence(alone) == "Effect of isolating the loop"
    failed = int((design.checks["verdict"] == "fail").sum())
    assert checks_sentence(design.checks).startswith(f"{failed} limit not met, ")


def test_the_verdict_agrees_with_the_tables(design: hl.Design) -> None:
    markup = verdict(design).markup
    short = design.rooms[design.rooms["margin_w"] < 0]
    assert f'verdict-box {design.summary["verdict"]}"' in markup
    for room, margin in zip(short["room"], short["margin_w"], strict=True):
        assert f"{room} by {-margin:.0f} W" in markup


def test_the_opening_tells_of_movement_and_of_the_closed_system(design: hl.Design) -> None:
    handover, pack = design.parts(), design.commissioning()
    markup = verdict(design, handover, pack).markup
    assert f"{handover.summary['pieces']} pieces" in markup
    unmet = pack.tables["commissioning_checks"].query("verdict != 'pass'")
    assert ("all limits of pressure and water treatment are met" in markup) == unmet.empty
    stuck = {**handover.summary, "restrained_straight_lengths": 2}
    assert movement_sentence(stuck).startswith("2 straight lengths are restrained: no room for expansion;")
    assert movement_sentence({**stuck, "straights": 0}) == "No room has been surveyed: there is no cut list."
    failing = pack.tables["commissioning_checks"].head(1).assign(verdict="fail")
    assert closed_sentence(failing) == f"Closed system: {failing['check'].iloc[0]} (fails)."
    assert (
        closed_sentence(failing.iloc[:0])
        == "The closed system cannot be checked: its data are missing from the survey."
    )


def test_a_calculation_whose_balances_do_not_close_fails_its_design(design):
    frames, facts = design.frames, dict(design.summary)
    rows = design_checks(design.survey, frames, facts)
    balances = rows[rows["check"] == RESIDUAL.check]
    assert list(balances["verdict"]) == ["pass"] * 4
    for miss in (2e-9, float("nan")):
        rows = design_checks(design.survey, frames, facts | {"residual_energy": miss})
        failed = rows[rows["verdict"] == "fail"]
        assert "energy" in set(failed["location"][failed["check"] == RESIDUAL.check])
