"""The lowest flow temperature by trying: a fresh size at every temperature, from cold to warm."""

from __future__ import annotations

from heatloop.findings.input_errors import InputError
from heatloop.survey.survey import SurveyData, at_flow_temp
from heatloop.workflows.size import size_valid


def warm_at(survey: SurveyData, flow_temp_c: float) -> bool:
    """Whether every heated room of a fresh size is warm at that temperature."""
    try:
        rooms = size_valid(at_flow_temp(survey, flow_temp_c)).rooms
    except (
        InputError,
        ArithmeticError,
    ):  # no flow gives its temperature drop, or none is found
        return False
    return bool(rooms[rooms["room"].isin(survey.heated_rooms)]["margin_w"].min() >= -0.01)


STEPS = (80, 16, 4, 1)
"""Steps of the scan in tenths of a kelvin."""


def scanned_c(survey: SurveyData, min_flow_temp_c: float, max_flow_temp_c: float) -> float | None:
    """The lowest tenth of a kelvin at which all rooms are warm, tried ever more finely; None where none is."""
    if warm_at(survey, min_flow_temp_c):
        return min_flow_temp_c
    cold, last = round(10.0 * min_flow_temp_c), round(10.0 * max_flow_temp_c)
    for steps in STEPS:
        tried = range(cold, last, steps)
        found = next((step for step in tried if warm_at(survey, min(step + steps, last) / 10.0)), None)
        if found is None:
            return None
        cold = found
    return (cold + 1) / 10.0


def is_scanned(survey: SurveyData, min_flow_temp_c: float, found_c: float) -> bool:
    """Whether the scan ends at that temperature: warm there and cold at all that it tries below, without those above,
    which a search that starts from nothing tries too."""
    cold, found = round(10.0 * min_flow_temp_c), round(10.0 * found_c)
    if found == cold:
        return warm_at(survey, min_flow_temp_c)
    tried = [cold]
    for steps in STEPS:
        tried += range(tried[-1] + steps, found, steps)
    return (
        tried[-1] == found - 1 and warm_at(survey, found / 10.0) and not any(warm_at(survey, t / 10.0) for t in tried)
    )
