"""Columns of the tables on heat: what losses are made of, how sure outputs are, comfort beside glazing."""

from __future__ import annotations

from heatloop.report.column import Column, TableSpec
from heatloop.report.column import number_column as _number
from heatloop.report.column import text_column as _text

LOSS_BY_KIND = (
    _number("loss_walls_w", "Walls", "W", 0, "part of the heat loss; blank where the loss is stated"),
    _number("loss_windows_w", "Windows", "W", 0, "part of the heat loss, glazed doors included"),
    _number("loss_doors_w", "Doors", "W", 0, "part of the heat loss"),
    _number("loss_floor_w", "Floor", "W", 0, "part of the heat loss"),
    _number("loss_ceiling_w", "Ceiling", "W", 0, "part of the heat loss"),
    _number("loss_bridges_w", "Thermal bridges", "W", 0, "part of the heat loss"),
    _number("loss_air_w", "Outdoor air", "W", 0, "part of the heat loss"),
    _number("loss_reheat_w", "Reheat", "W", 0, "part of the heat loss, after a setback"),
)

_LOSSES = TableSpec(
    "losses",
    "Heat loss, part by part",
    "What each room loses at the outdoor design temperature, and through what; a minus is heat from a warmer side.",
    (
        _text("room", "Room"),
        _text("kind", "Kind"),
        _text("label", "Part", "walls by their number in the survey; who stated a loss"),
        _text("beyond", "Beyond"),
        _number("area_m2", "Area", "m²", 2, "net of openings; of reheat, the floor"),
        _number("u_w_m2k", "U-value", "W/(m² K)", 2),
        _number("temp_beyond_c", "Temperature beyond", "°C", 1),
        _number("factor", "Factor", "", 3, "share of indoor less outdoor that counts, season and recovery in it"),
        Column("watts", "Heat loss", "W", "number", 0),
    ),
)

HEAT_TABLES = (_LOSSES,)
