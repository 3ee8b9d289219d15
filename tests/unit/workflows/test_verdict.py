"""The verdict: its words, and that every command prints the same one and ends with the same status."""

from __future__ import annotations

import time
from dataclasses import replace

import pandas as pd
import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult, Outcome
from heatloop.workflows.verdict import closed_system_results, design_verdict, movement_results, verdict_from

ROOMS = pd.DataFrame(
    {"room": ["Hall", "Kitchen", "Attic"], "margin_w": [-20.4, 5.0, -80.0], "coverage": [0.9, 1.1, 0.7]}
)


def result(check: str, verdict: Outcome, subject: str = "Hall") -> CheckResult:
    return CheckResult(check, subject, 2.0, 1.0, "m/s", verdict, "a book", "take a larger pipe")


HALL, ATTIC = result("heat to the room", "fail"), result("heat to the room", "fail", "Attic")
FAST, WATCHED = result("water velocity", "fail"), result("a", "caution")


@pytest.mark.parametrize(
    ("rooms", "results", "state", "headline"),
    [
        (ROOMS, [HALL, ATTIC, WATCHED], "not ready",
         "Not ready for installation: 2 of 3 rooms receive less than their heat loss plus back loss."),
        (ROOMS[:2], [HALL], "not ready",
         "Not ready for installation: Hall receives 20 W less than its heat loss plus back loss."),
        (ROOMS[:2], [HALL, FAST, WATCHED], "not ready",
         "Not ready for installation: Hall receives 20 W less than its heat loss plus back loss, and 1 other limit is "
         "not met."),
        (ROOMS[1:2], [FAST, WATCHED], "not ready",
         "Not ready for installation: water velocity, Hall: 2 m/s, required at most 1 m/s."),
        (ROOMS[1:2], [FAST, FAST], "not ready", "Not ready for installation: 2 limits are not met."),
        (ROOMS[1:2], [WATCHED], "ready with cautions",
         "No check fails; resolve 1 caution before installation."),
        (ROOMS[1:2], [result("a", "pass")], "ready", "All limits are met."),
    ],
)  # fmt: skip
def test_the_headline_names_consequence_place_and_figure(
    rooms: pd.DataFrame, results: list[CheckResult], state: str, headline: str
) -> None:
    found = verdict_from(rooms, results)
    assert (found.state, found.headline) == (state, headline)
    assert found.fails == tuple(one for one in results if one.verdict == "fail")
    assert found.cautions == tuple(one for one in results if one.verdict == "caution")


def test_the_verdict_counts_movement_and_the_closed_system(harbour_loft: hl.Design) -> None:
    expected = [
        *(row["verdict"] for row in harbour_loft.checks.to_dict("records")),
        *(one.verdict for one in movement_results(harbour_loft.system)),
        *(one.verdict for one in closed_system_results(harbour_loft.system)),
    ]
    assert harbour_loft.verdict.scope == ("design", "thermal movement", "closed system")
    assert len(harbour_loft.verdict.fails) == expected.count("fail") == harbour_loft.summary["checks_failed"]
    assert len(harbour_loft.verdict.cautions) == expected.count("caution") == harbour_loft.summary["checks_caution"]


def test_a_straight_without_room_to_grow_makes_a_design_not_ready(mill_annexe: hl.Design) -> None:
    held = tuple(replace(one, free_end="none", slide_mm=None) for one in mill_annexe.survey.catalogue.joints)
    ends = tuple(replace(one, free_end="none", slide_mm=None) for one in mill_annexe.survey.catalogue.ends)
    rigid = hl.size(
        replace(mill_annexe.survey, catalogue=replace(mill_annexe.survey.catalogue, joints=held, ends=ends))
    )
    assert mill_annexe.verdict.state == "ready with cautions"
    assert rigid.verdict.state == "not ready"
    assert {one.check for one in rigid.verdict.fails} == {"room for thermal movement"}
    assert len(rigid.verdict.fails) == rigid.parts().summary["restrained_straight_lengths"]


def test_the_verdict_takes_a_small_part_of_the_time_of_a_design(harbour_loft: hl.Design) -> None:
    began = time.perf_counter()
    again = hl.size(harbour_loft.survey)
    assert len(again.tables) == len(again.descriptions())
    sized = time.perf_counter()
    design_verdict(again.system, again.rooms, again.checks)
    assert time.perf_counter() - sized <= 0.1 * (sized - began)


def test_a_source_that_holds_less_than_the_open_valves_draw(mill_annexe: hl.Design) -> None:
    survey = mill_annexe.survey
    drawn_kw = mill_annexe.summary["source_heat_w"] / 1000.0
    small = hl.size(replace(survey, source=replace(survey.source, output_kw=0.95 * drawn_kw)))
    held_c = small.summary["held_flow_temp_c"]
    (caution,) = (one for one in small.verdict.cautions if one.check == "heat drawn with all valves open")
    assert (caution.calculated, caution.limit) == pytest.approx((drawn_kw, 0.95 * drawn_kw))
    sentence = (
        f"ith all valves open, {drawn_kw:.1f} kW would be drawn; the source output is {0.95 * drawn_kw:.1f} kW, so the "
        f"water would not reach 70.0 °C; it can hold {held_c:.1f} °C"
    )
    assert f"w{sentence}: lower the flow temperature" in caution.recommendation
    words = " ".join(str(small).split())
    assert f"W{sentence}. Heat drawn: {small.summary['source_heat_w']:.0f} W, " in words
    assert "(source output" not in words
    assert "(source output" in " ".join(str(mill_annexe).split())
    held = hl.simulate(small, flow_temp_c=held_c, thermostats=False)
    assert held.summary["source_heat_w"] == pytest.approx(950.0 * drawn_kw, rel=2e-3)
    assert mill_annexe.summary["held_flow_temp_c"] is None
    warm_c, warm_w = small.summary["warm_flow_temp_c"], small.summary["warm_source_heat_w"]
    assert f"all rooms are warm from {warm_c:.1f} °C, which draws {warm_w / 1000.0:.1f} kW" in caution.recommendation
    warm = hl.simulate(small, flow_temp_c=warm_c, thermostats=False)
    assert warm.rooms["coverage"].min() == pytest.approx(1.0, abs=2e-3)
    assert warm.summary["source_heat_w"] == pytest.approx(warm_w, rel=1e-3)
    assert mill_annexe.summary["warm_flow_temp_c"] is None
    load_kw = small.summary["building_load_w"] / 1000.0
    failing = hl.size(replace(survey, source=replace(survey.source, output_kw=0.9 * load_kw)))
    assert failing.verdict.headline == (
        f"Not ready for installation: source output, {survey.source.kind}: {0.9 * load_kw:.2f} kW, required at least "
        f"{load_kw:.2f} kW."
    )


def test_a_room_with_more_than_twice_its_heat_loss_is_a_caution(mill_annexe: hl.Design) -> None:
    (room,) = mill_annexe.survey.rooms
    mild = replace(room, heat_loss_w=1000.0, heat_loss_source="a schedule")
    found = hl.size(replace(mill_annexe.survey, rooms=(mild,)))
    (row,) = found.checks[found.checks["check"] == "output against heat loss"].to_dict("records")
    assert (row["location"], row["verdict"], row["limit"]) == (room.name, "caution", 2.0)
    assert row["calculated"] == pytest.approx(found.rooms["heat_to_rooms_w"][0] / 1000.0)
