"""Which columns and key figures a page or a sheet has room for; the workbook and the CSV files have all."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.report.columns.registry import SUMMARY

NOT_OF_THE_JOB = (
    *("verdict", "checks_failed", "checks_caution", "iterations"),
    *("pipe_loss_w", "down_loss_w", "back_loss_w"),  # the table of the source's heat has them
)
JOB = tuple(c.name for c in SUMMARY if c.kind != "residual" and c.name not in NOT_OF_THE_JOB)
"""Key figures of the job."""

BALANCES = tuple(c.name for c in SUMMARY if c.kind == "residual" or c.name == "iterations")
"""By how much the solved balances miss."""

PAGE: Mapping[str, tuple[str, ...]] = {
    "fill_and_vent": ("step", "stage", "loop", "arm", "action", "caution"),
    "purge": (
        "loop", "arm", "sweep_m_s", "purge_flow_l_h", "head_kpa", "pump_head_kpa", "pump_sweep_m_s", "hose_needed_kpa",
        "drive",
    ),
    "commissioning": (
        "loop", "arm", "valve", "real_setting", "target_flow_l_h", "flow_today_l_h", "flow_temp_c", "return_temp_c",
        "delta_t_k", "heads_off_flow_l_h", "heads_off_return_temp_c",
    ),
}  # fmt: skip
"""Columns of tables on a page, in order; all of those that are not named here."""

SHEET: Mapping[str, tuple[str, ...]] = {
    "water_record": ("item", "target", "unit"),
    "user_page": ("topic", "text"),
    "fill_and_vent": ("step", "stage", "loop", "action", "caution"),
    "purge": (
        "loop", "sweep_m_s", "purge_flow_l_h", "slowest", "head_kpa", "pump_head_kpa", "pump_sweep_m_s",
        "hose_needed_kpa", "drive",
    ),
    "yearly_checks": ("check", "look_for", "by", "caution"),
    "commissioning": (
        "loop", "valve", "real_setting", "target_flow_l_h", "flow_today_l_h", "flow_temp_c", "return_temp_c",
        "heads_off_flow_l_h", "heads_off_return_temp_c",
    ),
}  # fmt: skip
"""Columns of tables on the sheet for site, without its boxes to fill in."""

REPORT: Mapping[str, tuple[str, ...]] = {
    "rooms": (
        "room", "indoor_c", "heat_loss_w", "back_loss_w", "output_w", "output_low_w", "output_high_w", "margin_w",
        "coverage", "heated_length_m", "spare_wall_m", "estimate",
    ),
    "heat_loss_by_element": (
        "room", "heat_loss_w", "loss_walls_w", "loss_windows_w", "loss_doors_w", "loss_floor_w", "loss_ceiling_w",
        "loss_bridges_w", "loss_air_w", "loss_reheat_w",
    ),
    "output_range_all": ("variant", "in_band", "output_w", "change_w", "change_percent"),
    "output_range_each": ("room", "variant", "in_band", "output_w", "change_w", "change_percent"),
    "glazing_comfort": (
        "room", "opening", "glass_c", "before", "covered_m", "skirting_w_m", "pane_loss_w_m", "made_good",
        "velocity_m_s", "draught_rate_percent", "asymmetry_percent",
    ),
    "loops": (
        "loop", "rooms", "arrangement", "heated_length_m", "flow_l_h", "flow_temp_c", "return_temp_c", "delta_t_k",
        "output_w",
    ),
    "loop_pressures": (
        "loop", "trunk", "flow_l_h", "pressure_drop_kpa", "available_kpa", "valve_drop_kpa", "valve_kv_m3_h",
        "max_velocity_m_s", "water_l", "index",
    ),
    "transitional_loops": ("loop", "pressure_drop_kpa", "drop_if_laminar_kpa", "drop_if_turbulent_kpa"),
    "valves": (
        "loop", "arm", "side", "valve", "balancing", "setting", "real_setting", "target_l_h", "achieved_l_h",
        "error_percent", "drop_kpa", "authority",
    ),
    "parts": (
        "item", "kind", "net_quantity", "allowance", "order_quantity", "unit", "packs", "pack", "estimate", "note",
    ),
    "pieces": ("label", "wall", "laid", "tape_m", "cut_mm", "left_end", "right_end", "free_end"),
    "thermal_movement": (
        "straight", "length_m", "growth_mm", "free_end", "held_end", "gap_mm", "verdict", "remedy",
    ),
}  # fmt: skip
"""Columns of the tables of the design report by its section; a section that is not named here shows all columns."""
