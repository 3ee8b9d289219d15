"""Estimate before a survey: feasibility by flow temperature, metres and approximate price.

Each flow temperature is sized with all the available wall. The length for a room is its loss divided by the output of a
metre. A loop of another length has another flow, and its output per metre differs with the flow regime. It is therefore
sized again with this length, until the length no longer changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.handover.price_file import PriceList, read_prices
from heatloop.report.estimate.page import MARKER, estimate_page
from heatloop.report.files.marked import write_own
from heatloop.report.folders.file_names import file_to_save
from heatloop.results.estimate import BY_ROOM, BY_TEMPERATURE, Answer, EstimateResult
from heatloop.survey.entry import survey_from
from heatloop.survey.loops import RouteEstimate
from heatloop.survey.survey import SurveyData, at_flow_temp
from heatloop.text.formatting import number
from heatloop.text.table_set import table_frame
from heatloop.workflows.design import Design
from heatloop.workflows.size import size_valid

FLOW_TEMPS_C = (35.0, 40.0, 45.0, 50.0, 55.0)
"""Usual flow temperatures of heat pumps and boilers."""

LOSS_RANGE_PERCENT = 15.0
"""Default range of the heat losses in both directions, because they are not calculated from a survey."""

MAX_TEMPS, MAX_FLOW_C = 12, 90.0

SHORT_M = 1e-6

MAX_SIZINGS, LENGTH_TOLERANCE, MAX_TIMES = 6, 0.01, 3.0
"""Maximum number of sizings at a flow temperature; length change that is negligible; maximum length as a multiple of
the wall."""


@dataclass(frozen=True, eq=False, repr=False)
class Estimate(EstimateResult):
    """The answer before a survey, from :func:`heatloop.estimate`.

    A notebook shows the answer with its table; `answer` is the text.

    Attributes
    ----------
    temperatures, rooms : pandas.DataFrame
        The tables; the page "Tables" of the documentation describes their columns.
    summary : dict
        Key figures by name, each with its unit in the name.
    assumptions : tuple of str
        Causes of the range, and other assumptions.

    Examples
    --------
    >>> import heatloop as hl
    >>> rooms = {"name": ["Den"], "indoor_c": [20.0], "heat_loss_w": [500.0], "estimated_wall_m": [9.0]}
    >>> import pandas as pd
    >>> survey = hl.survey_from_schedule(pd.DataFrame(rooms), "data/alder-lodge/catalogue.toml", -3.0, 50.0)
    >>> hl.estimate(survey, flow_temps_c=[55.0]).answer
    'At 55 °C and above, every room has enough wall, also at the upper end of the range.'
    """

    def html(self) -> str:
        """The answer as one self-contained HTML page.

        Returns
        -------
        str

        Examples
        --------
        >>> import heatloop as hl, pandas as pd
        >>> rooms = {"name": ["Den"], "indoor_c": [20.0], "heat_loss_w": [500.0], "estimated_wall_m": [9.0]}
        >>> survey = hl.survey_from_schedule(pd.DataFrame(rooms), "data/alder-lodge/catalogue.toml", -3.0, 50.0)
        >>> hl.estimate(survey, flow_temps_c=[55.0]).html()[:15]
        '<!doctype html>'
        """
        return estimate_page(self)

    def save(self, path: str | Path) -> Path:
        """Write the page to a file and return its path; an earlier page of an estimate is replaced.

        Parameters
        ----------
        path : str or pathlib.Path
            File to write; its name ends in .html.

        Returns
        -------
        pathlib.Path
            The path of the file.

        Raises
        ------
        InputError
            If the name has another ending.
        ReportError
            If another file has that name, or it cannot be written.

        Examples
        --------
        >>> import heatloop as hl, pandas as pd, tempfile
        >>> rooms = {"name": ["Den"], "indoor_c": [20.0], "heat_loss_w": [500.0], "estimated_wall_m": [9.0]}
        >>> survey = hl.survey_from_schedule(pd.DataFrame(rooms), "data/alder-lodge/catalogue.toml", -3.0, 50.0)
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     hl.estimate(survey, flow_temps_c=[55.0]).save(f"{folder}/estimate.html").name
        'estimate.html'
        """
        target = file_to_save(path, ".html")
        return write_own(target.parent, {target.name: self.html()}, MARKER)[0]


def estimate(
    survey: SurveyData | str | Path,
    prices: PriceList | str | Path | None = None,
    flow_temps_c: Sequence[float] = FLOW_TEMPS_C,
    loss_range_percent: float = LOSS_RANGE_PERCENT,
) -> Estimate:
    """Whether skirting will heat a house, by flow temperature: metres, rooms that are short, and a price.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path
        Rooms with heat losses and usable wall, without surveyed walls, as from
        :func:`heatloop.survey_from_schedule`.
    prices : str or pathlib.Path, optional
        A price file; without it the estimate has no prices.
    flow_temps_c : sequence of float, default 35, 40, 45, 50, 55
        Flow temperatures in °C, at most twelve.
    loss_range_percent : float, default 15
        Uncertainty of the heat losses in both directions, in per cent. The range of the output is that of the profile.

    Returns
    -------
    Estimate

    Raises
    ------
    InputError
        If an argument is wrong, a room has been surveyed, or the survey has faults.

    See Also
    --------
    survey_from_schedule : A survey from a schedule of rooms.

    Examples
    --------
    >>> import heatloop as hl, pandas as pd
    >>> rooms = pd.DataFrame(
    ...     {"name": ["Den"], "indoor_c": [20.0], "heat_loss_w": [500.0], "estimated_wall_m": [9.0]}
    ... )
    >>> survey = hl.survey_from_schedule(rooms, "data/alder-lodge/catalogue.toml", -3.0, 50.0)
    >>> found = hl.estimate(survey, flow_temps_c=[40.0, 55.0])
    >>> list(found.temperatures["answer"])
    ['no', 'yes']
    """
    held = survey_from("estimate", survey)
    temps = _checked(held, flow_temps_c, loss_range_percent)
    stock = read_prices(prices) if isinstance(prices, str | Path) else prices
    by_temp, by_room = [], []
    for flow_temp_c in temps:
        own = list(_rooms(held, flow_temp_c, loss_range_percent / 100.0))
        by_room += own
        by_temp.append(_temperature(held, flow_temp_c, own, stock))
    frames = {
        BY_TEMPERATURE.name: table_frame(BY_TEMPERATURE, by_temp),
        BY_ROOM.name: table_frame(BY_ROOM, by_room),
    }
    facts = {
        "project": held.project.name,
        "outdoor_c": held.project.outdoor_c,
        "heat_loss_w": math.fsum(room.heat_loss_w or 0.0 for room in held.rooms),
        "loss_range_percent": loss_range_percent,
        "lowest_sure_c": _lowest(by_temp, ("yes",)),
        "lowest_probable_c": _lowest(by_temp, ("yes", "probably")),
        "currency": "" if stock is None else stock.currency,
    }
    return Estimate(frames, facts, tuple(_assumptions(held, loss_range_percent, stock)))


def _checked(survey: SurveyData, flow_temps_c: Sequence[float], loss_range_percent: float) -> list[float]:
    """The temperatures, lowest first; InputError with every error of the arguments."""
    issues = []
    temps_c = list(flow_temps_c) if isinstance(flow_temps_c, Sequence) and not isinstance(flow_temps_c, str) else []
    warmest_c = max(room.indoor_c for room in survey.rooms)
    if not 1 <= len(temps_c) <= MAX_TEMPS or not all(is_number(t) and warmest_c < t <= MAX_FLOW_C for t in temps_c):
        required = f"1 to {MAX_TEMPS} temperatures above {warmest_c:g} and at most {MAX_FLOW_C:g} °C"
        issues.append(InputIssue("estimate", "flow_temps_c", quoted_value(flow_temps_c), required))
    if not is_number(loss_range_percent) or not 0.0 <= loss_range_percent < 100.0:
        found = quoted_value(loss_range_percent)
        issues.append(InputIssue("estimate", "loss_range_percent", found, "a number, at least 0 and less than 100"))
    for loop in survey.loops:
        if any(not isinstance(item, RouteEstimate) for arm in loop.arms for item in arm) or loop.emitters:
            required = "skirting in rooms before their survey alone, as survey_from_schedule makes it"
            issues.append(survey.fault(f'loop "{loop.name}"', "walls, crossings or other emitters", required))
    for room in survey.rooms:
        if room.heat_loss_w is None or room.walls:
            required = "heat_loss_w and estimated_wall_m, and no walls: a room before its survey"
            issues.append(survey.fault(f'room "{room.name}"', "a room of a survey", required))
    if issues:
        raise InputError(issues)
    return sorted(dict.fromkeys(map(float, temps_c)))


def _rooms(survey: SurveyData, flow_temp_c: float, share: float) -> Iterator[dict[str, Any]]:
    """Length that each room requires at a flow temperature; NaN where the design drop cannot be reached."""
    rows = _output(survey, flow_temp_c)
    for room in survey.rooms:
        row = rows.get(room.name)
        loss_w, available_m = float(room.heat_loss_w or 0.0), room.estimated_wall_m or 0.0
        per_m, low_m, high_m = (0.0, 0.0, 0.0) if row is None else row
        needed = [
            loss * loss_w / output if output > 0.0 else math.nan
            for loss, output in ((1.0, per_m), (1.0 - share, high_m), (1.0 + share, low_m))
        ]
        yield {
            "room": room.name, "flow_temp_c": flow_temp_c, "answer": _answer(needed[0], needed[2], available_m),
            "heat_loss_w": loss_w, "output_w_m": per_m if per_m > 0.0 else math.nan, "needed_m": needed[0],
            "needed_min_m": needed[1], "needed_max_m": needed[2], "available_m": available_m,
        }  # fmt: skip


def _answer(needed_m: float, max_needed_m: float, available_m: float) -> Answer:
    if not needed_m <= available_m + SHORT_M:
        return "no"
    return "yes" if max_needed_m <= available_m + SHORT_M else "probably"


def _output(survey: SurveyData, flow_temp_c: float) -> dict[str, tuple[float, float, float]]:
    """Net output of a metre in each room with its minimum and maximum, W/m, at the length that the room requires.

    Empty where the design drop cannot be reached.
    """
    at_temp = at_flow_temp(survey, flow_temp_c)
    available = {room.name: room.estimated_wall_m or 0.0 for room in survey.rooms}
    losses = {room.name: float(room.heat_loss_w or 0.0) for room in survey.rooms}
    metres, per_metre = available, dict[str, tuple[float, float, float]]()
    for _ in range(MAX_SIZINGS):
        design = _sized(_with_metres(at_temp, metres))
        if design is None:
            break
        per_metre = _per_metre(design)
        needed = {
            name: min(max(losses[name] / output[0], _min_length_m(survey)), MAX_TIMES * available[name])
            if output[0] > 0.0 else available[name]
            for name, output in per_metre.items()
        }  # fmt: skip
        converged = all(abs(needed[name] - metres[name]) <= LENGTH_TOLERANCE * metres[name] for name in needed)
        metres = {**metres, **needed}
        if converged:
            break
    return per_metre


def _per_metre(design: Design) -> dict[str, tuple[float, float, float]]:
    """Net output of a metre of skirting in each room with its minimum and maximum, W/m."""
    per_metre = {}
    for row in design.rooms.to_dict("records"):
        length_m = float(row["heated_length_m"])
        if length_m > 0.0:
            lost_w = float(row["heat_to_rooms_w"]) - float(row["heat_loss_w"]) - float(row["margin_w"])
            outputs = (float(row[key]) for key in ("heat_to_rooms_w", "output_min_w", "output_max_w"))
            per_m, low_m, high_m = ((output - lost_w) / length_m for output in outputs)
            per_metre[str(row["room"])] = (per_m, low_m, high_m)
    return per_metre


def _sized(survey: SurveyData) -> Design | None:
    """The design of a survey; None where the design drop cannot be reached at that temperature."""
    try:
        return Design.of(size_valid(survey))
    except (InputError, ArithmeticError):
        return None


def _temperature(
    survey: SurveyData, flow_temp_c: float, rooms: Sequence[Mapping[str, Any]], prices: PriceList | None
) -> dict[str, Any]:
    """The row of a flow temperature."""
    answers = [row["answer"] for row in rooms]
    unknown = any(row["needed_m"] != row["needed_m"] for row in rooms)
    total = {key: math.fsum(float(row[key]) for row in rooms) for key in ("needed_m", "needed_min_m", "needed_max_m")}
    costs = dict.fromkeys(("price", "price_min", "price_max"), math.nan)
    if prices is not None and not unknown:
        pairs = (("price", "needed_m"), ("price_min", "needed_min_m"), ("price_max", "needed_max_m"))
        costs = {key: _price(survey, flow_temp_c, rooms, metres, prices) for key, metres in pairs}
    return {
        "flow_temp_c": flow_temp_c,
        "answer": "no" if "no" in answers else "probably" if "probably" in answers else "yes",
        **total,
        "available_m": math.fsum(float(row["available_m"]) for row in rooms),
        "rooms_with_too_little_wall": answers.count("no"),
        "rooms_doubtful": answers.count("probably"),
        **costs,
        "note": "the water cannot give its temperature drop" if unknown else "",
    }


def _price(
    survey: SurveyData, flow_temp_c: float, rooms: Sequence[Mapping[str, Any]], key: str, prices: PriceList
) -> float:
    """Price of the metres that rooms require, limited to the available wall, as ordered; NaN where not calculable."""
    metres = {row["room"]: max(min(float(row[key]), float(row["available_m"])), _min_length_m(survey)) for row in rooms}
    design = _sized(_with_metres(at_flow_temp(survey, flow_temp_c), metres))
    return math.nan if design is None else float(design.parts().price(prices).summary["order_cost"])


def _min_length_m(survey: SurveyData) -> float:
    """The minimum length of a piece of the profiles in use."""
    return max((profile.min_piece_m for profile in survey.profiles), default=0.1)


def _with_metres(survey: SurveyData, metres: Mapping[str, float]) -> SurveyData:
    """The survey with other lengths of skirting in its rooms."""
    loops = tuple(
        replace(
            loop,
            arms=tuple(
                tuple(
                    replace(item, estimated_wall_m=metres[item.room]) if isinstance(item, RouteEstimate) else item
                    for item in arm
                )
                for arm in loop.arms
            ),
        )
        for loop in survey.loops
    )
    rooms = tuple(replace(room, estimated_wall_m=metres[room.name]) for room in survey.rooms)
    return replace(survey, rooms=rooms, loops=loops)


def _lowest(rows: Sequence[Mapping[str, Any]], answers: Sequence[str]) -> float:
    """The lowest temperature from which all answers are among these; NaN where there is none."""
    lowest = math.nan
    for row in reversed(rows):
        if row["answer"] not in answers:
            break
        lowest = float(row["flow_temp_c"])
    return lowest


def _assumptions(survey: SurveyData, loss_range_percent: float, prices: PriceList | None) -> Iterator[str]:
    profiles = ", ".join(profile.name for profile in survey.profiles)
    yield (
        f"Heat losses: from the list of rooms, assumed to be accurate to ± {number(loss_range_percent)} %; a survey "
        "replaces them by calculated ones."
    )
    yield (
        f"Heat output: that of the profile {profiles}, calculated with each uncertain input at both ends of its "
        "tolerance."
    )
    yield (
        "Available wall: the length of wall for skirting in the list of rooms, without a range; measure the walls of "
        "rooms with too little wall."
    )
    yield (
        f"Loops: one for each room, with a temperature drop of {number(survey.project.delta_t_k)} K; skirting in "
        "pieces of 3 m with 10 % waste."
    )
    if prices is not None:
        yield (
            "Prices: from the price file, for the quantities ordered, without labour; in each room for the skirting "
            "needed, or for the available wall if that is shorter. Where a room has too little wall, the skirting that "
            "is priced is not sufficient. An item without a price is not included."
        )
