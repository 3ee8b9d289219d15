"""Many designs of one survey: the lowest flow temperature that keeps its rooms warm, and one loop tried quickly.

Nothing here has a formula of its own: surveys are changed, designed again and compared.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root_scalar

from heatloop.circuit.heat import arm_results
from heatloop.circuit.model import LoopPath
from heatloop.circuit.path import loop_paths, rooms_of
from heatloop.circuit.trial import Trial
from heatloop.design import floor_areas_m2, size
from heatloop.heat_loss import room_losses
from heatloop.layout.build import lay_out
from heatloop.layout.model import Layout
from heatloop.layout.reading import validated_survey
from heatloop.physics.water import Fluid
from heatloop.plant import fluid_of
from heatloop.result import Design
from heatloop.survey.arguments import number_faults
from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import RouteWalls, Survey

GREATEST_FLOW_C = 90.0
"""Where the search ends for a source that states no greatest flow temperature."""

STEP_C = 0.1
"""The answer is rounded up to this, which no controller is set closer than."""

WARM_W = 0.01
"""A room that misses less than this is warm: sizing by loss ends on its very need."""


FLOW_BETWEEN = (0.1, 1.5)
"""Where a tried loop's flow is looked for, as shares of the flow that would carry its output if all its water had
the mean temperature: link and film make it less. Less than a tenth of it is no heating."""


@dataclass(frozen=True, eq=False)
class LowestFlow:
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


def lowest_flow_temperature(survey: Survey | str | Path, least_c: float = 25.0) -> LowestFlow:
    """The lowest flow temperature, to a tenth of a kelvin, at which every heated room is warm: of a survey
    or of the survey in a file.

    Each temperature tried is a design of its own, sized as the survey says; so the flows of the answer are not
    those of today. The search runs from `least_c` (the answer where that is warm enough) to the greatest flow
    temperature of the source. Rooms that no loop heats are left out.

    Raises SurveyError where a room is short even at the greatest, or where the survey cannot be designed there.
    """
    call = "lowest_flow_temperature"
    survey = validated_survey(call, survey)
    most_c = survey.source.max_flow_temp_c or GREATEST_FLOW_C
    faults = number_faults(call, {"least_c": least_c})
    if not faults and not least_c < most_c:
        faults = [Fault(call, "least_c", f"{least_c:g}", f"below {most_c:g} degrees C, the greatest of the source")]
    if faults:
        raise SurveyError(faults)
    warmest = size(at_flow_temp(survey, most_c))
    room, spare_w = _least_to_spare(warmest)
    if spare_w < -WARM_W:
        raise SurveyError([_too_cold(survey, most_c, room, spare_w)])

    tried = {most_c: spare_w + WARM_W}

    def spare_at(flow_temp_c: float) -> float:
        if flow_temp_c not in tried:
            try:
                tried[flow_temp_c] = _least_to_spare(size(at_flow_temp(survey, flow_temp_c)))[1] + WARM_W
            except SurveyError:  # it could be designed at the greatest: here the water cannot give its drop
                tried[flow_temp_c] = -float(warmest.summary["heat_loss_w"])
        return tried[flow_temp_c]

    if spare_at(least_c) >= 0.0:
        lowest_c = least_c
    else:
        # sized by loss, what rooms have to spare is nothing or much too little: no slope to go by
        method = "bisect" if survey.project.size_by == "loss" else "brentq"
        found = root_scalar(spare_at, bracket=(least_c, most_c), method=method, xtol=STEP_C / 10.0)
        lowest_c = _step_above(found.root, most_c)
    design = size(at_flow_temp(survey, lowest_c))
    if _least_to_spare(design)[1] < -WARM_W:  # the root lay a hair below a step
        lowest_c = _step_above(lowest_c + STEP_C / 2.0, most_c)
        design = size(at_flow_temp(survey, lowest_c))
    return LowestFlow(lowest_c, _least_to_spare(design)[0], design)


def _step_above(temp_c: float, most_c: float) -> float:
    """The next whole step at or above a temperature, degC, but no more than `most_c`."""
    return min(round(float(np.ceil(temp_c / STEP_C - 1e-9)) * STEP_C, 6), most_c)


def _least_to_spare(design: Design) -> tuple[str, float]:
    """Of the heated rooms the one with least to spare, and its watts."""
    rooms = design.rooms
    heated = rooms[rooms["room"].isin(design.survey.heated_rooms)]
    row = heated.sort_values("margin_w", kind="stable").iloc[0]
    return str(row["room"]), float(row["margin_w"])


def _too_cold(survey: Survey, most_c: float, room: str, spare_w: float) -> Fault:
    return Fault(
        "survey" if survey.path is None else survey.path.name,
        "source, max_flow_temp_c",
        f"{most_c:g} degC, at which {room} is {-spare_w:.0f} W short",
        "a warmer source, more skirting in that room or less loss from it",
    )


@dataclass(frozen=True, eq=False)
class LaidLoop:
    """One loop by itself: the `survey` cut down to it, its `layout`, its water path, and `need_w`, what each of
    its rooms loses."""

    survey: Survey
    layout: Layout
    path: LoopPath
    water: Fluid
    need_w: dict[str, float]


@dataclass(frozen=True, eq=False)
class TriedLoop:
    """A laid loop tried at a flow temperature and a drop.

    `room_w`: useful watts into each room, less what the wall behind the skirting loses; `piece_c`: the mean water
    temperature of each piece by its label, channel by channel.
    """

    laid: LaidLoop
    flow_temp_c: float
    return_c: float
    flow_kg_s: float
    room_w: dict[str, float]
    piece_c: dict[str, tuple[float, ...]]

    @property
    def margin_w(self) -> dict[str, float]:
        """What each room gets beyond its need, W; below 0 it is short."""
        return {room: self.room_w[room] - need_w for room, need_w in self.laid.need_w.items()}


def lay_loop(survey: Survey, loop: str, ends_at_m: float | None = None) -> LaidLoop:
    """One loop of a survey by itself; its skirting ends `ends_at_m` along the last wall of its route, if given.

    KeyError where the survey has no such loop, ValueError for a loop that cannot be tried: of two arms, or with an
    end to move where its route does not end at a wall.
    """
    found = survey.loop(loop)
    if len(found.arms) != 1:
        raise ValueError(f"loop {loop!r} has {len(found.arms)} arms, wanted one")
    if ends_at_m is not None:
        *before, last = found.arms[0]
        if not isinstance(last, RouteWalls):
            raise ValueError(f"loop {loop!r}: its route does not end at a wall")
        found = replace(found, arms=((*before, replace(last, to_m=ends_at_m)),))
    alone = replace(survey, loops=(found,))
    layout, water = lay_out(alone), fluid_of(alone)
    path = loop_paths(alone, layout)[0]
    losses = {loss.room: loss.total_w for loss in room_losses(alone, floor_areas_m2(layout))}
    return LaidLoop(alone, layout, path, water, {room: losses[room] for room in rooms_of(path)})


def try_loop(laid: LaidLoop, flow_temp_c: float, delta_t_k: float) -> TriedLoop:
    """A laid loop at some flow temperature where its tails join and drop, its flow to 1e-4: quick enough for a slider.

    What is found is what sizing by drop finds; the hydraulics are left out. ValueError where no flow gives the drop.
    """
    path, water = laid.path, laid.water
    out_of_reach = ValueError(
        f"loop {path.loop.name!r}: no flow gives a drop of {delta_t_k:g} K at {flow_temp_c:g} degC"
    )
    trial = Trial([path], np.array([flow_temp_c]), water)
    capacity = float(water.heat_capacity_j_kgk(flow_temp_c))
    most = _rough_output_w(path, flow_temp_c - delta_t_k / 2.0) / (capacity * delta_t_k)
    least_log, most_log = (float(np.log(most * share)) for share in FLOW_BETWEEN)

    def miss(log_flow: float) -> float:
        """Log of drop over design drop, which falls with the log of flow by nearly 1; by just 1 beyond the range."""
        inside = min(max(log_flow, least_log), most_log)
        drop_k = float(trial.drop_k(np.exp([inside]))[0])
        if drop_k <= 0.0:
            raise out_of_reach
        return float(np.log(drop_k / delta_t_k)) - (log_flow - inside)

    for _ in range(20):
        log_flow = _root_of_falling(miss, float(np.log(most)), least_log)
        if not least_log <= log_flow <= most_log:
            raise out_of_reach
        flow = np.exp([log_flow])
        if trial.share_again(flow) < 1e-6:
            break
    room_w, solved = trial.room_w(flow)[0], trial.near[0]
    assert solved is not None
    return TriedLoop(
        laid=laid,
        flow_temp_c=flow_temp_c,
        return_c=flow_temp_c - delta_t_k,
        flow_kg_s=float(flow[0]),
        room_w=room_w,
        piece_c=_piece_c(path, arm_results(solved)[0].mean_c),
    )


def _root_of_falling(miss: Callable[[float], float], start: float, least: float) -> float:
    """Where `miss`, falling by about 1 with its argument, is nothing: by secants, else between wide bounds."""
    found = root_scalar(miss, x0=start, x1=start - 0.1, method="secant", xtol=1e-4, maxiter=12)
    if not found.converged:
        found = root_scalar(miss, bracket=(least - 20.0, start + 20.0), method="brentq", xtol=1e-4)
    return float(found.root)


def _piece_c(path: LoopPath, mean_c: NDArray[np.float64]) -> dict[str, tuple[float, ...]]:
    """Mean water temperature of each piece from that of its cells, (C, M), weighed by their lengths."""
    metres: dict[str, float] = {}
    kelvin_metres: dict[str, NDArray[np.float64]] = {}
    for cell, channels_c in zip(path.arms[0].cells, mean_c.T, strict=True):
        if cell.skirting:
            metres[cell.label] = metres.get(cell.label, 0.0) + cell.length_m
            kelvin_metres[cell.label] = kelvin_metres.get(cell.label, 0.0) + cell.length_m * channels_c
    return {label: tuple(float(c) for c in kelvin_metres[label] / metres[label]) for label in metres}


def _rough_output_w(path: LoopPath, water_c: float) -> float:
    """Output of all cells with the water at one temperature, W: about what sizing will find."""
    watts = 0.0
    for cell in path.arms[0].cells:
        law, excess_k = cell.characteristic, max(water_c - cell.room_c, 1.0)
        watts += law.k_w_mkn * cell.factor * cell.length_m * excess_k**law.exponent
    for element in (*path.tail_flow, *path.tail_return):
        if element.emits is not None:
            watts += element.emits.k_w_kn * max(water_c - element.emits.room_c, 1.0) ** element.emits.exponent
    return watts
