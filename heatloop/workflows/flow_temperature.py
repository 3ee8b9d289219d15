"""Many designs of one survey: the lowest flow temperature that keeps its rooms warm, and one loop tried quickly.

Nothing here has a formula of its own: surveys are changed, designed again and compared.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.optimize import root_scalar

from heatloop.findings.input_errors import InputError, InputIssue, number_faults
from heatloop.layout.build import validated_survey
from heatloop.results.design import Design
from heatloop.survey.survey import Survey
from heatloop.workflows.size import size

GREATEST_FLOW_C = 90.0
"""Where the search ends for a source that states no greatest flow temperature."""

STEP_C = 0.1
"""The answer is rounded up to this, which no controller is set closer than."""

WARM_W = 0.01
"""A room that misses less than this is warm: sizing by loss ends on its very need."""


@dataclass(frozen=True, eq=False)
class LowestFlowTemperature:
    """The lowest flow temperature of a survey: `flow_temp_c`, the `room` with least to spare there, and the
    whole `design` at it."""

    flow_temp_c: float
    room: str
    design: Design


def at_flow_temp(survey: Survey, flow_temp_c: float) -> Survey:
    """The survey with another flow temperature at the source; a loop with its own gets no more than that."""
    loops = tuple(
        loop if loop.flow_temp_c is None else replace(loop, flow_temp_c=min(loop.flow_temp_c, flow_temp_c))
        for loop in survey.loops
    )
    return replace(survey, project=replace(survey.project, flow_temp_c=flow_temp_c), loops=loops)


def lowest_flow_temperature(survey: Survey | str | Path, min_flow_temp_c: float = 25.0) -> LowestFlowTemperature:
    """The lowest flow temperature, to a tenth of a kelvin, at which every heated room is warm: of a survey
    or of the survey in a file.

    Each temperature tried is a design of its own, sized as the survey says; so the flows of the answer are not
    those of today. The search runs from `min_flow_temp_c` (the answer where that is warm enough) to the greatest flow
    temperature of the source. Rooms that no loop heats are left out.

    Raises SurveyError where a room is short even at the greatest, or where the survey cannot be designed there.
    """
    call = "lowest_flow_temperature"
    survey = validated_survey(call, survey)
    most_c = survey.source.max_flow_temp_c or GREATEST_FLOW_C
    faults = number_faults(call, {"min_flow_temp_c": min_flow_temp_c})
    if not faults and not min_flow_temp_c < most_c:
        faults = [
            InputIssue(
                call,
                "min_flow_temp_c",
                f"{min_flow_temp_c:g}",
                f"below {most_c:g} degrees C, the greatest of the source",
            )
        ]
    if faults:
        raise InputError(faults)
    warmest = size(at_flow_temp(survey, most_c))
    room, spare_w = _least_to_spare(warmest)
    if spare_w < -WARM_W:
        raise InputError([_too_cold(survey, most_c, room, spare_w)])

    tried = {most_c: spare_w + WARM_W}

    def spare_at(flow_temp_c: float) -> float:
        if flow_temp_c not in tried:
            try:
                tried[flow_temp_c] = _least_to_spare(size(at_flow_temp(survey, flow_temp_c)))[1] + WARM_W
            except InputError:  # it could be designed at the greatest: here the water cannot give its drop
                tried[flow_temp_c] = -float(warmest.summary["heat_loss_w"])
        return tried[flow_temp_c]

    if spare_at(min_flow_temp_c) >= 0.0:
        lowest_c = min_flow_temp_c
    else:
        # sized by loss, what rooms have to spare is nothing or much too little: no slope to go by
        method = "bisect" if survey.project.size_by == "loss" else "brentq"
        found = root_scalar(spare_at, bracket=(min_flow_temp_c, most_c), method=method, xtol=STEP_C / 10.0)
        lowest_c = _step_above(found.root, most_c)
    design = size(at_flow_temp(survey, lowest_c))
    if _least_to_spare(design)[1] < -WARM_W:  # the root lay a hair below a step
        lowest_c = _step_above(lowest_c + STEP_C / 2.0, most_c)
        design = size(at_flow_temp(survey, lowest_c))
    return LowestFlowTemperature(lowest_c, _least_to_spare(design)[0], design)


def _step_above(temp_c: float, most_c: float) -> float:
    """The next whole step at or above a temperature, degC, but no more than `most_c`."""
    return min(round(float(np.ceil(temp_c / STEP_C - 1e-9)) * STEP_C, 6), most_c)


def _least_to_spare(design: Design) -> tuple[str, float]:
    """Of the heated rooms the one with least to spare, and its watts."""
    rooms = design.rooms
    heated = rooms[rooms["room"].isin(design.survey.heated_rooms)]
    row = heated.sort_values("margin_w", kind="stable").iloc[0]
    return str(row["room"]), float(row["margin_w"])


def _too_cold(survey: Survey, most_c: float, room: str, spare_w: float) -> InputIssue:
    return survey.fault(
        "source, max_flow_temp_c",
        f"{most_c:g} degC, at which {room} is {-spare_w:.0f} W short",
        "a warmer source, more skirting in that room or less loss from it",
    )
