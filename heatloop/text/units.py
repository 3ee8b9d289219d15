"""Units of names: the unit is at the end of a name."""

from __future__ import annotations

from collections.abc import Mapping

UNITS: Mapping[str, tuple[str, int]] = {
    "_kg_s": ("kg/s", 4),
    "_m3_h": ("m³/h", 3),
    "_ml_per_l": ("ml/l", 1),
    "_l_h": ("l/h", 0),
    "_m_s": ("m/s", 2),
    "_l_m": ("l/m", 3),
    "_w_m2k": ("W/(m² K)", 2),
    "_w_mkn": ("W/(m Kⁿ)", 4),
    "_w_mk": ("W/(m K)", 1),
    "_w_k": ("W/K", 1),
    "_w_m": ("W/m", 0),
    "_kpa": ("kPa", 1),
    "_deg": ("°", 0),
    "_min": ("min", 0),
    "_percent": ("%", 1),
    "_mm": ("mm", 0),
    "_m2": ("m²", 2),
    "_pa": ("Pa", 0),
    "_kwh": ("kWh", 0),
    "_kw": ("kW", 1),
    "_kg": ("kg", 1),
    "_m": ("m", 2),
    "_w": ("W", 0),
    "_c": ("°C", 1),
    "_k": ("K", 1),
    "_l": ("l", 1),
}
"""Unit and usual decimals by the end of a name; longer ends first."""


def heading_and_unit(name: str) -> tuple[str, str, int | None]:
    """Words, unit and usual decimals of a name (None where it has no unit).

    >>> heading_and_unit("heat_loss_w"), heading_and_unit("pump_flow_l_h"), heading_and_unit("index_loop")
    (('Heat loss', 'W', 0), ('Pump flow', 'l/h', 0), ('Index loop', '', None))
    """
    for suffix, (unit, decimals) in UNITS.items():
        if name.endswith(suffix) and len(name) > len(suffix):
            return name.removesuffix(suffix).replace("_", " ").capitalize(), unit, decimals
    return name.replace("_", " ").capitalize(), "", None
