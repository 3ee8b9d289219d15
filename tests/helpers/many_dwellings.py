"""Rows of many dwellings compared with the designs of the same surveys, sized one by one."""

import math

import numpy as np

import heatloop as hl
from heatloop.results.checks.heat_checks import LINK
from heatloop.results.checks.limits import AUTHORITY, QUIET_SHUT, RESIDUAL, ROUNDED, SENSED, SHUT

NOT_MADE = {limit.check for limit in (AUTHORITY, LINK, QUIET_SHUT, RESIDUAL, ROUNDED, SENSED, SHUT)}
"""Checks of a design that require more than its sized state."""

OF_SUMMARY = (
    "outdoor_c", "flow_temp_c", "return_temp_c", "heat_loss_w", "back_loss_w", "heat_to_rooms_w", "source_heat_w",
    "pump_flow_l_h", "pump_head_kpa", "index_loop", "rooms", "loops",
)  # fmt: skip


def deviations(sized: hl.SizedDwellings, name: str, design: hl.Design) -> dict[str, float]:
    """Greatest deviation of each column of a dwelling from its design, as a share of the greatest figure of its kind.

    Differences of figures, as margins, are compared with the figures that they are the difference of. Infinite where
    texts, flags, missing values or the checks that are not met differ.
    """
    found: dict[str, float] = {}
    for table, scale_of in (("rooms", {"margin_w": "heat_loss_w"}), ("loops", {"temperature_drop_k": "flow_temp_c"})):
        frame, other = getattr(sized, table), getattr(design, table)
        own = frame[frame["dwelling"] == name].reset_index(drop=True)
        for column in own.columns[1:]:
            scale = scale_of.get(column, column)
            found[f"{table}.{column}"] = _apart(own[column].tolist(), other[column].tolist(), other[scale].tolist())
    row = sized.dwellings.set_index("dwelling").loc[name]
    for column in OF_SUMMARY:
        found[f"dwellings.{column}"] = _apart([row[column]], [design.summary[column]], [design.summary[column]])
    mine, other = _unmet(sized, name), _unmet_of(design)
    found["unmet checks"] = 0.0 if mine.keys() == other.keys() else math.inf
    if mine.keys() == other.keys():
        found["calculated"] = max((_apart([mine[key]], [other[key]], [other[key]]) for key in mine), default=0.0)
    for outcome in ("failed", "caution"):
        counted = sum(key[2] == ("fail" if outcome == "failed" else outcome) for key in other)
        found[f"checks_{outcome}"] = 0.0 if row[f"checks_{outcome}"] == counted else math.inf
    return found


def _apart(mine: list[object], other: list[object], scale: list[object]) -> float:
    if len(mine) != len(other):
        return math.inf
    if any(isinstance(value, str | bool) for value in other):
        return 0.0 if mine == other else math.inf
    one, two, size = (np.array(values, float) for values in (mine, other, scale))
    if (np.isnan(one) != np.isnan(two)).any():
        return math.inf
    return float(np.nanmax(np.abs(one - two) / np.maximum(np.abs(size), 1.0), initial=0.0))


def _unmet(sized: hl.SizedDwellings, name: str) -> dict[tuple[str, str, str], float]:
    rows = sized.unmet_checks[sized.unmet_checks["dwelling"] == name]
    return {(r["check"], r["location"], r["verdict"]): r["calculated"] for r in rows.to_dict("records")}


def _unmet_of(design: hl.Design) -> dict[tuple[str, str, str], float]:
    rows = design.checks[(design.checks["verdict"] != "pass") & ~design.checks["check"].isin(NOT_MADE)]
    return {(r["check"], r["location"], r["verdict"]): r["calculated"] for r in rows.to_dict("records")}
