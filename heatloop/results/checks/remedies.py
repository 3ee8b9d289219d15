"""Recommendations from the checks: location, calculated value, limit and recommended change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.findings.limits import YES_OR_NO
from heatloop.results.checks.heat_checks import DRAUGHT, ROOM_WARM
from heatloop.results.checks.limits import (
    ARM_SHARE,
    BALANCE,
    BETWEEN,
    DEAD_HEAD,
    PUMP_RESERVE,
    SENSED,
    SOURCE_OUTPUT,
    TURBULENT_RE,
)
from heatloop.text.formatting import escape_control_characters, number, percent, short_listing, significant, unit_text

REFERENCES = {
    ROOM_WARM.check: " of heat loss plus back loss",
    SENSED.check: (
        ". The figure is the net heat to the room (heat to the room minus back loss) as a share of its heat loss, "
        "while that sensor throttles the valve"
    ),
    BALANCE.check: ", the Kv of the smallest setting of the valve",
    PUMP_RESERVE.check: " times the required head",
    ARM_SHARE.check: " times its share by length",
    DRAUGHT.check: " of persons dissatisfied",
    DEAD_HEAD.check: " (any flow)",
}
"""Quantity to which the limit of a check without a unit, or in per cent, refers."""

SHARES = (ROOM_WARM.check, SENSED.check)
"""Checks of a share that is printed in per cent."""


@dataclass(frozen=True)
class Recommendation:
    """One check that is not met: location, value and limit, and the recommended change."""

    verdict: str
    where: str
    what: str
    remedy: str


def recommended_changes(checks: pd.DataFrame) -> list[Recommendation]:
    """Failed checks, then cautions; one check with the same limit at several locations gives one recommendation."""
    recommendations = []
    for standing in ("fail", "caution"):
        rows = checks[checks["verdict"] == standing]
        for (check, limit, unit, remedy), group in rows.groupby(
            ["check", "limit", "unit", "recommendation"], sort=False
        ):
            single = len(group) == 1
            values = [
                _figure(check, v, unit) if single else f"{_figure(check, v, unit)} ({escape_control_characters(s)})"
                for v, s in zip(group["calculated"], group["location"], strict=True)
            ]
            side = "at least" if group["calculated"].iloc[0] < float(str(limit)) else "at most"
            found = f"{short_listing(values)}; required: {_required(side, check, limit, unit)}"
            description = f"{check}: {'not met' if unit == YES_OR_NO else found}"
            names = list(group["location"])
            divided = any(", " in name or " and " in name for name in names)
            more = [f"{len(names) - 4} more"] if len(names) > 4 else []
            where = "; ".join([*names[:4], *more]) if divided else short_listing(names)
            recommendations.append(
                Recommendation(
                    standing,
                    escape_control_characters(where),
                    escape_control_characters(description),
                    _sentence(remedy),
                )
            )
    return recommendations


def source_output_remedy(summary: Mapping[str, Any]) -> str:
    """What to do about a source output that is too small, and of what the heat that it has to give consists."""
    load_w = summary["building_load_w"]
    load, lost = (significant(heat_w / 1000.0) for heat_w in (load_w, summary["source_required_w"] - load_w))
    return (
        f"{SOURCE_OUTPUT.remedy}: required are {load} kW for the load of the building, and {lost} kW for the losses "
        "from pipes, trunks and floor sections, and through the walls behind the skirting"
    )


def source_draw_remedy(summary: Mapping[str, Any], remedy: str) -> str:
    """What to do about open valves that draw more than the source output, by what this output is enough for.

    `remedy`: where the flow temperature cannot be lowered so far that open valves draw no more than the output.
    """
    output_w, required_w = 1000.0 * summary["source_output_kw"], summary["source_required_w"]
    warm_c, warm_w = summary["warm_flow_temp_c"], summary["warm_source_heat_w"]
    required = source_required_words(required_w / 1000.0)
    if required_w > output_w:
        return f"{SOURCE_OUTPUT.remedy}: {required}"
    if warm_c is None or warm_c != warm_c:
        return f"{remedy}; {required}"
    warm = f"all rooms are warm from {number(warm_c, 1)} °C, which draws {significant(warm_w / 1000.0)} kW"
    if warm_w <= output_w:
        return f"lower the flow temperature ({warm}), or {remedy}"
    return f"{remedy}; {required}. A lower flow temperature is not enough with all valves open: {warm}"


def source_required_words(required_kw: float) -> str:
    """The heat that the source has to give so that all rooms are warm."""
    return f"if no room receives more than it requires, the source has to give {significant(required_kw)} kW"


def source_draw_words(summary: Mapping[str, Any]) -> str:
    """The heat drawn with all valves open, the source output below it, and the flow temperature that it can hold."""
    held_c = summary["held_flow_temp_c"]
    held = "" if held_c is None or held_c != held_c else f"; it can hold {number(held_c, 1)} °C"
    return (
        f"with all valves open, {significant(summary['source_heat_w'] / 1000.0)} kW would be drawn; the source output "
        f"is {significant(summary['source_output_kw'])} kW, so the water would not reach "
        f"{number(summary['flow_temp_c'], 1)} °C{held}"
    )


def _required(side: str, check: object, limit: object, unit: object) -> str:
    """The limit in words: at most or at least a figure, or outside the range between laminar and turbulent."""
    other = f" or at least {_figure(check, TURBULENT_RE, unit)}" if check == BETWEEN.check else ""
    figure = f"{number(100.0 * float(str(limit)))} %" if check in SHARES else _figure(check, limit, unit)
    return f"{side} {figure}{other}{REFERENCES.get(str(check), '')}"


def _figure(check: object, value: object, unit: object) -> str:
    if check in SHARES:
        return f"{percent(float(str(value)))} %"
    figure = significant(float(str(value)))
    return f"Re {figure}" if unit == "Re" else f"{figure} {unit_text(unit)}".strip()


def _sentence(words: object) -> str:
    text = escape_control_characters(words).strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') or not text else '.'}"
