"""Verdict of a design from the checks of heat and water, thermal movement and the closed system.

It requires no cutting plan and no part-load calculation, so it takes a small part of the time of sizing.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from heatloop.findings.limits import CheckResult
from heatloop.findings.verdict import Readiness, Verdict
from heatloop.handover.commissioning.pressure_checks import pressure_checks
from heatloop.handover.commissioning.pressures import pressures
from heatloop.handover.commissioning.water_treatment import treatment_checks, treatment_inputs
from heatloop.handover.second_fix.thermal_movement import hottest_c, movement_checks, plan_movement
from heatloop.hydraulics.analysis.water_content import content_l, contents
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.layout.piece_ends import placed_pieces
from heatloop.results.checks.heat_checks import ROOM_WARM
from heatloop.results.summaries import short_rooms
from heatloop.text.formatting import escape_control_characters, number, plural, significant, unit_text

FITTING_C = 10.0
"""Temperature of the metal on the fitting day, as the parts list assumes it unless stated."""

SCOPE = ("design", "thermal movement", "closed system")


def design_verdict(system: SizedSystem, rooms: pd.DataFrame, checks: pd.DataFrame) -> Verdict:
    """Verdict of a sized system from its tables of rooms and design checks."""
    return verdict_from(rooms, [*_checks_of(checks), *movement_results(system), *closed_system_results(system)])


def verdict_from(rooms: pd.DataFrame, results: Sequence[CheckResult]) -> Verdict:
    """The verdict from checks; `rooms` gives the shortage of each room in W."""
    fails = tuple(result for result in results if result.verdict == "fail")
    cautions = tuple(result for result in results if result.verdict == "caution")
    state: Readiness = "not ready" if fails else "ready with cautions" if cautions else "ready"
    return Verdict(state, _headline(rooms, fails, len(cautions)), fails, cautions, SCOPE)


def movement_results(system: SizedSystem) -> list[CheckResult]:
    """Checks of thermal movement; none for water colder than the fitting temperature."""
    survey = system.survey
    fitting_c = min([FITTING_C, *(hottest_c(survey, loop) for loop in survey.loops)])
    return movement_checks(plan_movement(survey, placed_pieces(survey, system.layout), fitting_c))


def closed_system_results(system: SizedSystem) -> list[CheckResult]:
    """Checks of pressures and water treatment."""
    held_l = content_l(contents(system.survey, system.layout, system.state.network))
    warmest_c = float(system.state.supply_c.max())
    filling_pressures = pressures(system.survey, system.layout, held_l, warmest_c, system.fluid)
    return [*pressure_checks(filling_pressures), *treatment_checks(treatment_inputs(system.survey, held_l))]


def _checks_of(checks: pd.DataFrame) -> list[CheckResult]:
    """The rows of a table of checks."""
    return [CheckResult(**{str(key): value for key, value in row.items()}) for row in checks.to_dict("records")]


def _headline(rooms: pd.DataFrame, fails: Sequence[CheckResult], cautions: int) -> str:
    """Short rooms first, then limits that are not met, then cautions."""
    if fails:
        return f"Not ready for installation: {_reason(rooms, fails)}."
    if cautions:
        return f"No check fails; resolve {plural(cautions, 'caution')} before installation."
    return "All limits are met."


def _reason(rooms: pd.DataFrame, fails: Sequence[CheckResult]) -> str:
    short = short_rooms(rooms)
    others = [failed for failed in fails if failed.check != ROOM_WARM.check]
    if short.empty:
        return (
            _limit_words(others[0]) if len(others) == 1 else f"{plural(len(fails), 'limit is', 'limits are')} not met"
        )
    name, margin_w = short["room"].iloc[0], short["margin_w"].iloc[0]
    cold = (
        f"{escape_control_characters(name)} receives {number(-margin_w)} W less than its heat loss plus back loss"
        if len(short) == 1
        else f"{len(short)} of {plural(len(rooms), 'room')} receive less than their heat loss plus back loss"
    )
    more = len(others)
    return cold + (f", and {plural(more, 'other limit is', 'other limits are')} not met" if more else "")


def _limit_words(check: CheckResult) -> str:
    """One limit that is not met: what, where and by how much."""
    name = escape_control_characters(f"{check.check}, {check.location}")
    unit = unit_text(check.unit)
    side = "at least" if check.calculated < check.limit else "at most"
    return (
        f"{name}: {significant(check.calculated)} {unit}, required {side} {significant(check.limit)} {unit}".strip()
        if unit
        else name
    )
