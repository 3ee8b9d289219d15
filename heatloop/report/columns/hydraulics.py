"""Columns of the tables of the water side: valves, pumps, and what happens when a loop shuts."""

from __future__ import annotations

from heatloop.report.columns.column import Column, TableSpec
from heatloop.report.columns.column import count_column as _count
from heatloop.report.columns.column import number_column as _number
from heatloop.report.columns.column import text_column as _text

ACHIEVED = (
    _number("target_l_h", "Target flow", "l/h", 0, "what the design wants"),
    _number("achieved_l_h", "Achieved flow", "l/h", 0, "with every valve at a real setting"),
    Column("error_percent", "Error", "%", "number", 1, True, "achieved flow over target flow, less one"),
)

VALVES = TableSpec(
    "valves",
    "Valves",
    "Every valve of every loop at the design condition.",
    (
        _text("loop", "Loop"),
        _count("arm", "Arm", "the arm it serves; 0 serves the whole loop"),
        _text("side", "Side", "on the flow or the return"),
        _text("valve", "Valve"),
        Column("balancing", "Balances", "", "flag", meaning="its presetting shares out the flow"),
        _number("kv_m3_h", "Kv", "m³/h", 3, "flow at a pressure drop of 1 bar"),
        Column("setting", "Setting", "", "number", 1, False, "on its own scale; a dash where none is small enough"),
        _count("real_setting", "Real setting", "the nearest that the valve has"),
        _number("real_kv_m3_h", "Kv at it", "m³/h", 3, "at the real setting"),
        _number("flow_l_h", "Flow", "l/h", 0),
        _number("drop_kpa", "Pressure drop", "kPa", 2),
        *ACHIEVED,
        Column("thermostatic", "Thermostatic", "", "flag", meaning="it closes by itself when the room is warm"),
        _number("closing_kpa", "Closing pressure", "kPa", 2, "across it when it has shut"),
        _number("authority", "Authority", "", 2, "its drop open over its drop shut"),
    ),
)

PUMPS = TableSpec(
    "pumps",
    "Pumps",
    "One row for each pump, the source's first, set as at commissioning.",
    (
        _text("pump", "Pump", "of the source, or of a trunk mixed to a lower temperature"),
        _number("flow_temp_c", "Flow temperature", "°C", 1),
        _number("return_temp_c", "Return temperature", "°C", 1),
        _number("flow_l_h", "Flow", "l/h", 0),
        _number("head_kpa", "Head needed", "kPa", 2),
        _number("available_kpa", "Head available", "kPa", 2, "at that flow, at full speed or the speed stated"),
        _text("control", "Runs", "how it is set"),
        _number("speed", "Speed", "", 2, "as a share of full speed"),
        _number("power_w", "Power", "W", 1, "electric, where the survey states an efficiency"),
        _number("shut_head_kpa", "Head without flow", "kPa", 2, "when every loop has shut"),
    ),
)

PUMP_CURVES = TableSpec(
    "pump_curves",
    "Pump and system curves",
    "Points of the curves of every pump and of what it drives, valves as designed.",
    (
        _text("pump", "Pump"),
        _text("curve", "Curve", "of the system, of the pump as set, or of the pump at full speed"),
        _number("flow_l_h", "Flow", "l/h", 0),
        _number("head_kpa", "Head", "kPa", 2),
    ),
)

SENSORS = TableSpec(
    "sensors",
    "Rooms on another room's sensor",
    "What they get once thermostatic valves have throttled to the rooms of their sensors; shut, they get nothing.",
    (
        _text("room", "Room"),
        _text("loop", "Loop"),
        _text("sensor_room", "Sensor in", "the room that decides how far the loop's valve opens"),
        _number("loss_w", "Heat loss", "W", 0),
        _number("open_w", "Valves open", "W", 0, "what it gets with every valve open, less back loss"),
        _number("flow_percent", "Flow throttled", "%", 0, "of the loop's flow with all valves open"),
        _number("governed_w", "Valves at work", "W", 0, "with thermostatic valves at work, less back loss"),
        Column("margin_w", "Margin", "W", "number", 0, True, "what it gets then, less its loss"),
        Column("coverage", "Coverage", "%", "percent", meaning="what it gets then over its loss"),
    ),
)

SHUT = TableSpec(
    "shut",
    "When a loop shuts",
    "Each loop shut by itself: the other loop whose flow changes most.",
    (
        _text("loop", "Loop shut"),
        _text("worst_loop", "Loop most changed"),
        Column("flow_change_percent", "Its flow", "%", "number", 1, True, "change against all loops open"),
        _text("valve", "Its valve", "the one of its valves that drops most"),
        _number("valve_drop_kpa", "Drop of that valve", "kPa", 2),
        _number("pump_head_kpa", "Pump head", "kPa", 2),
        _number("closing_kpa", "Closing pressure", "kPa", 2, "across the valve that has shut"),
    ),
)
