"""The chance that each room is warm when inputs deviate from the design, and which input matters most."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.findings.input_errors import InputError, InputIssue, quoted_value
from heatloop.layout.build import validated_survey
from heatloop.results.decisions.uncertainty import ALL_ROOMS, CHANCES, INPUTS, SHARES, Uncertainty
from heatloop.results.design import DesignResult
from heatloop.survey.editing import Survey
from heatloop.text.table_set import table_frame
from heatloop.workflows.size import size_survey
from heatloop.workflows.uncertainty.bands import CALL, KINDS, Band, UncertainInput, inputs_of
from heatloop.workflows.uncertainty.response import Response, RoomHeat
from heatloop.workflows.uncertainty.shares import VarianceShares, paired_samples, variance_shares

Array = NDArray[np.float64]

MIN_SAMPLES, MAX_SAMPLES = 16, 65_536

WARM_W = 0.01
"""A room with a smaller shortage counts as warm."""


def uncertainty(
    system: DesignResult | Survey | str | Path,
    bands: Mapping[str, Band | float],
    samples: int = 1024,
    seed: int = 0,
) -> Uncertainty:
    """The chance that each room is warm when inputs deviate from the design, and which input matters most.

    Parameters
    ----------
    system : Design, Survey, str or pathlib.Path
        A design, or a survey or its file, which is sized first.
    bands : mapping of str to Band or float
        Bands of the uncertain inputs: "fabric", "air", "rating" and "length" (deviation in % of the value of the
        design), "flow_temp_c" and "outdoor_c" (in K), "setting" (positions of the valves). A number x is an even band
        from -x to x. Inputs without a band do not vary; no band is built in.
    samples : int, default 1024
        Samples for chances and ranges, rounded up to a power of two.
    seed : int, default 0
        The same seed gives the same samples.

    Returns
    -------
    Uncertainty
        Chance and range of each room, and the share of each input in the variance of its margin.

    Raises
    ------
    InputError
        If an argument is wrong (all faults are listed) or the survey cannot be sized.
    ArithmeticError
        If the equations of the system have no solution for a sample.

    Notes
    -----
    The samples are scrambled Sobol' points. The system is solved for each: valves as they are set, changed by the
    deviation of the setting; thermostatic valves open; pump as commissioned; rooms at their temperatures. First-order
    shares are those of Saltelli and others (2010), total shares those of Jansen (1999). For the shares the system is
    solved again, samples/2 times for each input that affects the water. A stated heat loss
    varies with "fabric". "rating" is the output of skirting, not of other emitters.

    Examples
    --------
    >>> import heatloop as hl
    >>> bands = {"fabric": hl.Band(-10.0, 20.0, "normal"), "rating": 5.0, "flow_temp_c": 2.0}
    >>> found = hl.uncertainty("data/mill-annexe/survey.toml", bands, samples=64)
    >>> bool(0.0 < found.summary["all_warm_share"] <= 1.0)
    True
    """
    _check_numbers(samples, seed)
    design = system if isinstance(system, DesignResult) else size_survey(validated_survey(CALL, system))
    inputs = inputs_of(design.system, bands)
    response = Response(design.system, inputs)
    count = 2 ** int(np.ceil(np.log2(samples / 2)))
    of_a, of_b = (_deviations(inputs, points) for points in paired_samples(count, len(inputs), seed))
    heats = [response.heat(deviations) for deviations in (of_a, of_b)]
    margins = [response.margins_w(heat, deviations) for heat, deviations in zip(heats, (of_a, of_b), strict=True)]
    mixed, solved = _mixed(response, heats[0], of_a, of_b)
    nominal = np.zeros((1, len(inputs)))
    design_w = response.margins_w(response.heat(nominal), nominal)[:, 0]
    losses_w = {loss.room: loss.total_w for loss in design.system.room_losses}
    scale_w = np.array([max(losses_w[room], 1.0) for room in response.rooms])[:, None]
    shares = variance_shares(*(_with_house(values, scale_w) for values in (*margins, mixed)))
    both = np.concatenate(margins, axis=1)
    frames = {
        CHANCES.name: table_frame(CHANCES, _chances(response.rooms, both, design_w, _main(inputs, shares))),
        SHARES.name: table_frame(SHARES, _shares([*response.rooms, ALL_ROOMS], inputs, shares)),
        INPUTS.name: table_frame(INPUTS, [_input_row(one) for one in inputs]),
    }
    facts = {
        "project": design.survey.project.name,
        "samples": 2 * count,
        "solved": 2 * count + solved,
        "seed": seed,
        "all_warm_share": float((both >= -WARM_W).all(axis=0).mean()),
        "main_input": _main(inputs, shares)[-1],
    }
    return Uncertainty(frames, facts, pd.DataFrame(both.T, columns=response.rooms))


def _check_numbers(samples: Any, seed: Any) -> None:
    """Raise InputError with every fault of the numbers."""
    faults = []
    ranges = {"samples": (samples, MIN_SAMPLES, MAX_SAMPLES), "seed": (seed, 0, 2**32 - 1)}
    for name, (value, low, high) in ranges.items():
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or not low <= value <= high:
            faults.append(InputIssue(CALL, name, quoted_value(value), f"a whole number from {low} to {high}"))
    if faults:
        raise InputError(faults)


def _deviations(inputs: tuple[UncertainInput, ...], points: Array) -> Array:
    """Deviations of the inputs (S, I) at points of the unit cube."""
    return np.stack([one.band.at(points[:, i]) for i, one in enumerate(inputs)], axis=1)


def _mixed(response: Response, heat: RoomHeat, of_a: Array, of_b: Array) -> tuple[Array, int]:
    """Margins (I, rooms, N) of the first sample with one input of the second, and how often the system was solved.

    An input that does not affect the water has the heat of the first sample.
    """
    margins, solved = [], 0
    for i, affects_water in enumerate(response.affects_water):
        deviations = of_a.copy()
        deviations[:, i] = of_b[:, i]
        if affects_water:
            solved += deviations.shape[0]
        margins.append(response.margins_w(response.heat(deviations) if affects_water else heat, deviations))
    return np.array(margins), solved


def _with_house(margins_w: Array, scale_w: Array) -> Array:
    """The margins of the rooms, (..., rooms, N), with the smallest relative margin of the house below them."""
    smallest = (margins_w / scale_w).min(axis=-2, keepdims=True)
    return np.concatenate([margins_w, smallest], axis=-2)


def _main(inputs: tuple[UncertainInput, ...], shares: VarianceShares) -> list[str]:
    """The input with the largest total share for each result; "" where the result does not vary."""
    return [
        inputs[int(np.argmax(total))].name if np.isfinite(total).all() and total.max() > 0.0 else ""
        for total in shares.total
    ]


def _chances(rooms: list[str], margins_w: Array, design_w: Array, main: list[str]) -> list[tuple[Any, ...]]:
    """One row for each room."""
    low, middle, high = np.percentile(margins_w, [5.0, 50.0, 95.0], axis=1)
    warm = (margins_w >= -WARM_W).mean(axis=1)
    rows = zip(rooms, warm, design_w, low, middle, high, main, strict=False)
    return [(room, *map(float, figures), name) for room, *figures, name in rows]


def _shares(
    results: list[str], inputs: tuple[UncertainInput, ...], shares: VarianceShares
) -> list[tuple[str, str, float, float]]:
    """One row for each result and input, the input with the largest total share first."""
    rows = []
    for result, first, total in zip(results, shares.first, shares.total, strict=True):
        for i in np.argsort(-total, kind="stable"):
            rows.append((result, inputs[i].name, float(first[i]), float(total[i])))
    return rows


def _input_row(one: UncertainInput) -> tuple[str, float, float, str, str]:
    return one.name, one.band.low, one.band.high, KINDS[one.kind].unit, one.band.shape
