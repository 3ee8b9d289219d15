"""The least costly survey that passes at each of several flow temperatures."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from heatloop.findings.input_errors import InputError
from heatloop.survey.editing import Survey
from heatloop.survey.energy.model import Year
from heatloop.survey.survey import at_flow_temp
from heatloop.workflows.energy.yearly_energy import yearly_energy
from heatloop.workflows.improve.remedy import Remedy
from heatloop.workflows.improve.remedy_list import for_search, more_for, tried_families
from heatloop.workflows.improve.rows import Measure
from heatloop.workflows.improve.search import Cheapest, cheapest, repaired
from heatloop.workflows.improve.shortcomings import shortcomings
from heatloop.workflows.improve.trial import Trial, Trials


@dataclass(frozen=True, eq=False)
class AtFlowTemp:
    """The search at one flow temperature: the survey there, and what was found; `note` states why nothing was."""

    flow_temp_c: float
    present: Trial | None
    found: Cheapest
    note: str = ""


def at_flow_temps(
    trials: Trials, measure_of: Callable[[Trial], Measure], flow_temps_c: Sequence[float], max_tries: int
) -> Iterator[AtFlowTemp]:
    """The search at each temperature, each starting from the system of the one before."""
    last = trials
    for flow_temp_c in flow_temps_c:
        if flow_temp_c != last.present.survey.project.flow_temp_c:
            try:
                last = _trials_at(trials, last, flow_temp_c)
            except InputError as error:
                yield AtFlowTemp(flow_temp_c, None, Cheapest(None, math.inf, 0), _reason(error))
                continue
        yield _searched(last, measure_of(last.present), flow_temp_c, max_tries)


def _trials_at(trials: Trials, last: Trials, flow_temp_c: float) -> Trials:
    survey: Survey = at_flow_temp(trials.present.survey, flow_temp_c)
    return Trials(survey, trials.said, last.present.system)


def _searched(trials: Trials, measure: Measure, flow_temp_c: float, max_tries: int) -> AtFlowTemp:
    present = trials.present
    failed = [missed for missed in shortcomings(present.verdict) if missed.fails]
    if not failed:
        return AtFlowTemp(flow_temp_c, present, Cheapest(present, 0.0, 0))
    tried = list(tried_families(trials, failed))
    without = [one for one in failed if not any(family.shortcoming is one for family in tried)]
    if without:
        note = f"no remedy is tried for {without[0].check} ({without[0].location})"
        return AtFlowTemp(flow_temp_c, present, Cheapest(None, math.inf, 0), note)
    remedies = for_search(present, tried)
    found = cheapest(trials, remedies, measure, max_tries)
    if found.trial is None and found.nearest is not None:
        more = more_for(present, shortcomings(found.nearest.verdict))
        first_tried, known = found.tried, repaired(trials, found.nearest, more)
        both = (*remedies, *(one for one in more if one not in remedies))
        found = cheapest(trials, both, measure, max_tries, known)
        found = replace(found, tried=first_tried + found.tried)
    return AtFlowTemp(flow_temp_c, present, found, _note(found))


def _note(found: Cheapest) -> str:
    """Why no survey was found; empty where one was."""
    if found.trial is not None:
        return ""
    if math.isinf(found.bound) and found.nearest is None:
        return "no combination of the remedies warms every room"
    if found.nearest is None:
        return f"in each of {found.tried} combinations a room is short of heat"
    missed = found.nearest.verdict.fails[0]
    return f"in {found.tried} combinations at least one check fails, such as {missed.check} ({missed.location})"


def _yearly_cost(survey: Survey, year: Year) -> float:
    cost = yearly_energy(survey, year).summary["cost"]
    return math.nan if cost is None else float(cost)


def _reason(error: InputError) -> str:
    issue = error.issues[0]
    return f"{issue.place}: found {issue.found}; required: {issue.required}"


def flow_temp_row(at: AtFlowTemp, measure: Measure, priced: bool, year: Year | None) -> dict[str, Any]:
    """One row of the table by flow temperature; with a year, it has the cost of its energy."""
    trial, present = at.found.trial, at.present
    remedies: tuple[Remedy, ...] = () if trial is None else trial.remedies
    return {
        "flow_temp_c": at.flow_temp_c,
        "rooms_short": math.nan if present is None else sum(not present.is_warm(room) for room in present.margins_w),
        "checks_failed": math.nan if present is None else len(present.verdict.fails),
        "found": trial is not None,
        "remedies": "; ".join(remedy.words for remedy in remedies),
        "changes": math.nan if trial is None else len(remedies),
        "profile_added_m": math.nan if trial is None else measure.profile_added_m(trial),
        "price_change": math.nan if trial is None or not priced else measure.price_change(trial),
        "yearly_cost": math.nan if trial is None or year is None else _yearly_cost(trial.survey, year),
        "checks_caution": math.nan if trial is None else len(trial.verdict.cautions),
        "bound": math.nan if math.isinf(at.found.bound) else at.found.bound,
        "tried": at.found.tried,
        "assumed": "; ".join(dict.fromkeys(remedy.assumed for remedy in remedies if remedy.assumed)),
        "note": at.note,
    }
