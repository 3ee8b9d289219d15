"""A system prepared from another one: constants are taken over where what they depend on is the same."""

from __future__ import annotations

import dataclasses

import pytest

import heatloop as hl
from heatloop.hydraulics.sizing import flows
from heatloop.hydraulics.sizing.size_system import _loop_names, loop_duties, prepare_system, size_system
from heatloop.hydraulics.sizing.trial_solution import effective_length_m
from tests.helpers.random_systems import random_survey
from tests.helpers.survey_parts import with_project


def test_constants_are_taken_over_from_a_system_of_the_same_ratings(mill_annexe: hl.Design) -> None:
    before = mill_annexe.system.prepared
    project = dataclasses.replace(before.survey.project, flow_temp_c=65.0)
    warmer = prepare_system(dataclasses.replace(before.survey, project=project), before)
    assert warmer.constants is before.constants
    assert warmer.survey.project.flow_temp_c == 65.0


def test_all_that_is_prepared_is_taken_over_where_only_the_duty_differs(mill_annexe: hl.Design) -> None:
    """Flow temperature, drop and the way of sizing change neither layout nor losses; the weather and a loop do."""
    before = mill_annexe.system.prepared
    survey = before.survey
    same = prepare_system(with_project(survey, flow_temp_c=65.0, delta_t_k=4.0, size_by="loss"), before)
    assert same.layout is before.layout
    assert same.network is before.network
    (loop,) = survey.loops
    cooler = dataclasses.replace(loop, flow_temp_c=40.0)
    for changed in (with_project(survey, outdoor_c=-9.0), dataclasses.replace(survey, loops=(cooler,))):
        other = prepare_system(changed, before)
        assert other.layout is not before.layout
        assert other.paths[0].loop is changed.loops[0]
    assert prepare_system(with_project(survey, outdoor_c=-9.0), before).room_losses != before.room_losses


def test_constants_are_found_anew_where_the_film_or_a_rating_differs(mill_annexe: hl.Design) -> None:
    before = mill_annexe.system.prepared
    survey = before.survey
    project = dataclasses.replace(survey.project, water_film=not survey.project.water_film)
    (profile,) = survey.catalogue.profiles
    stronger = dataclasses.replace(profile, rating=dataclasses.replace(profile.rating, output_w_m=250.0))
    for changed in (
        dataclasses.replace(survey, project=project),
        dataclasses.replace(survey, catalogue=dataclasses.replace(survey.catalogue, profiles=(stronger,))),
    ):
        found = prepare_system(changed, before)
        fresh = prepare_system(changed)
        assert found.constants == fresh.constants
        assert found.constants != before.constants


def test_flows_of_a_system_of_the_same_loops_are_where_sizing_begins(
    alder_lodge: hl.Design, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = alder_lodge.system
    project = dataclasses.replace(before.survey.project, flow_temp_c=51.0)
    prepared = prepare_system(dataclasses.replace(before.survey, project=project), before.prepared)
    fresh = size_system(prepared)
    first = flows._first_flows
    begun: list[int] = []
    monkeypatch.setattr(flows, "_first_flows", lambda *args: begun.append(1) or first(*args))
    found = size_system(prepared, before)
    assert not begun
    assert found.state.loop_flow_kg_s == pytest.approx(fresh.state.loop_flow_kg_s, rel=1e-6)
    renamed = dataclasses.replace(before.survey.loops[0], name="Another")
    changed = dataclasses.replace(prepared.survey, loops=(renamed, *before.survey.loops[1:]))
    other = size_system(prepare_system(changed, before.prepared), before)
    assert begun, "loops of other names are sized from nothing"
    assert other.state.loop_flow_kg_s == pytest.approx(fresh.state.loop_flow_kg_s, rel=1e-6)
    assert _loop_names(prepared) == [loop.name for loop in before.survey.loops]


@pytest.mark.parametrize("share", [1.0, 0.02])
def test_by_loss_each_metre_owes_its_part_of_what_the_room_loses(mill_annexe: hl.Design, share: float) -> None:
    """Also of rooms that have less than a metre of skirting."""
    prepared = mill_annexe.system.prepared
    survey = dataclasses.replace(prepared.survey, project=dataclasses.replace(prepared.survey.project, size_by="loss"))
    paths = tuple(
        dataclasses.replace(
            path,
            arms=tuple(
                dataclasses.replace(
                    arm, cells=tuple(dataclasses.replace(cell, length_m=share * cell.length_m) for cell in arm.cells)
                )
                for arm in path.arms
            ),
        )
        for path in prepared.paths
    )
    owed_w: dict[str, float] = {}
    for duty, path in zip(loop_duties(survey, prepared.room_losses, paths), paths, strict=True):
        assert duty.required_w_m is not None
        for room, metres in effective_length_m(path.arms).items():
            owed_w[room] = owed_w.get(room, 0.0) + duty.required_w_m[room] * metres
    losses = {loss.room: loss.total_w for loss in prepared.room_losses}
    assert owed_w == pytest.approx({room: losses[room] for room in owed_w})
    assert owed_w


def test_drops_are_met_where_the_residual_of_the_heat_exceeds_their_tolerance() -> None:
    """Hot water in loops of small drops: the residual of the heat is above the tolerance of a drop at any flow."""
    survey = with_project(random_survey(5), size_by="drop", flow_temp_c=90.0, delta_t_k=3.1)
    design = hl.size(survey)
    assert list(design.loops["temperature_drop_k"]) == pytest.approx([3.1] * len(survey.loops), abs=2e-8)
    assert design.summary["residual_energy"] <= 1e-9
