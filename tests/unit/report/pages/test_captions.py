"""Sentences of the verdict and titles of tables, each in agreement with its table."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd

import heatloop as hl
from heatloop.findings.limits import CheckResult
from heatloop.report.pages.captions import (
    checks_caption,
    closed_caption,
    glazing_caption,
    loop_isolation_caption,
    loops_caption,
    movement_caption,
    output_range_caption,
    pumps_caption,
    verdict,
)
from heatloop.results.summaries import rooms_statement
from heatloop.workflows.verdict import verdict_from

ROOMS = pd.DataFrame(
    {"room": ["Hall", "Kitchen", "Attic"], "margin_w": [-20.4, 5.0, -80.0], "coverage": [0.9, 1.1, 0.7]}
)
CHECK = ["check", "location", "calculated", "limit", "verdict"]


def _checks(*rows: tuple[str, str, float, float, str]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=CHECK)
    return frame.assign(unit="m/s", source="a book", recommendation="take a larger pipe")


def test_sentences_of_the_verdict() -> None:
    rooms = ROOMS.copy()
    assert rooms_statement(rooms) == (
        "2 of 3 rooms are short of heat at design conditions: Attic by 80 W and Hall by 20 W."
    )
    assert rooms_statement(rooms[1:2]) == "The room reaches its temperature at design conditions."
    loops = pd.DataFrame({"loop": ["Ground", "First"]})
    checks = _checks(
        ("water velocity", "First, flow valve", 2.0, 1.0, "fail"), ("pipe friction", "Firstly", 2.0, 1.0, "fail")
    )
    assert loops_caption(loops, checks) == "1 of 2 loops outside a limit: First."
    assert loops_caption(loops, checks[1:]) == "All 2 loops meet their limits."
    watched = _checks(("water velocity", "Ground", 2.0, 1.0, "caution"), ("water velocity", "First", 2.0, 1.0, "fail"))
    assert loops_caption(loops, watched) == "1 of 2 loops outside a limit: First; cautions for Ground."
    assert loops_caption(loops, watched[:1]) == "All 2 loops meet their limits; cautions for Ground."
    of_a_room = _checks(("heat to the room", "Ground", 0.9, 1.0, "fail"))
    assert loops_caption(loops, of_a_room) == "All 2 loops meet their limits.", "a room with the name of a loop"


def test_the_unmet_checks_of_the_verdict_are_listed_first(design: hl.Design) -> None:
    hot = CheckResult("pressure when hot", "system", 320.0, 250.0, "kPa", "fail", "a book", "a larger vessel")
    found = verdict_from(design.rooms, [*design.verdict.fails, hot])
    figures = SimpleNamespace(frames=design.frames, facts=design.facts, verdict=found)
    markup = verdict(replace(design, figures=figures)).markup
    assert "receives 150 W less than its heat loss plus back loss, and 1 other limit is not met" in markup
    assert "<b>system</b>, pressure when hot" in markup


def test_titles_of_tables_say_what_is_found(design: hl.Design) -> None:
    assert output_range_caption(design.output_range).startswith("Output range of the whole building: −")
    covered = int((design.glazing_comfort["covered_share"] >= 1).sum())
    assert glazing_caption(design.glazing_comfort) == f"Skirting covers the heat loss of {covered} of 16 windows"
    assert glazing_caption(design.glazing_comfort[:0]) == "No window or glazed door to a cold space"
    assert pumps_caption(design.pumps) == f"Pumps as set; at the heat source: {design.pumps['control'][0]}."
    assert pumps_caption(design.pumps[:0]) == "The survey states no pump."
    assert f"{design.loop_isolation['flow_change_percent'].abs().max():.1f} %" in loop_isolation_caption(
        design.loop_isolation
    )
    alone = design.loop_isolation[:1].assign(flow_change_percent=float("nan"))
    assert loop_isolation_caption(alone) == "Effect of isolating the loop"
    failed = int((design.checks["verdict"] == "fail").sum())
    assert checks_caption(design.checks).startswith(f"{failed} limit not met, ")


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
    assert movement_caption(stuck).startswith("2 straight lengths are restrained: no room for expansion;")
    assert movement_caption({**stuck, "straights": 0}) == "No room has been surveyed: there is no cut list."
    failing = pack.tables["commissioning_checks"].head(1).assign(verdict="fail")
    assert closed_caption(failing) == f"Closed system: {failing['check'].iloc[0]} (fail)."
    assert (
        closed_caption(failing.iloc[:0]) == "The closed system cannot be checked: its data are missing from the survey."
    )
