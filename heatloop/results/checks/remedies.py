"""Recommendations from the checks: location, calculated value, limit and recommended change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.findings.limits import YES_OR_NO
from heatloop.results.checks.heat_checks import DRAUGHT, ROOM_WARM
from heatloop.results.checks.limits import ARM_SHARE, BALANCE, BETWEEN, DEAD_HEAD, PUMP_RESERVE, SENSED, TURBULENT_RE
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


def source_draw_remedy(summary: Mapping[str, Any]) -> str:
    """The lowest flow temperature at which all rooms are warm, and the heat drawn then; empty where it is unknown."""
    warm_c, warm_w = summary["warm_flow_temp_c"], summary["warm_source_heat_w"]
    if warm_c is None or warm_c != warm_c:
        return ""
    return f"; all rooms are warm from {number(warm_c, 1)} °C, which draws {number(warm_w / 1000.0, 1)} kW"


def source_draw_words(summary: Mapping[str, Any]) -> str:
    """The heat drawn with all valves open, the source output below it, and the flow temperature that it can hold."""
    held_c = summary["held_flow_temp_c"]
    held = "" if held_c is None or held_c != held_c else f"; it can hold {number(held_c, 1)} °C"
    return (
        f"with all valves open, {number(summary['source_heat_w'] / 1000.0, 1)} kW would be drawn; the source output is "
        f"{number(summary['source_output_kw'], 1)} kW, so the water would not reach "
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
