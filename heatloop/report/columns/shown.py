"""Which columns and key figures a page or a sheet has room for; the workbook and the CSV files have all."""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.report.columns.registry import SUMMARY

NOT_OF_THE_JOB = (
    *("verdict", "checks_failed", "checks_caution", "iterations"),
    *("pipe_loss_w", "downward_loss_w", "back_loss_w"),  # the table of the source's heat has them
)
JOB = tuple(c.name for c in SUMMARY if c.kind != "residual" and c.name not in NOT_OF_THE_JOB)
"""Key figures of the job."""

BALANCES = tuple(c.name for c in SUMMARY if c.kind == "residual" or c.name == "iterations")
"""By how much the solved balances miss."""

PAGE: Mapping[str, tuple[str, ...]] = {
    "fill_and_vent": ("step", "stage", "loop", "arm", "action", "safety_notices"),
    "purging": (
        "loop", "arm", "purge_velocity_m_s", "purge_flow_l_h", "head_kpa", "pump_head_kpa", "pump_velocity_m_s",
        "hose_pressure_kpa", "drive",
    ),
    "commissioning": (
        "loop", "arm", "valve", "set_to", "target_flow_l_h", "expected_flow_l_h", "expected_flow_temp_c",
        "expected_return_temp_c",
        "temperature_drop_k", "flow_heads_removed_l_h", "return_temp_heads_removed_c",
    ),
}  # fmt: skip
"""Columns of tables on a page, in order; all of those that are not named here."""

SHEET: Mapping[str, tuple[str, ...]] = {
    "water_record": ("item", "target", "unit"),
    "user_guide": ("topic", "text"),
    "fill_and_vent": ("step", "stage", "loop", "action", "safety_notices"),
    "purging": (
        "loop", "purge_velocity_m_s", "purge_flow_l_h", "slowest_section", "head_kpa", "pump_head_kpa",
        "pump_velocity_m_s", "hose_pressure_kpa", "drive",
    ),
    "annual_checks": ("check", "criterion", "responsible", "safety_notices"),
    "commissioning": (
        "loop", "valve", "set_to", "target_flow_l_h", "expected_flow_l_h", "expected_flow_temp_c",
        "expected_return_temp_c",
        "flow_heads_removed_l_h", "return_temp_heads_removed_c",
    ),
}  # fmt: skip
"""Columns of tables on the sheet for site, without its boxes to fill in."""
