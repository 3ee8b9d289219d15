"""Columns and key figures shown on pages and sheets; the workbook and the CSV files contain all."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.report.columns.registry import SUMMARY

NOT_OF_THE_JOB = (
    *("verdict", "checks_failed", "checks_caution", "iterations"),
    *("pipe_loss_w", "downward_loss_w", "back_loss_w"),  # the table of the source's heat has them
)
JOB = tuple(c.name for c in SUMMARY if c.kind != "residual" and c.name not in NOT_OF_THE_JOB)
"""Key figures of the project."""

BALANCES = tuple(c.name for c in SUMMARY if c.kind == "residual" or c.name == "iterations")
"""Residuals of the solved balances."""

PAGE: Mapping[str, tuple[str, ...]] = {
    "fill_and_vent": ("step", "stage", "loop", "arm", "action", "safety_notices"),
    "purging": (
        "loop", "arm", "purge_velocity_m_s", "purge_flow_l_h", "head_kpa", "pump_head_kpa", "pump_velocity_m_s",
        "hose_pressure_kpa", "drive",
    ),
    "commissioning": (
        "loop", "arm", "valve", "set_to", "flow_heads_removed_l_h", "min_flow_l_h", "max_flow_l_h",
        "expected_flow_temp_c",
        "return_temp_heads_removed_c", "target_flow_l_h", "design_return_temp_c",
    ),
}  # fmt: skip
"""Columns of tables on a page, in order; all of those that are not named here."""

REPORT: Mapping[str, tuple[str, ...]] = {
    "rooms": (
        "room", "indoor_c", "heat_loss_w", "back_loss_w", "heat_to_rooms_w", "output_min_w", "output_max_w", "margin_w",
        "coverage", "heated_length_m", "free_wall_m", "is_estimate",
    ),
    "heat_loss_by_element": (
        "room", "heat_loss_w", "loss_walls_w", "loss_windows_w", "loss_doors_w", "loss_floor_w", "loss_ceiling_w",
        "loss_thermal_bridges_w", "loss_ventilation_w", "reheat_w",
    ),
    "output_range_all": ("assumption_varied", "counts_in_range", "output_w", "change_w", "change_percent"),
    "output_range_each": ("room", "assumption_varied", "counts_in_range", "output_w", "change_w", "change_percent"),
    "glazing_comfort": (
        "room", "opening", "glass_temp_c", "below_opening", "covered_width_m", "skirting_w_m", "pane_loss_w_m",
        "covered_share", "velocity_1m_m_s", "draught_rate_percent", "asymmetry_dissatisfied_percent",
    ),
    "loops": (
        "loop", "rooms", "arrangement", "heated_length_m", "flow_l_h", "flow_temp_c", "return_temp_c",
        "temperature_drop_k", "heat_to_rooms_w",
    ),
    "loop_pressures": (
        "loop", "trunk", "flow_l_h", "pressure_drop_kpa", "available_pressure_kpa",
        "valve_pressure_drop_kpa", "valve_kv_m3_h",
        "max_velocity_m_s", "water_content_l", "is_index_loop",
    ),
    "transitional_loops": ("loop", "pressure_drop_kpa", "pressure_drop_laminar_kpa", "pressure_drop_turbulent_kpa"),
    "valves": (
        "loop", "arm", "side", "valve", "is_balancing", "calculated_setting", "nearest_setting", "target_flow_l_h",
        "achieved_flow_l_h", "open_pressure_drop_kpa", "closing_pressure_kpa", "authority",
    ),
    "parts": (
        "item", "kind", "net_quantity", "allowance", "order_quantity", "unit", "pack_count", "pack",
        "is_estimate", "note",
    ),
    "pieces": ("label", "wall", "mounting", "wall_length_m", "cut_length_mm", "left_end", "right_end", "free_end"),
    "thermal_movement": (
        "straight_length", "length_m", "expansion_mm", "free_end", "fixed_end", "gap_mm", "verdict", "recommendation",
    ),
}  # fmt: skip
"""Columns of the tables of the design report by its section; a section that is not named here shows all columns."""
