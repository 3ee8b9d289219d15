"""The verdict: its words, and that every command prints the same one and ends with the same status."""

from __future__ import annotations

import time
from dataclasses import replace

import pandas as pd
import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult, Outcome
from heatloop.text.formatting import significant
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
    """Processor time, the least of three."""
    sized_s, verdict_s = [], []
    for _ in range(3):
        began = time.process_time()
        again = hl.size(harbour_loft.survey)
        assert len(again.tables) == len(again.descriptions())
        sized = time.process_time()
        design_verdict(again.system, again.rooms, again.checks)
        sized_s.append(sized - began)
        verdict_s.append(time.process_time() - sized)
    assert min(verdict_s) <= 0.1 * min(sized_s)


def test_a_source_that_holds_less_than_the_open_valves_draw(mill_annexe: hl.Design) -> None:
    survey = mill_annexe.survey
    drawn_kw = mill_annexe.summary["source_heat_w"] / 1000.0
    small = hl.size(replace(survey, source=replace(survey.source, output_kw=0.95 * drawn_kw)))
    held_c = small.summary["held_flow_temp_c"]
    (caution,) = (one for one in small.verdict.cautions if one.check == "heat drawn with all valves open")
    assert (caution.calculated, caution.limit) == pytest.approx((drawn_kw, 0.95 * drawn_kw))
    sentence = (
        f"ith all valves open, {significant(drawn_kw)} kW would be drawn; the source output is "
        f"{significant(0.95 * drawn_kw)} kW, so the water would not reach 70.0 °C; it can hold {held_c:.1f} °C"
    )
    assert f"w{sentence}: lower the flow temperature (all rooms are warm from" in caution.recommendation
    words = " ".join(str(small).split())
    assert f"W{sentence}. Heat drawn: {small.summary['source_heat_w']:.0f} W, " in words
    assert "(source output" not in words
    assert "(source output" in " ".join(str(mill_annexe).split())
    held = hl.simulate(small, flow_temp_c=held_c, thermostats=False)
    assert held.summary["source_heat_w"] == pytest.approx(950.0 * drawn_kw, rel=2e-3)
    assert mill_annexe.summary["held_flow_temp_c"] is None
    warm_c, warm_w = small.summary["warm_flow_temp_c"], small.summary["warm_source_heat_w"]
    assert (
        f"all rooms are warm from {warm_c:.1f} °C, which draws {significant(warm_w / 1000.0)} kW"
        in caution.recommendation
    )
    warm = hl.simulate(small, flow_temp_c=warm_c, thermostats=False)
    assert warm.rooms["coverage"].min() == pytest.approx(1.0, abs=2e-3)
    assert warm.summary["source_heat_w"] == pytest.approx(warm_w, rel=1e-3)
    assert mill_annexe.summary["warm_flow_temp_c"] is None
    load_kw = small.summary["source_required_w"] / 1000.0
    failing = hl.size(replace(survey, source=replace(survey.source, output_kw=0.9 * load_kw)))
    assert failing.verdict.headline == (
        f"Not ready for installation: source output, {survey.source.kind}: {0.9 * load_kw:.2f} kW, required at least "
        f"{load_kw:.2f} kW."
    )


def with_output(design: hl.Design, output_kw: float) -> hl.Design:
    return hl.size(replace(design.survey, source=replace(design.survey.source, output_kw=output_kw)))


def test_a_source_has_to_give_the_load_and_all_losses_outside_the_rooms(alder_lodge: hl.Design) -> None:
    figures = alder_lodge.summary
    lost_w = sum(figures[key] for key in ("back_loss_w", "pipe_loss_w", "trunk_loss_w", "downward_loss_w"))
    assert figures["source_required_w"] == pytest.approx(figures["building_load_w"] + lost_w, rel=1e-9)
    between = with_output(alder_lodge, (figures["building_load_w"] + 0.1 * lost_w) / 1000.0)
    (failed,) = between.verdict.fails
    assert (failed.check, failed.limit) == ("source output", pytest.approx(figures["source_required_w"] / 1000.0))
    lean = next(hl.size_many([between.survey])).unmet_checks.set_index("check").loc["source output"]
    assert (lean["verdict"], lean["limit"]) == ("fail", pytest.approx(failed.limit, rel=1e-5))
    load, lost = (significant(heat_w / 1000.0) for heat_w in (figures["building_load_w"], lost_w))
    assert f"required are {load} kW for the load of the building, and {lost} kW for the losses" in failed.recommendation
    assert "temperature at design conditions, if the source holds the flow temperature." in " ".join(
        str(between).split()
    )
    assert "if the source holds" not in str(alder_lodge)


@pytest.mark.parametrize(
    ("share", "outcome", "throttled", "opened"),
    [(0.9, "fail", "fail", "fail"), (1.002, "caution", "caution", "caution"), (1.05, "caution", "pass", "caution"),
     (1.3, "pass", "pass", "pass")],
)  # fmt: skip
def test_size_and_simulate_judge_a_source_alike(
    alder_lodge: hl.Design, share: float, outcome: str, throttled: str, opened: str
) -> None:
    """Share of the heat required: outcome of the design, of an operating point with throttled and with open valves."""
    design = with_output(alder_lodge, share * alder_lodge.summary["source_required_w"] / 1000.0)
    source = {one.check: one.verdict for one in (*design.verdict.fails, *design.verdict.cautions)}
    worst = "fail" if "fail" in source.values() else "caution" if source else "pass"
    assert worst == outcome
    for thermostats, expected in ((True, throttled), (False, opened)):
        point = hl.simulate(design, thermostats=thermostats)
        assert point.checks.set_index("check").loc["heat drawn from the source", "verdict"] == expected
        assert point.summary["source_required_w"] <= design.summary["source_required_w"] * 1.002
        assert ("more than the source output" in " ".join(str(point).split())) == (expected != "pass")


def test_the_advice_for_open_valves_does_not_contradict_its_figures(alder_lodge: hl.Design) -> None:
    required_kw = alder_lodge.summary["source_required_w"] / 1000.0
    warm_kw = with_output(alder_lodge, required_kw).summary["warm_source_heat_w"] / 1000.0
    assert required_kw < warm_kw < alder_lodge.summary["source_heat_w"] / 1000.0
    least = f"the source has to give {significant(required_kw)} kW"
    for output_kw, said in (
        (0.9 * required_kw, f"choose a larger source, or reduce the heat loss of the building or of the pipes: if no "
                            f"room receives more than it requires, {least}"),
        (0.5 * (required_kw + warm_kw), f"control all rooms by thermostatic valves, or fit less skirting in rooms with "
                                        f"a large margin; if no room receives more than it requires, {least}. A lower "
                                        "flow temperature is not enough with all valves open: all rooms are warm from"),
        (1.01 * warm_kw, "lower the flow temperature (all rooms are warm from"),
    ):  # fmt: skip
        design = with_output(alder_lodge, output_kw)
        (caution,) = (one for one in design.verdict.cautions if one.check == "heat drawn with all valves open")
        assert said in caution.recommendation
        held_c, warm_c = design.summary["held_flow_temp_c"], design.summary["warm_flow_temp_c"]
        assert ("lower the flow temperature" in caution.recommendation) == (held_c >= warm_c)


def test_a_room_with_more_than_twice_its_heat_loss_is_a_caution(mill_annexe: hl.Design) -> None:
    (room,) = mill_annexe.survey.rooms
    mild = replace(room, heat_loss_w=1000.0, heat_loss_source="a schedule")
    found = hl.size(replace(mill_annexe.survey, rooms=(mild,)))
    (row,) = found.checks[found.checks["check"] == "output against heat loss"].to_dict("records")
    assert (row["location"], row["verdict"], row["limit"]) == (room.name, "caution", 2.0)
    assert row["calculated"] == pytest.approx(found.rooms["heat_to_rooms_w"][0] / 1000.0)
