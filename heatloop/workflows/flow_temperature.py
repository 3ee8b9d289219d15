"""The lowest flow temperature at which all rooms reach their temperature.

The survey is changed and sized again at each temperature; no other formula is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from heatloop.findings.input_errors import InputError, InputIssue, number_faults
from heatloop.layout.build import validated_survey
from heatloop.survey.editing import Survey
from heatloop.survey.survey import at_flow_temp
from heatloop.workflows.design import Design
from heatloop.workflows.size import size_valid

GREATEST_FLOW_C = 90.0
"""Upper end of the search for a source without a stated maximum flow temperature."""

STEP_C = 0.1
"""The result is rounded up to this resolution of ordinary controllers."""

WARM_W = 0.01
"""A room with a smaller shortage counts as warm: sizing by heat loss ends exactly at the heat loss."""


@dataclass(frozen=True, eq=False)
class LowestFlowTemperature:
    """The lowest flow temperature of a survey, from :func:`heatloop.lowest_flow_temperature`.

    Attributes
    ----------
    flow_temp_c : float
        The temperature at the source in °C.
    room : str
        The room with the smallest margin there.
    design : Design
        The design at that temperature.

    Examples
    --------
    >>> import heatloop as hl
    >>> lowest = hl.lowest_flow_temperature("data/mill-annexe/survey.toml")
    >>> lowest.design.survey.project.flow_temp_c == lowest.flow_temp_c
    True
    """

    flow_temp_c: float
    room: str
    design: Design


def lowest_flow_temperature(survey: Survey | str | Path, min_flow_temp_c: float = 25.0) -> LowestFlowTemperature:
    """The lowest flow temperature at which every heated room reaches its temperature.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path
        A survey, or the path of a survey file (TOML or .xlsx).
    min_flow_temp_c : float, default 25.0
        Lower limit of the search in °C, and the result if it is warm enough. The upper limit is the maximum
        flow temperature of the source, or 90 °C where the survey states none.

    Returns
    -------
    LowestFlowTemperature
        The temperature to 0.1 K, the room that determines it, and the design there.

    Raises
    ------
    InputError
        If a room is short of heat even at the highest temperature, or the survey cannot be sized there.

    Notes
    -----
    Each trial temperature is a separate design with its own flows. The flows of the result therefore differ from those
    at the flow temperature of the survey. Rooms without a loop are left out.

    Examples
    --------
    >>> import heatloop as hl
    >>> lowest = hl.lowest_flow_temperature("data/mill-annexe/survey.toml")
    >>> lowest.flow_temp_c, lowest.room
    (68.3, 'Annexe')
    """
    call = "lowest_flow_temperature"
    survey = validated_survey(call, survey)
    max_flow_temp_c = survey.source.max_flow_temp_c or GREATEST_FLOW_C
    faults = number_faults(call, {"min_flow_temp_c": min_flow_temp_c})
    if not faults and not min_flow_temp_c < max_flow_temp_c:
        faults = [
            InputIssue(
                call,
                "min_flow_temp_c",
                f"{min_flow_temp_c:g}",
                f"below {max_flow_temp_c:g} °C, the maximum of the source",
            )
        ]
    if faults:
        raise InputError(faults)
    warmest = _at(survey, max_flow_temp_c)
    room, spare_w = _min_to_spare(warmest)
    if spare_w < -WARM_W:
        raise InputError([_too_cold(survey, max_flow_temp_c, room, spare_w)])

    tried = {max_flow_temp_c: spare_w + WARM_W}

    def spare_at(flow_temp_c: float) -> float:
        if flow_temp_c not in tried:
            try:
                tried[flow_temp_c] = _min_to_spare(_at(survey, flow_temp_c))[1] + WARM_W
            except InputError:  # the maximum could be sized: here the water cannot give its temperature drop
                tried[flow_temp_c] = -float(warmest.summary["heat_loss_w"])
        return tried[flow_temp_c]

    if spare_at(min_flow_temp_c) >= 0.0:
        lowest_c = min_flow_temp_c
    else:
        # sized by heat loss, margins are zero or strongly negative: no slope to follow
        method = "bisect" if survey.project.size_by == "loss" else "brentq"
        from scipy.optimize import root_scalar  # here, because it is slow to import and not needed to size

        root = root_scalar(spare_at, bracket=(min_flow_temp_c, max_flow_temp_c), method=method, xtol=STEP_C / 10.0)
        lowest_c = _step_above(root.root, max_flow_temp_c)
    design = _at(survey, lowest_c)
    if _min_to_spare(design)[1] < -WARM_W:  # the root was just below a step
        lowest_c = _step_above(lowest_c + STEP_C / 2.0, max_flow_temp_c)
        design = _at(survey, lowest_c)
    return LowestFlowTemperature(lowest_c, _min_to_spare(design)[0], design)


def _at(survey: Survey, flow_temp_c: float) -> Design:
    """The design at another flow temperature."""
    return Design.of(size_valid(at_flow_temp(survey, flow_temp_c)))


def _step_above(temp_c: float, max_flow_temp_c: float) -> float:
    """The next whole step at or above a temperature, °C, but no more than `max_flow_temp_c`."""
    return min(round(float(np.ceil(temp_c / STEP_C - 1e-9)) * STEP_C, 6), max_flow_temp_c)


def _min_to_spare(design: Design) -> tuple[str, float]:
    """The heated room with the smallest margin, and the margin in W."""
    rooms = design.rooms
    heated = rooms[rooms["room"].isin(design.survey.heated_rooms)]
    row = heated.sort_values("margin_w", kind="stable").iloc[0]
    return str(row["room"]), float(row["margin_w"])


def _too_cold(survey: Survey, max_flow_temp_c: float, room: str, spare_w: float) -> InputIssue:
    return survey.fault(
        "source, max_flow_temp_c",
        f"{max_flow_temp_c:g} °C, at which {room} is {-spare_w:.0f} W short",
        "a warmer source, more skirting in that room or a smaller heat loss",
    )
