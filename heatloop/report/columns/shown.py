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
        "loop", "arm", "valve", "real_setting", "heads_off_flow_l_h", "least_flow_l_h", "most_flow_l_h", "flow_temp_c",
        "heads_off_return_temp_c", "target_flow_l_h", "design_return_temp_c",
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
        "loop", "valve", "real_setting", "heads_off_flow_l_h", "flow_temp_c", "heads_off_return_temp_c",
        "target_flow_l_h",
    ),
}  # fmt: skip
"""Columns of tables on the sheet for site, without its boxes to fill in."""
