"""A whole number given as an integer in Python is the number that a survey file gives: no result differs."""

from dataclasses import fields, is_dataclass, replace

import pandas as pd
import pytest

import heatloop as hl
from tests.helpers.paths import DATA
from tests.helpers.random_systems import random_survey


def with_integers(value):
    """The same value with every float that is a whole number as an integer."""
    if type(value) is float and value.is_integer():
        return int(value)
    if is_dataclass(value):
        return replace(value, **{f.name: with_integers(getattr(value, f.name)) for f in fields(value) if f.init})
    if type(value) is tuple:
        return tuple(with_integers(item) for item in value)
    if isinstance(value, dict):
        return {key: with_integers(item) for key, item in value.items()}
    return value


def assert_same_tables(found, expected):
    for name, table in expected.tables.items():
        pd.testing.assert_frame_equal(found.tables[name], table, rtol=1e-9, atol=1e-9, check_dtype=False, obj=name)


@pytest.mark.parametrize("survey", [*DATA.glob("*/survey.toml"), 7], ids=str)
def test_a_survey_of_integers_gives_the_same_design(survey):
    survey = random_survey(survey) if isinstance(survey, int) else hl.read_survey(survey)
    assert_same_tables(hl.size(with_integers(survey)), hl.size(survey))


@pytest.mark.parametrize(
    "asked",
    [
        lambda design, number: hl.simulate(design, flow_temp_c=number(45), outdoor_c=number(5), room_c=number(18)),
        lambda design, number: hl.simulate(design, pump_head_kpa=number(20)),
        lambda design, number: design.commissioning(outdoor_c=number(5), flow_temp_c=number(45)),
        lambda design, number: design.resize(flow_temp_c=number(45), outdoor_c=number(-5), delta_t_k=number(6)),
        lambda design, number: hl.lowest_flow_temperature(design.survey, min_flow_temp_c=number(40)).design,
        lambda design, number: hl.weather_curve(design, outdoor_c=[number(-3), number(5)]),
    ],
)
def test_conditions_as_integers_give_the_same_result(mill_annexe, asked):
    assert_same_tables(asked(mill_annexe, int), asked(mill_annexe, float))
