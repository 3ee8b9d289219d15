"""One run of a profile by itself: its output and its water temperatures at a given flow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue, number_faults
from heatloop.hydraulics.heat.arm_groups import ArmHeatOutput, group_similar_arms
from heatloop.hydraulics.heat.arm_results import arm_results
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.heat.profile_rating import (
    IdentificationInput,
    channel_duct,
    characteristics,
    there_and_back,
)
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic
from heatloop.physics.water import Fluid, plain_water
from heatloop.survey.profiles import Profile

CELLS = 30
"""Number of equal cells of a run; each is divided further where accuracy requires it."""


@dataclass(frozen=True, eq=False)
class SkirtingRun:
    """One run of a profile by itself, from :func:`heatloop.skirting_run`.

    Attributes
    ----------
    output_w : float
        Heat given by the run in W.
    return_temp_c : float
        Temperature in °C at which the water leaves the run.
    temperatures : pandas.DataFrame
        Temperatures along the run, one row for each point and channel: `distance_m` from the water inlet,
        `channel` from 1, `direction` ("flow" or "return"), `water_c` and `surface_temp_c`.
    constant_w_mkn : float
        Constant K of the profile in W/(m Kⁿ): output of a metre divided by the excess temperature to
        the power n.

    Examples
    --------
    >>> import heatloop as hl
    >>> profile = hl.read_survey("docs/walk/survey.toml").catalogue.profile("two-channel 140")
    >>> run = hl.skirting_run(profile, length_m=15.0, flow_l_h=110.0, flow_temp_c=50.0, room_c=21.0)
    >>> list(run.temperatures)
    ['distance_m', 'channel', 'direction', 'water_c', 'surface_temp_c']
    """

    output_w: float
    return_temp_c: float
    temperatures: pd.DataFrame
    constant_w_mkn: float


def skirting_run(
    profile: Profile,
    *,
    length_m: float,
    flow_l_h: float,
    flow_temp_c: float,
    room_c: float,
    arrangement: Literal["there-and-back", "one-way"] = "there-and-back",
    link_w_mk: float | None = None,
    film: bool = True,
    constant_w_mkn: float | None = None,
) -> SkirtingRun:
    """Output and water temperatures of one run of a profile by itself.

    Parameters
    ----------
    profile : Profile
        A profile of a catalogue: `survey.catalogue.profile(name)`.
    length_m : float
        Heated length in m.
    flow_l_h : float
        Volume flow through the run in l/h at `flow_temp_c`; channels in parallel share it equally.
    flow_temp_c : float
        Temperature of the entering water in °C.
    room_c : float
        Room temperature in °C.
    arrangement : {"there-and-back", "one-way"}, default "there-and-back"
        Whether the water returns through the other channels or leaves at the far end.
    link_w_mk : float, optional
        Conduction between neighbouring channels in W/(m K) in place of that of the profile; 0 separates them.
    film : bool, default True
        Whether the water film on the walls of the channels is included.
    constant_w_mkn : float, optional
        Constant K in W/(m Kⁿ) in place of the one that reproduces the rating of the profile.

    Returns
    -------
    SkirtingRun

    Raises
    ------
    InputError
        If a length, a flow or a temperature is out of its range. Every issue is listed.
    ValueError
        If a profile of one channel has the arrangement there-and-back, or its rating cannot be reproduced.

    Notes
    -----
    The constant of a profile is identified from its rating test: the equations of the channels, with conduction between
    them and the water film, give the rated output in the arrangement of the test.

    References
    ----------
    .. [1] EN 442-2, Radiators and convectors, Part 2: Test methods and rating (characteristic equation).

    Examples
    --------
    >>> import heatloop as hl
    >>> profile = hl.read_survey("docs/walk/survey.toml").catalogue.profile("two-channel 140")
    >>> run = hl.skirting_run(profile, length_m=15.0, flow_l_h=110.0, flow_temp_c=50.0, room_c=21.0)
    >>> 21.0 < run.return_temp_c < 50.0
    True
    """
    _check(length_m, flow_l_h, flow_temp_c, room_c, arrangement)
    fluid = plain_water()
    characteristic = characteristics([IdentificationInput(profile, film)], fluid)[0]
    if link_w_mk is not None:
        characteristic = replace(characteristic, link_w_mk=link_w_mk)
    if constant_w_mkn is not None:
        characteristic = replace(characteristic, k_w_mkn=constant_w_mkn)
    count = len(profile.channels)
    directions = there_and_back(count) if arrangement == "there-and-back" else (1,) * count
    path = _path(profile, characteristic, directions, (length_m, room_c), film)
    solved = _solved(path, flow_l_h, flow_temp_c, fluid)
    return SkirtingRun(solved.given_w, solved.return_c, _temperatures(solved, directions), characteristic.k_w_mkn)


def _check(length_m: float, flow_l_h: float, flow_temp_c: float, room_c: float, arrangement: str) -> None:
    call = "skirting_run"
    arguments = {"length_m": length_m, "flow_l_h": flow_l_h, "flow_temp_c": flow_temp_c, "room_c": room_c}
    faults = list(number_faults(call, arguments))
    if not faults:
        for name, value, minimum, maximum in (
            ("length_m", length_m, 0.01, 1000.0),
            ("flow_l_h", flow_l_h, 0.1, 100000.0),
            ("flow_temp_c", flow_temp_c, 5.0, 95.0),
            ("room_c", room_c, 0.0, 60.0),
        ):
            if not minimum <= value <= maximum:
                faults.append(InputIssue(call, name, f"{value:g}", f"{minimum:g} to {maximum:g}"))
    if arrangement not in ("there-and-back", "one-way"):
        faults.append(InputIssue(call, "arrangement", repr(arrangement), "'there-and-back' or 'one-way'"))
    if faults:
        raise InputError(faults)


def _path(
    profile: Profile,
    characteristic: Characteristic,
    directions: tuple[int, ...],
    place: tuple[float, float],
    film: bool,
) -> ArmPath:
    """The run as a path of equal cells; `place` is its length (m) and the room temperature (°C)."""
    length_m, room_c = place
    cell = Cell(
        "", room_c, length_m / CELLS, characteristic, 1.0, "", film=film and profile.rating.flow_exponent is None
    )
    ducts = tuple(channel_duct(channel) for channel in profile.channels)
    return ArmPath(directions, ducts, (cell,) * CELLS, ((),) * len(directions))


def _solved(path: ArmPath, flow_l_h: float, flow_temp_c: float, fluid: Fluid) -> ArmHeatOutput:
    sign = np.asarray(path.directions)
    share = 1.0 / np.where(sign > 0, (sign > 0).sum(), max(int((sign < 0).sum()), 1))
    mass_kg_s = flow_l_h / 3.6e6 * float(fluid.density_kg_m3(flow_temp_c))
    group = group_similar_arms([path])[0]
    return arm_results(solve_group(group, (share * mass_kg_s)[:, None], np.array([flow_temp_c]), fluid))[0]


def _temperatures(solved: ArmHeatOutput, directions: tuple[int, ...]) -> pd.DataFrame:
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "distance_m": solved.fine_x_m,
                    "channel": number,
                    "direction": "flow" if direction > 0 else "return",
                    "water_c": solved.fine_c[number - 1],
                    "surface_temp_c": solved.fine_surface_c[number - 1],
                }
            )
            for number, direction in enumerate(directions, start=1)
        ],
        ignore_index=True,
    )
