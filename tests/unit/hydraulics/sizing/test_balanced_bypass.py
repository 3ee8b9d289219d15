"""Bypasses beside the loops of a trunk, with tees: at the calculated settings every loop has its sized flow."""

from __future__ import annotations

import dataclasses

import pytest

import heatloop as hl
from heatloop.hydraulics.analysis.water_content import contents
from heatloop.survey.water_system import Bypass


@pytest.mark.parametrize("bypasses", [1, 2])
def test_loops_have_their_flows_beside_bypasses(alder_lodge: hl.Design, bypasses: int) -> None:
    survey = alder_lodge.survey
    project = dataclasses.replace(survey.project, tees=True)
    kvs = (0.3, 0.15)[:bypasses]
    found = hl.size(
        dataclasses.replace(
            survey,
            project=project,
            bypasses=tuple(Bypass(f"b{i}", kv, "ground floor") for i, kv in enumerate(kvs)),
        )
    )
    sized = [loop.flow_kg_s for loop in found.system.sizing.loops]
    assert found.operation.loop_flow_kg_s == pytest.approx(sized, rel=1e-6)
    assert (found.operation.bypass_kg_s > 1e-3).all()


def test_water_stands_in_the_parts_that_the_survey_names(mill_annexe: hl.Design) -> None:
    rows = contents(mill_annexe.survey, mill_annexe.layout, mill_annexe.operation.network)
    assert [(row.part, row.loop, row.item) for row in rows] == [
        ("profile channels", "Annexe", "three-channel 175"),
        ("tails", "Annexe", "copper 15 lagged"),
        ("crossings", "Annexe", "copper 15 lagged"),
        ("source", "", "boiler"),
    ]
    tails = rows[1]
    assert tails.channel_length_m == pytest.approx(6.5)
    assert tails.water_content_l == pytest.approx(6.5 * 0.145267, rel=1e-5)
