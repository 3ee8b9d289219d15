"""Checks of frost protection: pipes outdoors, through unheated spaces and along cold trunks.

Standing water is assumed to take the temperature of its surroundings at design conditions; nights can be colder.
"""

from __future__ import annotations

from collections.abc import Iterator

from heatloop.findings.limits import CheckResult, Limit, check_at_most
from heatloop.hydraulics.from_survey import water_freezes_at_c
from heatloop.survey.building import UnheatedSpace
from heatloop.survey.survey import SurveyData

COLD_C = 5.0
"""Trunks in warmer surroundings are not checked, °C: where frost protection starts by common practice."""

FREEZING_CURVE = "freezing curve of Melinder (IIR 2010) in CoolProp; the data sheet of the antifreeze takes precedence"

FROST = Limit(
    "freezing temperature of the water", "degC", FREEZING_CURVE,
    "add antifreeze, or fit a frost valve that drains the pipes or a heat exchanger between these pipes and the loops",
    "caution",
)  # fmt: skip


def frost_checks(survey: SurveyData) -> Iterator[CheckResult]:
    """One check for each place in the survey where heating pipes are exposed to cold."""
    places = list(_cold_places(survey))
    if not places:
        return
    freezing_c = water_freezes_at_c(survey)
    for place, coldest_c in places:
        yield check_at_most(FROST, place, freezing_c, coldest_c)


def _cold_places(survey: SurveyData) -> Iterator[tuple[str, float]]:
    if survey.source.outdoor_pipes:
        yield f"{survey.source.kind}, pipes outdoors", survey.project.outdoor_c
    for space in survey.spaces:
        if space.heating_pipes:
            yield f"pipes through {space.name}", _coldest_c(survey, space)
    for trunk in survey.trunks:
        if trunk.around_c is not None and trunk.around_c < COLD_C:
            yield f"trunk {trunk.name}", trunk.around_c


def _coldest_c(survey: SurveyData, space: UnheatedSpace) -> float:
    """Temperature of an unheated space at design conditions, from its temperature factor and the coolest room."""
    if space.temp_c is not None:
        return space.temp_c
    coolest_c = min(room.indoor_c for room in survey.rooms)
    return coolest_c - (space.temperature_factor or 0.0) * (coolest_c - survey.project.outdoor_c)
