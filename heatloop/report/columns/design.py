"""What every column of a design's tables is called, how it is written and what it means.

Headings carry their units in the words of the trade. The page, the workbook and the plain-text
listing all read these, so that a number is called the same wherever it appears.
"""

from __future__ import annotations

from collections.abc import Mapping

from heatloop.report.columns.column import Column, TableSpec, undescribed
from heatloop.report.columns.column import count_column as _count
from heatloop.report.columns.column import number_column as _number
from heatloop.report.columns.column import residual_column as _residual
from heatloop.report.columns.column import text_column as _text
from heatloop.report.columns.commissioning import SITE_TABLES
from heatloop.report.columns.heat import HEAT_TABLES, LOSS_BY_KIND
from heatloop.report.columns.hydraulics import ACHIEVED, PUMP_CURVES, PUMPS, SENSORS, SHUT, VALVES
from heatloop.report.columns.parts import PARTS_TABLES

__all__ = ["BALANCES", "JOB", "SUMMARY", "TABLES", "Column", "TableSpec", "table_spec", "undescribed"]

_LOOPS = TableSpec(
    "loops",
    "Loops",
    "One row for each loop at the design condition.",
    (
        _text("loop", "Loop"),
        _text("rooms", "Rooms", "the rooms it heats, in water order"),
        _text("arrangement", "Arrangement", "how the water goes through the channels"),
        _text("trunk", "Trunk", "the pair of pipes it shares; blank where it joins at the source"),
        _number("heated_length_m", "Heated length", "m", 2, "skirting that gives heat"),
        _number("flow_l_h", "Flow", "l/h", 0, "water through the loop; set this at commissioning"),
        _number("flow_temp_c", "Flow temperature", "°C", 1, "where the tails leave the distribution"),
        _number("return_temp_c", "Return temperature", "°C", 1, "where the tails come back"),
        _number("delta_t_k", "Temperature drop", "K", 1, "flow less return"),
        _number("output_w", "Output", "W", 0, "heat given to the rooms"),
        _number("pipe_loss_w", "Pipe loss", "W", 0, "heat that tails and crossings lose"),
        _number("down_loss_w", "Loss downwards", "W", 0, "heat that sills lose into the floor"),
        _number("pressure_drop_kpa", "Drop, valve open", "kPa", 2, "pressure that the loop takes, its valve wide open"),
        _number("drop_if_laminar_kpa", "If laminar", "kPa", 2, "the same, flow between Re 2000 and 4000 laminar"),
        _number("drop_if_turbulent_kpa", "If turbulent", "kPa", 2, "the same, flow between Re 2000 and 4000 turbulent"),
        _number("max_velocity_m_s", "Highest velocity", "m/s", 2, "in the tightest waterway of the loop"),
        _number("water_l", "Water content", "l", 1),
        Column("valve_setting", "Presetting", "", "number", 1, False, "of the balancing valve, on its own scale"),
        _number("valve_kv_m3_h", "Valve Kv", "m³/h", 3, "of the balancing valve at its presetting"),
        _number("valve_drop_kpa", "Valve drop", "kPa", 2, "pressure that the balancing valve takes up"),
        _number("available_kpa", "Available pressure", "kPa", 2, "from flow to return where the tails join"),
        Column("index", "Index loop", "", "flag", meaning="the loop that decides the pump's head"),
        *ACHIEVED,
    ),
)

_ROOMS = TableSpec(
    "rooms",
    "Rooms",
    "One row for each room at the outdoor design temperature.",
    (
        _text("room", "Room"),
        _number("indoor_c", "Indoor", "°C", 1, "the temperature the room is to keep"),
        _number("heat_loss_w", "Heat loss", "W", 0, "at the outdoor design temperature"),
        _number("back_loss_w", "Back loss", "W", 0, "extra, through the warmed wall behind the skirting"),
        _number("down_loss_w", "Loss downwards", "W", 0, "heat that sills lose into the floor, not part of the output"),
        _number("output_w", "Output", "W", 0, "from skirting, other emitters and pipes in the room"),
        _number("output_low_w", "At least", "W", 0, "the least of the table of how sure the outputs are"),
        _number("output_high_w", "At most", "W", 0, "the most of that table"),
        Column(
            "margin_w", "Margin", "W", "number", 0, True, "output less heat loss and back loss; a minus is a shortage"
        ),
        Column("coverage", "Coverage", "%", "percent", 0, meaning="output as a share of the heat loss"),
        _number("heated_length_m", "Heated length", "m", 2, "skirting that gives heat"),
        _number("spare_wall_m", "Spare wall", "m", 2, "wall that could carry skirting and does not"),
        _text("loss_stated_by", "Heat loss by", "who stated it; blank where it is calculated here"),
        Column("estimate", "Estimate", "", "flag", meaning="quoted before a survey"),
        *LOSS_BY_KIND,
    ),
)

_CHECKS = TableSpec(
    "checks",
    "Checks",
    "Every limit that was tried, what was found and what would mend it.",
    (
        Column("verdict", "Verdict", "", "verdict"),
        _text("check", "Check"),
        _text("subject", "Where"),
        Column("value", "Found", "", "figure"),
        Column("limit", "Limit", "", "figure"),
        Column("unit", "Unit", kind="unit"),
        _text("source", "Source of the limit"),
        _text("remedy", "What would mend it"),
    ),
)

_CHECKS_MET = TableSpec(
    "checks_met",
    "Limits that are met",
    "Each limit once, with the range that was found.",
    (
        _text("check", "Check"),
        _text("subject", "Where"),
        _text("found", "Found"),
        Column("limit", "Limit", "", "figure"),
        Column("unit", "Unit", kind="unit"),
        _text("source", "Source of the limit"),
    ),
)

_ELEMENTS = TableSpec(
    "elements",
    "Elements in water order",
    "All that the water of each loop passes; a there-and-back run lists each piece once a channel.",
    (
        _text("loop", "Loop"),
        _count("position", "Place", "order along the water"),
        _text("kind", "Kind"),
        _text("label", "Label"),
        _text("room", "Room"),
        _count("arm", "Arm", "the second arm of a loop fed from the middle is 2"),
        _count("channel", "Channel", "0 where it is the only one or all are meant"),
        _text("direction", "Direction", "flow: out from the tails; return: home to them"),
        _count("wall", "Wall"),
        _number("from_m", "From", "m", 3, "from the left-hand end of the wall as you face it"),
        _number("to_m", "To", "m", 3, "from the left-hand end of the wall as you face it"),
        _number("length_m", "Length", "m", 3),
        _number("flow_kg_s", "Mass flow", "kg/s", 5),
        _number("temp_in_c", "Water in", "°C", 2),
        _number("temp_out_c", "Water out", "°C", 2),
        _number("output_w", "Output", "W", 1),
        _count("reynolds", "Reynolds number", "below 2000 laminar, above 4000 turbulent"),
        _number("velocity_m_s", "Velocity", "m/s", 3),
        _number("pressure_drop_pa", "Pressure drop", "Pa", 1),
        _number("pressure_in_kpa", "Head at inlet", "kPa", 3, "above the loop's return connection"),
    ),
)

_ALONG = TableSpec(
    "along",
    "Water temperature along loops",
    "Points along each waterway, for plotting.",
    (
        _text("loop", "Loop"),
        _count("arm", "Arm"),
        _count("channel", "Channel"),
        _text("direction", "Direction"),
        _number("distance_m", "Distance", "m", 3, "water travelled since the start of the run"),
        _text("label", "Label"),
        _text("room", "Room"),
        _number("temp_c", "Water temperature", "°C", 2),
        _number("surface_c", "Surface temperature", "°C", 2, "of the channel's wall"),
    ),
)

_ASSUMPTIONS = TableSpec(
    "assumptions",
    "Assumptions and sources",
    "What was taken as given, and where it comes from.",
    (_text("topic", "Topic"), _text("assumption", "Assumption"), _text("source", "Source")),
)

TABLES: Mapping[str, TableSpec] = {
    spec.name: spec
    for spec in (
        *(_ROOMS, _LOOPS, VALVES, PUMPS, PUMP_CURVES, SHUT, SENSORS),
        *(_CHECKS, _CHECKS_MET, _ELEMENTS, _ALONG, _ASSUMPTIONS),
        *HEAT_TABLES,
        *PARTS_TABLES,
        *SITE_TABLES,
    )
}

SUMMARY: tuple[Column, ...] = (
    _text("project", "Project"),
    Column("verdict", "Verdict", "", "verdict"),
    _count("checks_failed", "Checks that fail"),
    _count("checks_caution", "Cautions"),
    _number("outdoor_c", "Outdoor design temperature", "°C", 1),
    _number("flow_temp_c", "Flow temperature at the source", "°C", 1),
    _number("return_temp_c", "Return temperature at the source", "°C", 1),
    _number("heat_loss_w", "Heat loss of all rooms", "W", 0),
    _number("building_load_w", "Load of the building", "W", 0),
    _number("output_w", "Output of all loops", "W", 0),
    _number("source_w", "Heat drawn from the source", "W", 0),
    _number("pipe_loss_w", "Of it lost from the loops' pipes", "W", 0),
    _number("trunk_loss_w", "Of it lost from trunks", "W", 0),
    _number("down_loss_w", "Of it lost below sills", "W", 0),
    _number("back_loss_w", "Of the output, out through walls behind the skirting", "W", 0),
    _number("source_output_kw", "Output the source can give", "kW", 1),
    _number("pump_flow_l_h", "Pump flow", "l/h", 0),
    _number("pump_head_kpa", "Pump head needed", "kPa", 2),
    _text("pump_control", "Pump runs"),
    _number("pump_head_available_kpa", "Pump head available at that flow", "kPa", 2),
    _number("pump_flow_plain_l_h", "Pump flow with plain water", "l/h", 0),
    _number("pump_head_plain_kpa", "Pump head needed with plain water", "kPa", 2),
    _text("index_loop", "Index loop"),
    _number("system_water_l", "Water in the system", "l", 1),
    _number("open_water_l", "Water that stays open with thermostatic valves shut", "l", 1),
    _number("open_flow_l_h", "Flow that no thermostatic valve can shut", "l/h", 0),
    _count("rooms", "Rooms"),
    _count("loops", "Loops"),
    _count("iterations", "Iterations"),
    _residual("residual_mass", "Mass balance misses by"),
    _residual("residual_head", "Head balance misses by"),
    _residual("residual_energy", "Energy balance misses by"),
    _residual("residual_inlet", "Inlet temperature misses by"),
)


NOT_OF_THE_JOB = (
    *("verdict", "checks_failed", "checks_caution", "iterations"),
    *("pipe_loss_w", "down_loss_w", "back_loss_w"),  # the table of the source's heat has them
)
JOB = tuple(
    c.name for c in SUMMARY
    if c.kind != "residual" and c.name not in NOT_OF_THE_JOB
)  # fmt: skip
BALANCES = tuple(c.name for c in SUMMARY if c.kind == "residual" or c.name == "iterations")


def table_spec(name: str) -> TableSpec:
    """The description of that table; one made from its name where none is written."""
    return TABLES.get(name) or TableSpec(name, name.replace("_", " ").capitalize(), "", ())
