"""The states of the interactive plan: which there are, and that each is the solver's own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

import heatloop as hl
from heatloop.survey.loops import RouteEstimate
from heatloop.workflows.publishing import plan_states as module
from heatloop.workflows.publishing.plan_states import flow_temps_c, outdoor_temps_c, plan_contents, plan_states
from tests.helpers.many_rooms import house_of_twenty_rooms

SAME = 1e-7
"""Relative; both are solved to convergence, from other starts."""

HOUSES = pytest.mark.parametrize("house", ["mill_annexe", "alder_draft", "harbour_loft"])


def _solved(design: hl.Design, flow_temp_c: float, outdoor_c: float) -> hl.OperatingPoint:
    return design.simulate(
        flow_temp_c=flow_temp_c,
        outdoor_c=outdoor_c,
        settings="calculated",
        thermostats=False,
        pump_head_kpa=design.summary["pump_head_kpa"],
    )


@HOUSES
def test_states_off_the_axes_are_what_a_simulation_of_them_gives(house: str, request: pytest.FixtureRequest) -> None:
    design = request.getfixturevalue(house)
    states = plan_states(design)
    last, mildest = len(states.flow_temps_c) - 1, len(states.outdoor_c) - 1
    for flow, outdoor in ((0, 0), (0, mildest), (last, 0), (last, mildest), (last // 2, mildest // 2)):
        found = _solved(design, states.flow_temps_c[flow], states.outdoor_c[outdoor])
        assert float(found.summary["source_heat_w"]) == pytest.approx(
            states.points[flow].summary["source_heat_w"], rel=SAME
        )
        for room, row in zip(states.rooms(flow, outdoor), found.rooms.to_dict("records"), strict=True):
            assert room.room == row["room"]
            assert room.heat_to_rooms_w == pytest.approx(row["heat_to_rooms_w"], rel=SAME)
            assert room.heat_loss_w == pytest.approx(row["heat_loss_w"], rel=SAME)
            assert room.margin_w == pytest.approx(row["margin_w"], rel=SAME, abs=SAME * room.heat_loss_w)
            assert room.coverage == pytest.approx(row["coverage"], rel=SAME)


@HOUSES
def test_the_state_at_design_conditions_is_the_design(house: str, request: pytest.FixtureRequest) -> None:
    design = request.getfixturevalue(house)
    states = plan_states(design)
    project = design.survey.project
    assert states.flow_temps_c[states.design_flow] == project.flow_temp_c
    assert states.outdoor_c[states.design_outdoor] == project.outdoor_c
    point = states.points[states.design_flow]
    assert point.summary["source_heat_w"] == pytest.approx(design.summary["source_heat_w"], rel=SAME)
    for room, row in zip(
        states.rooms(states.design_flow, states.design_outdoor), design.rooms.to_dict("records"), strict=True
    ):
        assert room.margin_w == pytest.approx(row["margin_w"], rel=SAME, abs=SAME * room.heat_loss_w)
    for name in ("inlet_temp_c", "outlet_temp_c"):
        assert point.elements[name].tolist() == pytest.approx(design.elements[name].tolist(), rel=SAME)


@HOUSES
def test_axes_rise_in_steps_to_the_limit_of_the_source(house: str, request: pytest.FixtureRequest) -> None:
    survey = request.getfixturevalue(house).survey
    flows, outdoors = flow_temps_c(survey), outdoor_temps_c(survey)
    heated = [survey.room(name).indoor_c for name in survey.heated_rooms]
    assert list(flows) == sorted(set(flows))
    assert list(outdoors) == sorted(set(outdoors))
    assert flows[-1] == survey.source.max_flow_temp_c
    assert max(heated) < flows[0] - 9.0
    assert 7 <= len(flows) <= 14
    assert len(outdoors) == 8
    assert outdoors[-1] < min(heated)


def test_where_no_limit_is_stated_the_axis_ends_a_step_above_the_design() -> None:
    survey = house_of_twenty_rooms()
    assert survey.source.max_flow_temp_c is None
    assert flow_temps_c(survey)[-1] == survey.project.flow_temp_c + 5.0
    cool = replace(survey, project=replace(survey.project, flow_temp_c=27.0))
    assert flow_temps_c(cool)[0] == 27.0, "a design nearer to its rooms than the axis begins"
    mild = replace(survey, project=replace(survey.project, outdoor_c=14.0))
    assert list(outdoor_temps_c(mild)) == [8.0, 11.0, 14.0, 17.0]


def test_a_flow_temperature_without_a_solution_is_left_out(
    mill_annexe: hl.Design, monkeypatch: pytest.MonkeyPatch
) -> None:
    simulate, without_c = module.simulate, flow_temps_c(mill_annexe.survey)[0]

    def stubborn(design: hl.Design, **conditions: Any) -> hl.OperatingPoint:
        if conditions["flow_temp_c"] == without_c:
            raise ArithmeticError("no solution")
        return simulate(design, **conditions)

    monkeypatch.setattr(module, "simulate", stubborn)
    states = plan_states(mill_annexe)
    assert states.unsolved_c == (without_c,)
    assert states.flow_temps_c == flow_temps_c(mill_annexe.survey)[1:]
    assert states.points[states.design_flow].summary["flow_temp_c"] == mill_annexe.survey.project.flow_temp_c
    without_c = mill_annexe.survey.project.flow_temp_c
    with pytest.raises(ArithmeticError, match="no solution"):
        plan_states(mill_annexe)


def test_pieces_are_those_of_the_parts_list_and_without_a_plan_there_is_none(mill_annexe: hl.Design) -> None:
    contents = plan_contents(mill_annexe)
    assert contents is not None
    assert [step.label for step in contents.steps] == mill_annexe.parts().pieces["label"].tolist()
    survey, (room,), (loop,) = mill_annexe.survey, mill_annexe.survey.rooms, mill_annexe.survey.loops
    estimated = replace(
        survey,
        rooms=(replace(room, walls=(), estimated_wall_m=12.0, heat_loss_w=1500.0),),
        loops=(replace(loop, arms=((RouteEstimate(room.name, 12.0),),)),),
    )
    assert plan_contents(hl.size(estimated)) is None
