"""One loop of a survey by itself, recalculated in milliseconds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from heatloop.heat_loss.rooms import room_losses
from heatloop.hydraulics.from_survey import fluid_from
from heatloop.hydraulics.heat.arm_results import arm_results
from heatloop.hydraulics.loop_paths import loop_paths, rooms_of
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.sizing.trial_solution import TrialSolution, loops_network
from heatloop.layout.build import build_layout
from heatloop.layout.model import floor_areas_m2
from heatloop.results.single_loop import SingleLoopData, SingleLoopResult
from heatloop.survey.editing import Survey
from heatloop.survey.loops import RouteWalls

FLOW_BETWEEN = (0.1, 1.5)
"""Range of the search for the flow, as shares of the flow that carries the output with all water at the mean
temperature. Conduction between channels and the water film reduce the flow; below a tenth of it nothing is heated."""


class SingleLoop(SingleLoopData):
    """One loop of a survey by itself, recalculated in milliseconds.

    Attributes
    ----------
    survey : Survey
        The survey reduced to this loop.
    layout : Layout
        Positions of its skirting and pipes.
    need_w : dict of str to float
        Heat loss in W of each of its rooms.

    See Also
    --------
    heatloop.InteractiveLoopPlan : A plan of the loop for sliders.

    Examples
    --------
    >>> import heatloop as hl
    >>> survey = hl.read_survey("docs/walk/survey.toml")
    >>> loop = hl.SingleLoop.from_survey(survey, "Parlour")
    >>> loop.at(50.0, 7.0).return_c
    43.0
    """

    @classmethod
    def from_survey(cls, survey: Survey, loop: str, ends_at_m: float | None = None) -> SingleLoop:
        """One loop of a survey by itself.

        Parameters
        ----------
        survey : Survey
            The survey.
        loop : str
            Name of a loop with one arm.
        ends_at_m : float, optional
            Position in m at which its skirting ends on the last wall of its route; None: as surveyed.

        Returns
        -------
        SingleLoop

        Raises
        ------
        KeyError
            If the survey has no such loop.
        ValueError
            If the loop has two arms, or `ends_at_m` is given and its route does not end at a wall.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.SingleLoop.from_survey(hl.read_survey("data/mill-annexe/survey.toml"), "Annexe").survey.heated_rooms
        ('Annexe',)
        """
        own_loop = survey.loop(loop)
        if len(own_loop.arms) != 1:
            raise ValueError(f"loop {loop!r} has {len(own_loop.arms)} arms; required: one")
        if ends_at_m is not None:
            *before, last = own_loop.arms[0]
            if not isinstance(last, RouteWalls):
                raise ValueError(f"loop {loop!r}: its route does not end at a wall")
            own_loop = replace(own_loop, arms=((*before, replace(last, to_m=ends_at_m)),))
        alone = replace(survey, loops=(own_loop,))
        layout, fluid = build_layout(alone), fluid_from(alone)
        path = loop_paths(alone, layout)[0]
        losses = {loss.room: loss.total_w for loss in room_losses(alone, floor_areas_m2(layout))}
        return cls(alone, layout, path, fluid, {room: losses[room] for room in rooms_of(path)})

    def at(self, flow_temp_c: float, delta_t_k: float) -> SingleLoopResult:
        """Calculate the loop at a flow temperature and a temperature drop; its flow is accurate to 1/10 000.

        The result is that of sizing by temperature drop, without pressures.

        Parameters
        ----------
        flow_temp_c : float
            Flow temperature in °C where the tails join the distribution.
        delta_t_k : float
            Temperature drop in K between flow and return.

        Returns
        -------
        SingleLoopResult
            `flow_kg_s`, `return_c` in °C, and `room_w` and `margin_w`: output and margin of each room in W.

        Raises
        ------
        ValueError
            If no flow gives this temperature drop.

        Examples
        --------
        >>> import heatloop as hl
        >>> loop = hl.SingleLoop.from_survey(hl.read_survey("data/mill-annexe/survey.toml"), "Annexe")
        >>> 0.0 < loop.at(55.0, 7.0).flow_kg_s < 0.1
        True
        """
        return _at(self, flow_temp_c, delta_t_k)


def _at(data: SingleLoopData, flow_temp_c: float, delta_t_k: float) -> SingleLoopResult:
    """A loop at a flow temperature where its tails join and a drop."""
    path, fluid = data.path, data.fluid
    out_of_reach = ValueError(f"loop {path.loop.name!r}: no flow gives a drop of {delta_t_k:g} K at {flow_temp_c:g} °C")
    trial = TrialSolution(loops_network([path]), np.array([flow_temp_c]), fluid)
    capacity = float(fluid.heat_capacity_j_kgk(flow_temp_c))
    maximum = _rough_output_w(path, flow_temp_c - delta_t_k / 2.0) / (capacity * delta_t_k)
    min_log, max_log = (float(np.log(maximum * share)) for share in FLOW_BETWEEN)

    def miss(log_flow: float) -> float:
        """Log of drop over design drop; it falls by nearly 1 with the log of flow, beyond the range by 1."""
        inside = min(max(log_flow, min_log), max_log)
        drop_k = float(trial.drop_k(np.exp([inside]))[0])
        if drop_k <= 0.0:
            raise out_of_reach
        return float(np.log(drop_k / delta_t_k)) - (log_flow - inside)

    for _ in range(20):
        log_flow = _root_of_falling(miss, float(np.log(maximum)), min_log)
        if not min_log <= log_flow <= max_log:
            raise out_of_reach
        flow = np.exp([log_flow])
        if trial.share_again(flow) < 1e-6:
            break
    room_w, solved = trial.room_w(flow)[0], trial.heat(flow)[0]
    return SingleLoopResult(
        data=data,
        flow_temp_c=flow_temp_c,
        return_c=flow_temp_c - delta_t_k,
        flow_kg_s=float(flow[0]),
        room_w=room_w,
        piece_c=_piece_c(path, arm_results(solved)[0].mean_c),
    )


def _root_of_falling(miss: Callable[[float], float], start: float, minimum: float) -> float:
    """Root of `miss`, which falls by about 1 with its argument: by secants, else between wide bounds."""
    from scipy.optimize import root_scalar  # here, because it is slow to import and not needed to size

    root = root_scalar(miss, x0=start, x1=start - 0.1, method="secant", xtol=1e-4, maxiter=12)
    if not root.converged:
        root = root_scalar(miss, bracket=(minimum - 20.0, start + 20.0), method="brentq", xtol=1e-4)
    return float(root.root)


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
    """Output of all cells with the water at one temperature, W: an estimate for sizing."""
    heat_w = 0.0
    for cell in path.arms[0].cells:
        characteristic, excess_k = cell.characteristic, max(water_c - cell.room_c, 1.0)
        heat_w += characteristic.k_w_mkn * cell.factor * cell.length_m * excess_k**characteristic.exponent
    for element in (*path.tail_flow, *path.tail_return):
        if element.emits is not None:
            heat_w += element.emits.k_w_kn * max(water_c - element.emits.room_c, 1.0) ** element.emits.exponent
    return heat_w
