"""The lowest flow temperature at which all rooms reach their temperature.

Either the survey is changed and sized again at each temperature, or the valves of a design are kept; no other formula
is used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, number_faults, quoted_value
from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.flow_temperatures import open_system_at
from heatloop.hydraulics.analysis.room_output import net_room_heat_w
from heatloop.hydraulics.sizing.flows import EXCESS_POWER
from heatloop.hydraulics.sizing.searched_flows import MIN_DROP_BY_LOSS_K
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.layout.build import validated_survey
from heatloop.results.decisions.lowest_flow import KEPT, MARGINS, RESIZED, LowestFlowResult
from heatloop.results.design import DesignResult
from heatloop.survey.editing import Survey
from heatloop.survey.entry import as_survey
from heatloop.survey.survey import SurveyData, at_flow_temp
from heatloop.text.table_set import table_frame
from heatloop.workflows.design import Design
from heatloop.workflows.energy.weather_curve import max_flow_temp_c, required_by_rooms_c
from heatloop.workflows.size import design_of, sized_system

STEP_C = 0.1
"""The result is rounded up to this resolution of ordinary controllers."""

ESTIMATE_K = 0.02
"""Accuracy of the estimate from which the lowest step is searched."""

MAX_TRIES, MAX_SECANTS = 40, 8
"""Maximum number of trial temperatures of the estimate, and of those that follow secants."""

WARM_W = 0.01
"""A room with a smaller shortage counts as warm: sizing by heat loss ends exactly at the heat loss."""


@dataclass(frozen=True, eq=False, repr=False)
class LowestFlowTemperature(LowestFlowResult):
    """The lowest flow temperature of a survey, from :func:`heatloop.lowest_flow_temperature`.

    Attributes
    ----------
    flow_temp_c : float
        The temperature at the source in °C.
    room : str
        The room with the smallest margin there.
    margins : pandas.DataFrame
        Heat loss, heat and margin of each heated room there.
    presettings : str
        "resized" or "kept", as for :func:`heatloop.lowest_flow_temperature`.
    design : Design
        The design at that temperature; with kept presettings, the design whose valves are kept.
    summary : dict
        Key figures by name, each with its unit in the name.

    Examples
    --------
    >>> import heatloop as hl
    >>> lowest = hl.lowest_flow_temperature("data/mill-annexe/survey.toml")
    >>> lowest.design.survey.project.flow_temp_c == lowest.flow_temp_c
    True
    """

    design: Design


def lowest_flow_temperature(
    survey: DesignResult | Survey | str | Path, min_flow_temp_c: float = 25.0, presettings: str = RESIZED
) -> LowestFlowTemperature:
    """The lowest flow temperature at which every heated room reaches its temperature.

    Parameters
    ----------
    survey : Design, Survey, str or pathlib.Path
        A design, a survey, or the path of a survey file (TOML or .xlsx).
    min_flow_temp_c : float, default 25.0
        Lower limit of the search in °C, and the result if it is warm enough. The upper limit is the maximum
        flow temperature of the source, or 90 °C where the survey states none.
    presettings : {"resized", "kept"}, default "resized"
        "resized": each flow temperature that is tried is a separate design with its own flows and valve settings.
        "kept": the valves stay at their nearest settings in the design, thermostatic valves open and the pump as
        commissioned; the flows are those that result.

    Returns
    -------
    LowestFlowTemperature
        The temperature to 0.1 K, the room that determines it, the margins of all rooms, and the design.

    Raises
    ------
    InputError
        If an argument is wrong, a room is short of heat even at the highest temperature, or the survey cannot be sized.
    ArithmeticError
        With kept presettings, if the equations of the system have no solution.

    Notes
    -----
    With resized presettings the flows of the result differ from those at the flow temperature of the survey. Kept
    presettings are for a system that is installed. Rooms without a loop are left out.

    Examples
    --------
    >>> import heatloop as hl
    >>> lowest = hl.lowest_flow_temperature("data/mill-annexe/survey.toml")
    >>> lowest.flow_temp_c, lowest.room
    (68.3, 'Annexe')
    >>> hl.lowest_flow_temperature("data/mill-annexe/survey.toml", presettings="kept").flow_temp_c
    67.0
    """
    call = "lowest_flow_temperature"
    given = survey if isinstance(survey, DesignResult) else None
    held = as_survey(given.survey) if given is not None else validated_survey(call, survey)
    _check_arguments(call, held, min_flow_temp_c, presettings)
    if presettings == KEPT:
        return _kept(Design.of(given if given is not None else design_of(sized_system(held))), min_flow_temp_c)
    return _resized(held, min_flow_temp_c)


LEAST_C = 0.1
"""The lowest flow temperature that a survey can state."""


def _check_arguments(call: str, survey: Survey, min_flow_temp_c: float, presettings: str) -> None:
    """Raise InputError with every fault of the arguments."""
    faults = number_faults(call, {"min_flow_temp_c": min_flow_temp_c})
    highest_c = max_flow_temp_c(survey)
    if not faults and not LEAST_C <= min_flow_temp_c < highest_c:
        low = min_flow_temp_c < LEAST_C
        required = f"at least {LEAST_C:g} °C" if low else f"below {highest_c:g} °C, the maximum of the source"
        faults = [InputIssue(call, "min_flow_temp_c", f"{min_flow_temp_c:g}", required)]
    if presettings not in (RESIZED, KEPT):
        faults.append(InputIssue(call, "presettings", quoted_value(presettings), f'"{RESIZED}" or "{KEPT}"'))
    if faults:
        raise InputError(faults)


def _kept(design: Design, min_flow_temp_c: float) -> LowestFlowTemperature:
    """The lowest flow temperature with the valves of a design as they are set."""
    system = design.system
    losses_w = {loss.room: loss.total_w for loss in _heated(system)}
    highest_c = max_flow_temp_c(system.survey)
    rooms_c = required_by_rooms_c(system, {room: np.array([loss_w - WARM_W]) for room, loss_w in losses_w.items()})
    required_c = max((float(temps_c[0]) for temps_c in rooms_c.values() if temps_c[0] > 0.0), default=min_flow_temp_c)
    lowest_c = highest_c
    if required_c < highest_c:
        lowest_c = max(min(math.ceil(round(required_c / STEP_C, 6)) * STEP_C, highest_c), min_flow_temp_c)
    found = open_system_at(system, np.array([lowest_c]))
    heat_w = dict(zip(found.rooms, found.net_w[:, 0], strict=True))
    if np.isinf(required_c):
        short = min(losses_w, key=lambda room: heat_w[room] - losses_w[room])
        raise InputError([_too_cold(design.survey, highest_c, short, heat_w[short] - losses_w[short])])
    margins = _margins(losses_w, heat_w)
    return _result(design, round(lowest_c, 6), KEPT, margins)


def _resized(survey: Survey, min_flow_temp_c: float) -> LowestFlowTemperature:
    """The lowest flow temperature at which the survey, sized for it, has all rooms warm."""
    highest_c = max_flow_temp_c(survey)
    sizes = _Sizes(survey)
    room, spare_w = _min_to_spare(sizes.at(highest_c))
    if spare_w < -WARM_W:
        raise InputError([_too_cold(survey, highest_c, room, spare_w)])
    tried = sizes
    if survey.project.size_by == "loss":
        # margins are zero or strongly negative, without a slope: those at the maximum flows have one
        tried = _Sizes(_at_maximum_flow(survey), sizes.last)
    estimate_c = _estimate_c(tried, min_flow_temp_c, highest_c)
    lowest_c = _lowest_warm_c(sizes, estimate_c, min_flow_temp_c, highest_c)
    system = sizes.at(lowest_c)
    losses_w = {loss.room: loss.total_w for loss in _heated(system)}
    margins = _margins(losses_w, net_room_heat_w(system.state))
    return _result(Design.of(design_of(system)), lowest_c, RESIZED, margins, survey.project.flow_temp_c)


def _margins(losses_w: Mapping[str, float], heat_w: Mapping[str, float]) -> pd.DataFrame:
    """The table of margins, the smallest first."""
    margins_w = {room: heat_w.get(room, 0.0) - loss_w for room, loss_w in losses_w.items()}
    rows = [
        (room, losses_w[room], heat_w.get(room, 0.0), margins_w[room])
        for room in sorted(margins_w, key=margins_w.__getitem__)
    ]
    return table_frame(MARGINS, rows)


def _result(
    design: Design, flow_temp_c: float, presettings: str, margins: pd.DataFrame, design_flow_temp_c: float | None = None
) -> LowestFlowTemperature:
    project, room = design.survey.project, str(margins["room"].iloc[0])
    facts = {
        "project": project.name,
        "outdoor_c": project.outdoor_c,
        "flow_temp_c": flow_temp_c,
        "room": room,
        "presettings": presettings,
        "design_flow_temp_c": project.flow_temp_c if design_flow_temp_c is None else design_flow_temp_c,
    }
    return LowestFlowTemperature(flow_temp_c, room, {MARGINS.name: margins}, facts, design)


class _Sizes:
    """The systems of a survey at the flow temperatures tried so far, each sized starting from the one before."""

    def __init__(self, survey: SurveyData, last: SizedSystem | None = None) -> None:
        self.survey, self.last = survey, last
        self._by_temp_c: dict[float, SizedSystem] = {}

    def at(self, flow_temp_c: float) -> SizedSystem:
        """The system at a flow temperature; InputError where it cannot be sized."""
        if flow_temp_c not in self._by_temp_c:
            self.last = sized_system(at_flow_temp(self.survey, flow_temp_c), self.last)
            self._by_temp_c[flow_temp_c] = self.last
        return self._by_temp_c[flow_temp_c]

    def spare_w(self, flow_temp_c: float) -> float:
        """Smallest margin of a room, counted from -WARM_W; -inf where the water cannot give its temperature drop.

        If the drop asked for is almost the largest possible, sizing finds no flow: this also counts as too cold.
        """
        try:
            return _min_to_spare(self.at(flow_temp_c))[1] + WARM_W
        except (InputError, ArithmeticError):
            return -np.inf


def _at_maximum_flow(survey: Survey) -> Survey:
    """The survey, sized by drop with the smallest temperature drop that sizing by heat loss would use."""
    loops = tuple(
        loop if loop.delta_t_k is None else replace(loop, delta_t_k=min(loop.delta_t_k, MIN_DROP_BY_LOSS_K))
        for loop in survey.loops
    )
    project = replace(survey.project, size_by="drop", delta_t_k=min(survey.project.delta_t_k, MIN_DROP_BY_LOSS_K))
    return replace(survey, project=project, loops=loops)


def _estimate_c(sizes: _Sizes, min_flow_temp_c: float, max_flow_temp_c: float) -> float:
    """The flow temperature at which the smallest margin is zero, °C, to ESTIMATE_K.

    Secant steps in a bracket, which is halved where a step leaves it and after many tries.
    """
    cold_c, warm_c = min_flow_temp_c, max_flow_temp_c
    before_c, before_w = warm_c, sizes.spare_w(warm_c)
    if before_w < 0.0:  # sized by drop it is cold even at the maximum; sized by heat loss it is warm there
        return max_flow_temp_c
    next_c = _first_estimate_c(sizes.at(warm_c))
    for tries in range(MAX_TRIES):
        if not cold_c < next_c < warm_c or tries > MAX_SECANTS:
            next_c = (cold_c + warm_c) / 2.0
        spare_w = sizes.spare_w(next_c)
        cold_c, warm_c = (next_c, warm_c) if spare_w < 0.0 else (cold_c, next_c)
        slope_w_k = (before_w - spare_w) / (before_c - next_c)
        before_c, before_w = next_c, spare_w
        if np.isfinite(slope_w_k) and slope_w_k > 0.0:
            next_c = before_c - spare_w / slope_w_k
        if abs(next_c - before_c) < ESTIMATE_K or warm_c - cold_c < ESTIMATE_K:
            break
    return min(max(next_c, cold_c), warm_c)


def _first_estimate_c(system: SizedSystem) -> float:
    """The flow temperature at which all rooms would be warm if output followed the excess of the mean water."""
    project, heat_w = system.survey.project, net_room_heat_w(system.state)
    mean_c = project.flow_temp_c - project.delta_t_k / 2.0
    mean_temps_c = [
        loss.indoor_c + (mean_c - loss.indoor_c) * (loss.total_w / heat_w[loss.room]) ** (1.0 / EXCESS_POWER)
        for loss in _heated(system)
        if loss.total_w > 0.0  # a room that loses no heat sets no temperature
    ]
    return max(mean_temps_c, default=mean_c) + project.delta_t_k / 2.0


def _lowest_warm_c(sizes: _Sizes, estimate_c: float, min_flow_temp_c: float, max_flow_temp_c: float) -> float:
    """The lowest whole step at which all rooms are warm, searched from an estimate; at least the minimum, °C.

    The search doubles its distance from the estimate until it has a warm and a cold step, then halves the distance.
    """

    def temp_c(step: int) -> float:
        return min(max(round(step * STEP_C, 6), min_flow_temp_c), max_flow_temp_c)

    def is_warm(step: int) -> bool:
        return sizes.spare_w(temp_c(step)) >= 0.0

    lowest, highest = math.ceil(min_flow_temp_c / STEP_C - 1e-9), math.ceil(max_flow_temp_c / STEP_C - 1e-9)
    lowest -= temp_c(lowest) > min_flow_temp_c  # the minimum itself is no whole step
    step = min(max(math.ceil(estimate_c / STEP_C - 1e-9), lowest), highest)
    warm, cold, apart = highest, lowest - 1, 1
    while warm - cold > 1:
        if is_warm(step):
            warm = step
            step = max(warm - apart, cold + 1) if cold < lowest else (warm + cold) // 2
        else:
            cold = step
            step = min(cold + apart, warm - 1) if warm == highest else (warm + cold) // 2
        apart *= 2
    return temp_c(warm)


def _heated(system: SizedSystem) -> list[RoomLoss]:
    """Heat losses of the rooms with a loop."""
    return [loss for loss in system.room_losses if loss.room in system.survey.heated_rooms]


def _min_to_spare(system: SizedSystem) -> tuple[str, float]:
    """The heated room with the smallest margin, and the margin in W."""
    heat_w = net_room_heat_w(system.state)
    margins_w = {loss.room: heat_w.get(loss.room, 0.0) - loss.total_w for loss in _heated(system)}
    room = min(margins_w, key=margins_w.__getitem__)
    return room, margins_w[room]


def _too_cold(survey: Survey, max_flow_temp_c: float, room: str, spare_w: float) -> InputIssue:
    return survey.fault(
        "source, max_flow_temp_c",
        f"{max_flow_temp_c:g} °C, at which {room} is {-spare_w:.0f} W short",
        "a warmer source, more skirting in that room or a smaller heat loss",
    )
