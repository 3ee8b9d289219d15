"""Checks of an operating point: the limits that apply at any conditions. Readiness is a matter of the design alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from typing import Any

import pandas as pd

from heatloop.findings.limits import TOUCH, TOUCH_C, WORST, CheckResult, check_at_least, check_at_most
from heatloop.results.checks.design_checks import CHECKS, RESIDUALS, loop_checks
from heatloop.results.checks.heat_checks import (
    ROOM_WARM,
    floor_section_checks,
    hottest_surfaces_c,
)
from heatloop.results.checks.limits import (
    MAX_RESIDUAL,
    PUMP_RANGE,
    QUIET,
    RESIDUAL,
    SOURCE_FLOW,
    SOURCE_OUTPUT,
)
from heatloop.results.checks.remedies import source_required_words
from heatloop.results.tables.operating_point import SATISFIED
from heatloop.survey.survey import SurveyData
from heatloop.text.table_set import table_frame

SCOPE = (
    "heat to rooms",
    "water velocity and pressure gradient",
    "pressure drop of valves",
    "surface temperatures",
    "heat source with its pump",
    "numerical accuracy",
)
"""What is checked at conditions other than those of the design."""

SOURCE_HERE = replace(SOURCE_OUTPUT, check="heat drawn from the source", source="output of the source in the survey")
"""Fails where the source cannot give what the building requires at these conditions."""

SURPLUS_HERE = replace(
    SOURCE_HERE,
    remedy="the source cannot hold this flow temperature: lower it, or control all rooms by thermostatic valves",
    miss="caution",
)
"""The source could give what the building requires, but rooms receive more than they require."""

WARM_HERE = replace(
    ROOM_WARM,
    source="heat loss at these conditions",
    remedy="compare settings, flow temperature, pump and isolated loops with those of the design",
)


def operating_checks(survey: SurveyData, frames: Mapping[str, pd.DataFrame], facts: Mapping[str, Any]) -> pd.DataFrame:
    """The checks of an operating point from its tables and summary, in the order of `SCOPE`, the worst first."""
    rows = [
        *_room_checks(survey, frames["rooms"]),
        *loop_checks(frames["loops"], frames["elements"]),
        *_valve_checks(survey, frames["valves"]),
        *_surface_checks(survey, frames),
        *_source_checks(survey, facts),
        *(check_at_most(RESIDUAL, name, facts[f"residual_{name}"], MAX_RESIDUAL) for name in RESIDUALS),
    ]
    return table_frame(CHECKS, map(asdict, sorted(rows, key=lambda row: -WORST[row.verdict])))


def _room_checks(survey: SurveyData, rooms: pd.DataFrame) -> Iterator[CheckResult]:
    """Heat to every heated room that loses heat, within the accuracy of a thermostatic valve."""
    for row in rooms.to_dict("records"):
        if row["room"] in survey.heated_rooms and row["heat_loss_w"] > 0:
            yield check_at_least(WARM_HERE, row["room"], row["coverage"], SATISFIED)


def _valve_checks(survey: SurveyData, valves: pd.DataFrame) -> Iterator[CheckResult]:
    for row in valves.to_dict("records"):
        maximum_kpa = survey.catalogue.valve(row["valve"]).max_dp_kpa
        if maximum_kpa is not None and row["flow_l_h"] > 0.0:  # a shut valve makes no noise
            arm = f", arm {row['arm']}" if row["arm"] else ""
            yield check_at_most(
                QUIET, f"{row['loop']}, {row['side']} valve{arm}", row["pressure_drop_kpa"], maximum_kpa
            )


def _surface_checks(survey: SurveyData, frames: Mapping[str, pd.DataFrame]) -> Iterator[CheckResult]:
    hottest_c = hottest_surfaces_c(frames["temperature_profile"], frames["elements"])
    for room in survey.rooms:
        if room.vulnerable and room.name in hottest_c.index:
            yield check_at_most(TOUCH, room.name, hottest_c[room.name], TOUCH_C)
    yield from floor_section_checks(survey, frames["temperature_profile"], frames["elements"])


def _source_checks(survey: SurveyData, facts: Mapping[str, Any]) -> Iterator[CheckResult]:
    source = survey.source
    if source.output_kw is not None:
        required_kw = facts["source_required_w"] / 1000.0
        limit = SOURCE_HERE if required_kw > source.output_kw else SURPLUS_HERE
        limit = replace(limit, remedy=f"{limit.remedy}; {source_required_words(required_kw)}")
        yield check_at_most(limit, source.kind, facts["source_heat_w"] / 1000.0, source.output_kw)
    if source.min_flow_l_h is not None:
        yield check_at_least(SOURCE_FLOW, source.kind, facts["source_flow_l_h"], source.min_flow_l_h)
    if source.pump is not None:
        yield check_at_most(PUMP_RANGE, "pump", facts["source_flow_l_h"], source.pump.flow_m3_h[-1] * 1000.0)
