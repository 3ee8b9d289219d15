"""Recommendations from the checks: location, calculated value, limit and recommended change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.results.checks.heat_checks import ROOM_WARM
from heatloop.text.formatting import escape_control_characters, number, short_listing, significant, unit_text


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
            of_loss = " of its heat loss and back loss" if single and check == ROOM_WARM.check else ""
            description = (
                f"{check}: calculated {short_listing(values)}{of_loss}, must be {side} {_figure(check, limit, unit)}"
            )
            names = list(group["location"])
            where = (
                "; ".join(names) if len(names) <= 4 and any(", " in name for name in names) else short_listing(names)
            )
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


def _figure(check: object, value: object, unit: object) -> str:
    if check == ROOM_WARM.check:
        return f"{number(100.0 * float(str(value)))} %"
    figure = significant(float(str(value)))
    return f"Re {figure}" if unit == "Re" else f"{figure} {unit_text(unit)}".strip()


def _sentence(words: object) -> str:
    text = escape_control_characters(words).strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') or not text else '.'}"
