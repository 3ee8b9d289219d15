"""Columns of the tables that go to site: commissioning, pressures, filling, treatment, what stays with the house."""

from __future__ import annotations

from heatloop.report.columns.column import Column, TableSpec, count_column, number_column, text_column

_SOURCE = text_column("source", "Source")
_CAUTION = text_column("caution", "Read first", "titles of the cautions that belong to it")
_LOOP = text_column("loop", "Loop")
_ARM = count_column("arm", "Arm", "the arm it serves; 0 the whole loop")


def _box(name: str, heading: str, unit: str = "") -> Column:
    return Column(name, heading, unit, meaning="left empty, to be filled in by hand")


_COMMISSIONING = TableSpec(
    "commissioning",
    "Commissioning",
    "One row for each balancing valve: what to set, what to expect in the weather of the day, boxes for what is found.",
    (
        _LOOP,
        _ARM,
        text_column("rooms", "Rooms"),
        text_column("valve", "Balancing valve"),
        number_column("setting", "Exact", "", 1, "setting between the marks that would give the target flow"),
        count_column("real_setting", "Set to mark", "the nearest setting that the valve is marked with"),
        text_column("other_settings", "Other valves"),
        number_column("target_flow_l_h", "Target flow", "l/h", 0, "at the design"),
        number_column("flow_today_l_h", "Flow today", "l/h", 0, "valves at their marks, water of the day"),
        number_column("flow_temp_c", "Flow", "°C", 1, "temperature to expect on the day"),
        number_column("return_temp_c", "Return", "°C", 1, "temperature to expect on the day, rooms warm"),
        number_column("delta_t_k", "Drop", "K", 1),
        number_column("design_return_temp_c", "Return at design", "°C", 1),
        number_column("heads_off_flow_l_h", "Flow, heads off", "l/h", 0, "thermostatic heads taken off"),
        number_column("heads_off_return_temp_c", "Return, heads off", "°C", 1, "thermostatic heads taken off"),
        number_column("valve_drop_kpa", "Valve drop", "kPa", 1),
        _box("setting_as_left", "Setting left"),
        _box("flow_found_l_h", "Flow found", "l/h"),
        _box("flow_temp_found_c", "Flow found", "°C"),
        _box("return_temp_found_c", "Return found", "°C"),
        _box("initials", "Initials"),
    ),
)
_PART_LOAD = TableSpec(
    "part_load",
    "Other weather",
    "Flow and return of every loop at several outdoor temperatures, its valves at their marks.",
    (
        number_column("outdoor_c", "Outdoors", "°C", 0),
        Column("share", "Load", "%", "percent", 0, meaning="as a share of the design load"),
        _LOOP,
        number_column("flow_l_h", "Flow", "l/h", 0),
        number_column("flow_temp_c", "Flow temperature", "°C", 1),
        number_column("return_temp_c", "Return temperature", "°C", 1),
        number_column("delta_t_k", "Drop", "K", 1),
    ),
)
_SURFACES = TableSpec(
    "surfaces",
    "Surface temperatures",
    "The hottest skirting of each room, rooms marked for vulnerable people first.",
    (
        text_column("room", "Room"),
        Column("vulnerable", "Vulnerable people", "", "flag"),
        number_column("surface_c", "At design", "°C", 1),
        number_column("surface_today_c", "Today", "°C", 1),
        number_column("limit_c", "Limit", "°C", 0),
        Column("verdict", "Verdict", "", "verdict"),
    ),
)
_CONTENTS = TableSpec(
    "contents",
    "Water content",
    "Every part that holds water; a length of skirting runs to the corner, so joints are counted with it.",
    (
        text_column("part", "Part"),
        _LOOP,
        text_column("item", "Item"),
        number_column("waterway_m", "Waterway", "m", 2, "all channels counted"),
        number_column("content_l_m", "Content", "l/m", 4),
        number_column("water_l", "Water", "l", 3),
    ),
)
_PRESSURES = TableSpec(
    "pressures",
    "Pressures",
    "Gauge pressures at the level of the vessel, how each was found and on whose word.",
    (
        text_column("quantity", "Quantity"),
        Column("value", "Value", "", "figure"),
        Column("unit", "Unit", kind="unit"),
        text_column("formula", "How"),
        _SOURCE,
    ),
)
_FILL = TableSpec(
    "fill_and_vent",
    "Fill, test, vent and drain",
    "From the low point up, the far ends last.",
    (
        count_column("step", "Step"),
        text_column("stage", "Stage"),
        _LOOP,
        _ARM,
        text_column("room", "Room"),
        count_column("wall", "Wall"),
        number_column("at_m", "At", "m", 2, "from the left-hand end of the wall as you face it"),
        number_column("level_m", "Level", "m", 2),
        text_column("action", "What to do"),
        _CAUTION,
        _box("done", "Done"),
    ),
)
_PURGE = TableSpec(
    "purge",
    "Purge flows",
    "What sweeps the air out of each loop, one loop at a time, valves wide open.",
    (
        _LOOP,
        _ARM,
        number_column("sweep_m_s", "Speed", "m/s", 2, "in the slowest waterway"),
        number_column("purge_flow_l_h", "Purge flow", "l/h", 0),
        text_column("slowest", "Slowest waterway"),
        number_column("loop_drop_kpa", "Loop drop", "kPa", 0),
        number_column("head_kpa", "Head at the source", "kPa", 0),
        number_column("pump_head_kpa", "Pump has", "kPa", 0, "at that flow"),
        number_column("pump_sweep_m_s", "Pump alone", "m/s", 2, "speed that the pump reaches by itself"),
        number_column("lift_kpa", "Lift", "kPa", 0),
        number_column("hose_needed_kpa", "Hose needs", "kPa", 0),
        text_column("drive", "What drives it"),
        _SOURCE,
    ),
)
_TREATMENT = TableSpec(
    "treatment",
    "Water treatment",
    "Clean, flush, protect, label, in this order.",
    (
        count_column("step", "Step"),
        text_column("stage", "Stage"),
        text_column("what", "What to do"),
        number_column("quantity_l", "Quantity", "l", 2, "water to flush with, or additive"),
        _CAUTION,
        _SOURCE,
    ),
)
_DOSES = TableSpec(
    "doses",
    "Doses",
    "By the label of each additive as the survey copies it.",
    (
        text_column("use", "Use"),
        text_column("name", "Name"),
        number_column("content_l", "Water content", "l", 1),
        number_column("per_cent", "Of the content", "%", 2),
        number_column("dose_ml_per_l", "Per litre", "ml/l", 1),
        number_column("dose_l", "Dose", "l", 2),
        count_column("containers", "Containers"),
        _SOURCE,
    ),
)
_SETTINGS = TableSpec(
    "settings_as_left",
    "Settings as left",
    "What was designed, and a box for what was left.",
    (
        text_column("item", "Setting"),
        text_column("where", "Where"),
        Column("designed", "Designed", "", "figure"),
        Column("unit", "Unit", kind="unit"),
        _box("as_left", "As left"),
    ),
)
_WATER = TableSpec(
    "water_record",
    "Water record",
    "Fill in at each test.",
    (
        text_column("item", "Reading"),
        text_column("target", "Target"),
        text_column("unit", "Unit"),
        _SOURCE,
        _box("at_fill", "At the fill"),
        _box("after_4_weeks", "After 4 weeks"),
        _box("after_1_year", "After 1 year"),
    ),
)
_USER = TableSpec(
    "user_page",
    "For the user",
    "How to run it, what not to cover, where not to drill.",
    (text_column("topic", "Topic"), text_column("text", "What to know"), _CAUTION),
)
_YEARLY = TableSpec(
    "yearly_checks",
    "Every year",
    "Checks that keep it running, and who does them.",
    (
        text_column("check", "Check"),
        text_column("look_for", "Look for"),
        text_column("by", "By"),
        _CAUTION,
        _SOURCE,
        _box("done", "Done, date"),
    ),
)
_HANDOVER_CHECKS = TableSpec(
    "handover_checks",
    "Limits of the closed system",
    "What was tried of pressures and water treatment, and what would mend it.",
    (
        Column("verdict", "Verdict", "", "verdict"),
        text_column("check", "Check"),
        text_column("subject", "Where"),
        Column("value", "Found", "", "figure"),
        Column("limit", "Limit", "", "figure"),
        Column("unit", "Unit", kind="unit"),
        text_column("source", "Source of the limit"),
        text_column("remedy", "What would mend it"),
    ),
)

SITE_TABLES = (
    _COMMISSIONING, _PART_LOAD, _SURFACES, _FILL, _PURGE, _CONTENTS, _PRESSURES, _TREATMENT, _DOSES, _SETTINGS, _WATER,
    _USER, _YEARLY, _HANDOVER_CHECKS,
)  # fmt: skip
