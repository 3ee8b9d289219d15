"""Which vessel is taken, and by which rule its expansion is found."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.handover.commissioning.pressures import COMMON_SIZES_L, pressures
from heatloop.physics.pressurisation import expansion_by_density, expansion_en_12828
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import WaterSystem

WATER = plain_water()


def test_common_sizes_are_those_of_the_trade():
    assert COMMON_SIZES_L == (8, 12, 18, 25, 35, 50, 80, 100, 140, 200, 250, 300, 400, 500, 600)


@pytest.mark.parametrize(
    ("max_temp_c", "by_table"), [(29.9, False), (30.0, True), (30.1, True)], ids=["below", "at", "above"]
)
def test_the_rule_of_the_standard_begins_at_30_degrees(mill_annexe: hl.Design, max_temp_c: float, by_table: bool):
    survey = replace(mill_annexe.survey, system=WaterSystem(expansion="EN 12828", max_temp_c=max_temp_c))
    found = pressures(survey, mill_annexe.system.layout, 100.0, 28.0, WATER)
    density = expansion_by_density(WATER, survey.system.fill_c, max_temp_c)
    assert found.expansion == pytest.approx(expansion_en_12828(max_temp_c) if by_table else density, rel=1e-12)


@pytest.mark.parametrize("litres", [60.0, 600.0])
def test_the_vessel_is_the_next_common_size_above_the_least(mill_annexe: hl.Design, litres: float):
    survey = replace(mill_annexe.survey, system=WaterSystem())
    found = pressures(survey, mill_annexe.system.layout, litres, 70.0, WATER)
    below = [one for one in COMMON_SIZES_L if one < found.vessel_l]
    assert found.vessel_l in COMMON_SIZES_L
    assert max(below, default=0.0) < found.min_vessel_l <= found.vessel_l
